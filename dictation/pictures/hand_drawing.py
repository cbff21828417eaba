"""One hand drawn from its skeleton: outline, creases and nails, the same for both sides but for the mirror.

Takes a frame and a view; adds paths to an element. Every line is worked out from the rays, so that what is marked and what
is drawn cannot drift apart. Imports frame, skeleton and svg.
"""

from __future__ import annotations

import itertools
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
            plate, fold, lunula = _nail(ray, turned=1.5 if digit == "thumb" else 0.0)
            line(plate, "nail line-line", closed=True, width=1.1)
            line(lunula, "faint-line", width=0.9)
            line(fold, width=1.1)


def outline() -> list[Point]:
    """Return the outline from the ulnar side of the forearm round the digits to its radial side."""
    thumb = RAYS["thumb"]
    points: list[Point] = [(-25.5, -58), (-25.5, -42), (-27, -26), (-29, -13), (-29, -3), (-31.5, 6), (-36.5, 17)]
    points += [(-41, 31), (-43, 47), (-42.8, 62), (-41.6, 75)]
    for ulnar, radial in itertools.pairwise((None, *reversed(FINGERS), None)):
        if ulnar is not None:
            points += _finger(RAYS[ulnar], first=ulnar == "little", last=ulnar == "index")
        if ulnar is not None and radial is not None:
            points += _web(RAYS[ulnar], RAYS[radial])
    points += [(39.4, 88), (39.0, 78), (39.8, 69.5), (41.9, 63), (45.3, 59.6), (49, 60)]
    points += [thumb.beside(s, -w) for s, w in ((1.45, 10.6), (1.7, 10.4), (2.0, 11.0), (2.35, 10.9), (2.62, 9.9))]
    points += _tip(thumb, 9.2)
    points += [thumb.beside(s, w) for s, w in ((2.62, 9.9), (2.35, 10.6), (2.0, 10.4), (1.6, 9.8), (1.25, 11.6), (1.0, 13.0))]
    points += [thumb.beside(s, w) for s, w in ((0.72, 12.6), (0.42, 12.6))]
    points += [(33.5, 7.5), (29.2, -3), (28.6, -13), (28, -26), (27, -42), (27, -58)]
    return points


def _finger(ray: Ray, *, first: bool, last: bool) -> list[Point]:
    """The outline of a finger from its ulnar to its radial side; first and last: from further down, where no web is."""
    base, pip, dip, tip = ray.widths
    half = [(1.56, base * 0.97), (1.8, (base + pip) / 2 * 0.97), (2.0, pip * 1.03), (2.25, (pip * 2 + dip) / 3)]
    half += [(2.6, (pip + dip) / 2 * 0.96), (3.0, dip * 1.02), (3.35, dip * 0.97)]
    low = [(1.34, base * 1.03)]
    up = [ray.beside(station, -width) for station, width in (low if first else []) + half]
    down = [ray.beside(station, width) for station, width in reversed((low if last else []) + half)]
    return [*up, *_tip(ray, tip * 1.12), *down]


def _tip(ray: Ray, half: float) -> list[Point]:
    """The rounded end of a digit, from its ulnar to its radial side."""
    last = len(ray.joints) - 1.001
    turns = [math.radians(degrees) for degrees in (-76, -52, -26, 0, 26, 52, 76)]
    return [ray.beside(last, half * math.sin(turn), half * 1.12 * (math.cos(turn) - 1)) for turn in turns]


def _web(ulnar: Ray, radial: Ray) -> list[Point]:
    """The skin between two fingers, a narrow bow."""
    (x0, y0), (x1, y1) = ulnar.beside(_WEB, ulnar.widths[0] * 0.97), radial.beside(_WEB, -radial.widths[0] * 0.97)
    x, y, half = (x0 + x1) / 2, min(y0, y1) - 2.4, abs(x1 - x0) / 2
    return [(x - half * 0.62, y + 1.1), (x, y), (x + half * 0.62, y + 1.1)]


def _across(ray: Ray, station: float, half: float, bow: float, along: float = 0.0) -> list[Point]:
    """A short line across a digit; bow: how far its middle lies distal to its ends, in mm."""
    shares = (-1.0, -0.6, 0.0, 0.6, 1.0)
    return [ray.beside(station, half * share, along + bow * (1 - share * share)) for share in shares]


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
    yield [(-42, 66), (-34, 67), (-22, 70), (-9, 75), (3, 81.5), (12, 90), (16.5, 99)]  # distal palmar crease
    yield [(38.5, 79), (30, 79), (18, 75.5), (4, 68.5), (-10, 60), (-22, 51.5), (-31, 43)]  # proximal palmar crease
    yield [(38.5, 78), (31, 76), (22.5, 70), (14.5, 60), (8.5, 47), (5.2, 33), (4.6, 20), (6, 9)]  # thenar crease
    yield [(-28, 2), (-17, -0.8), (-5, -2), (8, -1.8), (19, -0.2), (28.5, 2.6)]  # distal wrist crease
    yield [(-27.5, -7), (-14, -10), (0, -11), (14, -10.2), (27, -7)]  # proximal wrist crease


def _volar_lines() -> Iterator[list[Point]]:
    """What rounds the volar side: the eminences, the pulps, and the two tendons that show at the wrist."""
    yield [(28, 9), (36, 17), (43, 27), (47.5, 37), (49, 46)]
    yield [(-9, 8), (-16, 14), (-21, 23), (-23.5, 33), (-24, 43)]
    yield [(-2.5, -16), (-3, -30), (-3, -44), (-3, -56)]  # palmaris longus
    yield [(9, -15), (10, -30), (10.5, -44), (11, -56)]  # flexor carpi radialis
    for ray in RAYS.values():
        yield _across(ray, len(ray.joints) - 1.001, ray.widths[-1] * 0.55, 1.4, -4.6)


def _dorsal_lines() -> Iterator[list[Point]]:
    """What shows on the back: knuckles, folds over the joints, extensor tendons, the head of the ulna."""
    for digit in FINGERS:
        ray = RAYS[digit]
        _, pip, dip, _ = ray.widths
        for along, bow in ((3.8, 1.8), (1.3, 0.8), (-1.3, -0.8), (-3.8, -1.8)):
            yield _across(ray, 2.0, pip * (0.62 if abs(along) < 2 else 0.48), bow, along)
        for along, bow in ((1.4, 0.8), (-1.2, -0.7)):
            yield _across(ray, 3.0, dip * 0.5, bow, along)
        yield _across(ray, 1.0, 7.6, 7.5, -1.5)
        x, y = ray.beside(1.0, 0, -6)
        yield [(x, y), (x * 0.72, y * 0.76), (x * 0.42 - 0.6, y * 0.48), (x * 0.2 - 1.2, y * 0.22), (x * 0.12 - 1.6, 6)]
    thumb = RAYS["thumb"]
    for along, bow in ((2.6, 1.3), (0.0, 0.2), (-2.6, -1.2)):
        yield _across(thumb, 2.0, 6.0, bow, along)
    yield _across(thumb, 1.0, 6.4, 3.6, -1)
    yield [thumb.beside(1.0, -3.0, -5), (40, 31.5), (29, 17), (19, 4), (9, -9)]  # extensor pollicis longus
    yield [thumb.beside(1.0, 4.0, -6), (42, 26), (34, 13.5), (28.5, 2), (26.5, -10)]  # extensor pollicis brevis
    yield [(-17.5 + 8.6 * math.cos(a), -15 + 9.6 * math.sin(a)) for a in (math.radians(d) for d in range(-20, 245, 15))]
    yield [(-24, 1.5), (-12, 3.6), (0, 4.2), (12, 3.6)]


def _nail(ray: Ray, *, turned: float) -> tuple[list[Point], list[Point], list[Point]]:
    """Nail plate, proximal fold and lunula. turned: mm the nail lies to the ulnar side, of a thumb seen from beside."""
    last = len(ray.joints) - 2
    half = ray.widths[-1] * (0.80 if not turned else 0.78)
    length = math.dist(ray.joints[-1], ray.joints[-2])
    back, front = -0.60 * length, -0.6

    def at(across: float, along: float) -> Point:
        return ray.beside(last + 0.999, across * half - turned, along)

    plate = [at(-0.92, back + 1.5), at(-1.0, -0.30 * length), at(-0.86, front - 2.2), at(0, front), at(0.86, front - 2.2)]
    plate += [at(1.0, -0.30 * length), at(0.92, back + 1.5), at(0, back)]
    fold = [at(-1.16, -0.36 * length), at(-1.08, back), at(0, back - 2.0), at(1.08, back), at(1.16, -0.36 * length)]
    lunula = [at(share, back + 2.0 + 2.2 * (1 - (share / 0.6) ** 2)) for share in (-0.6, -0.35, 0.0, 0.35, 0.6)]
    return plate, fold, lunula
