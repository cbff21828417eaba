"""One hand drawn from its skeleton: outline, creases and nails, the same for both sides but for the mirror.

Takes a frame and a view; adds paths to an element. Every line is worked out from the rays, so that what is marked and what
is drawn cannot drift apart. Imports frame, skeleton and svg.
"""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Sequence

from dictation.pictures.frame import Frame, View
from dictation.pictures.skeleton import RAYS, Point, Ray
from dictation.pictures.svg import element, path
from dictation.record import Digit

FINGERS: tuple[Digit, ...] = ("index", "middle", "ring", "little")
_WEB = 1.46
"""Where along the proximal phalanx the web lies, as a station."""


def draw_hand(parent: ET.Element, frame: Frame, view: View) -> None:
    """Add the hand with its wrist and the end of its forearm."""

    def line(points: Sequence[Point], classes: str = "line-line", *, closed: bool = False, width: float = 1.3) -> None:
        element(
            parent, "path", classes, d=path([frame.page(point) for point in points], closed=closed), stroke_width=width,
            stroke_linecap="round", stroke_linejoin="round",
        )  # fmt: skip

    line(outline(), "skin line-line", width=1.8)
    for points in _dorsal_lines() if view == "dorsal" else _volar_lines():
        line(points, "faint-line", width=1.2)
    for points in () if view == "dorsal" else _creases():
        line(points)
    if view == "dorsal":
        for digit, ray in RAYS.items():
            plate, fold, lunula = _nail(ray, turned=2.2 if digit == "thumb" else 0.0)
            line(plate, "nail line-line", closed=True, width=1.1)
            line(lunula, "faint-line", width=0.9)
            line(fold, width=1.1)


def outline() -> list[Point]:
    """Return the outline from the ulnar side of the forearm round the digits to its radial side."""
    index, little, thumb = RAYS["index"], RAYS["little"], RAYS["thumb"]
    points: list[Point] = [(-25, -58), (-25.5, -40), (-27.5, -22), (-28.5, -8), (-29, 2), (-36, 16), (-41.5, 34), (-42.5, 54)]
    points += [(-41, 70), little.beside(1.0, -10.4, 6)]
    for n, digit in enumerate(reversed(FINGERS)):
        ray = RAYS[digit]
        points += list(_finger(ray, first=n == 0, last=digit == "index"))
        if digit != "index":
            points.append(_web(ray, RAYS[FINGERS[len(FINGERS) - 2 - n]]))
    points += [index.beside(1.0, 11.6, 8), (38.5, 84), (39.5, 72), (42, 62.5)]
    points += [thumb.beside(1.0, -12.6, 8)]
    points += [thumb.beside(s, -w) for s, w in ((1.55, 11.0), (2.0, 11.4), (2.45, 11.0), (2.8, 8.0))]
    points += [thumb.at(3.0)]
    points += [thumb.beside(s, w) for s, w in ((2.8, 8.0), (2.45, 10.4), (2.0, 10.6), (1.55, 10.2), (1.05, 12.4), (0.6, 13.6))]
    points += [(39.5, 14), (31, 2), (28.5, -8), (28, -22), (27.5, -40), (28, -58)]
    return points


def _finger(ray: Ray, *, first: bool, last: bool) -> Iterator[Point]:
    """The outline of a finger from its ulnar to its radial side."""
    base, pip, dip, tip = ray.widths
    half = [(1.5, base * 0.98), (1.75, (base + pip) / 2 * 0.97), (2.0, pip), (2.5, (pip + dip) / 2 * 0.97), (3.0, dip)]
    half += [(3.45, dip * 0.95), (3.78, tip)]
    for station, width in half if not first else [(1.25, base * 1.04), *half]:
        yield ray.beside(station, -width)
    yield ray.at(4.0)
    for station, width in reversed(half if not last else [(1.25, base * 1.06), *half]):
        yield ray.beside(station, width)


def _web(ulnar: Ray, radial: Ray) -> Point:
    """The deepest point between two fingers."""
    one, other = ulnar.beside(_WEB, ulnar.widths[0]), radial.beside(_WEB, -radial.widths[0])
    return (one[0] + other[0]) / 2, min(one[1], other[1]) - 3.2


def _across(ray: Ray, station: float, half: float, bow: float, along: float = 0.0) -> list[Point]:
    """A short line across a digit; bow: how far its middle lies distal to its ends, in mm."""
    return [ray.beside(station, -half, along), ray.beside(station, 0.0, along + bow), ray.beside(station, half, along)]


def _creases() -> Iterator[list[Point]]:
    """The flexion creases of the volar side."""
    for digit in FINGERS:
        ray = RAYS[digit]
        base, pip, dip, _ = ray.widths
        yield _across(ray, 1.5, base * 0.86, -1.2)
        yield _across(ray, 2.0, pip * 0.88, -1.0, 1.2)
        yield _across(ray, 2.0, pip * 0.74, -0.8, -1.6)
        yield _across(ray, 3.0, dip * 0.86, -0.9, -1.0)
    thumb = RAYS["thumb"]
    yield _across(thumb, 2.0, 9.4, -1.0)
    yield _across(thumb, 2.0, 7.4, -0.8, -2.6)
    yield _across(thumb, 1.0, 10.0, -2.0, 5)
    yield [(-41, 67), (-31, 69.5), (-18, 73.5), (-5, 78), (6, 84), (14, 92), (17.5, 100)]  # distal palmar crease
    yield [(37.5, 78), (26, 77.5), (12, 72), (-4, 63), (-18, 54), (-29, 45)]  # proximal palmar crease
    yield [(37.5, 77), (28, 74.5), (18, 66), (9.5, 52), (4.5, 36), (3, 20), (4.5, 8)]  # thenar crease
    yield [(-26.5, 1.5), (-12, -1), (0, -1.5), (13, -0.5), (26, 2.5)]  # distal wrist crease
    yield [(-25.5, -8), (-10, -10), (6, -10), (25, -7)]  # proximal wrist crease


def _volar_lines() -> Iterator[list[Point]]:
    """What rounds the volar side: the eminences and the two tendons that show at the wrist."""
    yield [(30, 12), (38, 22), (44.5, 33), (47, 43)]
    yield [(-8, 10), (-17, 20), (-22, 34), (-22, 46), (-28, 58)]
    yield [(-2, -14), (-2.5, -30), (-3, -50)]
    yield [(8, -13), (9, -30), (9.5, -50)]


def _dorsal_lines() -> Iterator[list[Point]]:
    """What shows on the back: knuckles, folds over the joints, extensor tendons, the head of the ulna."""
    for digit in FINGERS:
        ray = RAYS[digit]
        _, pip, dip, _ = ray.widths
        for along, bow in ((3.4, 1.6), (0.4, 0.4), (-2.6, -1.4)):
            yield _across(ray, 2.0, pip * 0.58, bow, along)
        for along, bow in ((1.6, 0.9), (-1.2, -0.7)):
            yield _across(ray, 3.0, dip * 0.52, bow, along)
        yield [ray.beside(1.0, across, along) for across, along in ((-7.5, -1), (-4.5, 5), (0, 7), (4.5, 5), (7.5, -1))]
        x, y = ray.beside(1.0, 0, -5)
        yield [(x, y), (x * 0.62, y - 28), (x * 0.2 - 1, 26), (x * 0.1 - 1, 12)]
    thumb = RAYS["thumb"]
    for along, bow in ((2.6, 1.3), (0.0, 0.2), (-2.6, -1.2)):
        yield _across(thumb, 2.0, 6.0, bow, along)
    yield [thumb.beside(1.0, -6.5, -2), thumb.beside(1.0, 0, 5), thumb.beside(1.0, 6.5, -2)]
    yield [thumb.beside(1.0, -3.5, -6), (38, 30), (22, 12), (10, -6)]  # extensor pollicis longus
    yield [thumb.beside(1.0, 3.5, -6), (42, 24), (31, 8), (27, -6)]  # extensor pollicis brevis
    yield [(-16 + 9.5 * math.cos(a), -15 + 10 * math.sin(a)) for a in (math.radians(d) for d in range(-10, 275, 15))]
    yield [(-22, 1), (-8, 3.5), (8, 3.5), (23, 2)]


def _nail(ray: Ray, *, turned: float) -> tuple[list[Point], list[Point], list[Point]]:
    """Nail plate, proximal fold and lunula. turned: mm the nail lies to the ulnar side, of a thumb seen from beside."""
    last = len(ray.joints) - 2
    half = ray.widths[-1] * 0.80
    length = math.dist(ray.joints[-1], ray.joints[-2])
    back, front = -0.60 * length, -0.6

    def at(across: float, along: float) -> Point:
        return ray.beside(last + 0.999, across * half - turned, along)

    plate = [at(-0.92, back + 1.5), at(-1.0, -0.30 * length), at(-0.86, front - 2.2), at(0, front), at(0.86, front - 2.2)]
    plate += [at(1.0, -0.30 * length), at(0.92, back + 1.5), at(0, back)]
    fold = [at(-1.16, -0.36 * length), at(-1.08, back), at(0, back - 2.0), at(1.08, back), at(1.16, -0.36 * length)]
    lunula = [at(-0.6, back + 2.2), at(0, back + 4.4), at(0.6, back + 2.2)]
    return plate, fold, lunula
