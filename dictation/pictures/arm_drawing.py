"""One elbow with its forearm drawn in millimetres: outline, epicondyles, olecranon or the fold of the elbow.

The frame has its origin in the middle of the elbow joint, y distal as in the hand, x radial (lateral). Imports frame and
svg.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator, Sequence

from dictation.pictures.frame import Frame, View
from dictation.pictures.skeleton import Point
from dictation.pictures.svg import element, path

_ULNAR: tuple[Point, ...] = (
    (-41, -78), (-40, -55), (-38, -32), (-39.5, -14), (-39, 2), (-41, 22), (-42, 48), (-38, 85), (-31, 130), (-26.5, 170),
)  # fmt: skip
_RADIAL: tuple[Point, ...] = (
    (28, 170), (32, 130), (40, 90), (45.5, 52), (46, 28), (42.5, 6), (40.5, -14), (42, -34), (45, -56), (46, -78),
)  # fmt: skip


def draw_arm(parent: ET.Element, frame: Frame, view: View) -> None:
    """Add the elbow, the lower third of the arm and the forearm down to above the wrist."""

    def line(points: Sequence[Point], classes: str, width: float) -> None:
        element(
            parent, "path", classes, d=path([frame.page(point) for point in points]), stroke_width=width, stroke_linecap="round"
        )

    line((*_ULNAR, *_RADIAL), "skin", 0)
    line(_ULNAR, "line-line", 1.8)
    line(_RADIAL, "line-line", 1.8)
    for points, classes in _dorsal_lines() if view == "dorsal" else _volar_lines():
        line(points, classes, 1.3)


def _dorsal_lines() -> Iterator[tuple[list[Point], str]]:
    olecranon: list[Point] = [(-11.5, -9), (-12.5, -1), (-10.5, 7), (-6, 12.5), (-1, 14), (4, 12.5), (8, 7), (10, -1), (9, -9)]
    yield olecranon, "line-line"
    yield [(-11.5, -12), (-6, -14.5), (0, -15), (6, -14.5), (9.5, -12)], "faint-line"
    yield [(-28, -15), (-32, -12.5), (-33.5, -8), (-32.5, -3.5), (-29, -0.5)], "line-line"  # medial epicondyle
    yield [(30.5, -15), (34, -12.5), (35.5, -8), (34.5, -3.5), (31.5, -0.5)], "line-line"  # lateral epicondyle
    yield [(24, 12), (28.5, 10), (33, 11.5), (35, 15.5), (33, 19.5)], "faint-line"  # head of the radius
    yield [(-2, 20), (-5, 50), (-10, 90), (-15, 130), (-18, 160)], "faint-line"  # subcutaneous border of the ulna
    yield [(-22, -76), (-18, -58), (-13, -40), (-9, -24)], "faint-line"  # triceps tendon
    yield [(20, -76), (16, -58), (11, -40), (7, -24)], "faint-line"
    yield [(36, 26), (37, 45), (33, 70), (27, 100)], "faint-line"  # extensor mass


def _volar_lines() -> Iterator[tuple[list[Point], str]]:
    yield [(-36, -3), (-24, 1), (-11, 3.2), (2, 4), (15, 3.2), (27, 1), (38, -3)], "line-line"  # fold of the elbow
    yield [(-30, -13), (-18, -9.5), (-5, -8), (8, -8), (21, -9.5), (32, -13)], "faint-line"
    yield [(-11, -70), (-10, -50), (-7, -30), (-3, -12), (0, 6), (3, 18)], "faint-line"  # biceps and its tendon
    yield [(15, -70), (14, -50), (11, -30), (8, -12), (6, 6), (5, 18)], "faint-line"
    yield [(33, -4), (27, 12), (19, 29), (11, 46), (5, 64)], "faint-line"  # brachioradialis
    yield [(-33, 2), (-22, 17), (-10, 33), (-1, 49), (4, 64)], "faint-line"  # pronator teres
    yield [(-36.5, -15), (-38, -11), (-37.5, -6)], "faint-line"
    yield [(-2, 165), (-1, 140), (0, 118)], "faint-line"  # palmaris longus
    yield [(9, 165), (9, 140), (8, 118)], "faint-line"  # flexor carpi radialis
