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
    yield [(-12, -4), (-12.5, 6), (-7, 13), (-1, 14.5), (5, 13), (9.5, 6), (9, -4), (4, -9), (-5, -9.5)], "line-line"
    yield [(-31, -14), (-34, -8), (-32, -2)], "line-line"  # medial epicondyle
    yield [(35, -13), (37, -7), (34.5, -1)], "line-line"  # lateral epicondyle
    yield [(-3, 18), (-8, 60), (-14, 110), (-19, 160)], "faint-line"  # subcutaneous border of the ulna
    yield [(-20, -72), (-14, -46), (-8, -20)], "faint-line"
    yield [(22, -72), (15, -46), (7, -20)], "faint-line"
    yield [(32, 14), (33, 45), (27, 85)], "faint-line"


def _volar_lines() -> Iterator[tuple[list[Point], str]]:
    yield [(-34, -2), (-18, 2.5), (0, 4), (18, 2.5), (35, -2)], "line-line"  # fold of the elbow
    yield [(-8, -50), (-4, -25), (-1, 0), (3, 18)], "faint-line"  # biceps tendon
    yield [(9, -50), (7, -25), (5, 0), (5, 18)], "faint-line"
    yield [(30, -10), (22, 18), (12, 40), (6, 62)], "faint-line"  # mobile wad
    yield [(-30, -6), (-16, 18), (-2, 40), (4, 58)], "faint-line"  # pronator teres
    yield [(-35, -14), (-36.5, -9), (-35, -4)], "line-line"
