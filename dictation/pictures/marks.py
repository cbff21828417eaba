"""Marks that would lie on each other, spread; and the shape of each state, which colour only repeats.

Spreading is done in millimetres of the hand, so that the left is the mirror of the right. Imports states, skeleton, svg.
"""

from __future__ import annotations

import itertools
import math
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Sequence

from dictation.pictures.skeleton import Point
from dictation.pictures.states import State
from dictation.pictures.svg import element, write

RADIUS = 11.5
"""Of a mark, in units of the picture."""

def spread(wanted: Sequence[Point], radius: float, taken: Sequence[Point] = ()) -> list[Point]:
    """Return a place for each mark that overlaps no other: where it was wanted, else the nearest free one."""
    placed = list(taken)
    for point in wanted:
        placed.append(next(spot for spot in _spots(point, radius) if _free(spot, placed, 2 * radius)))
    return placed[len(taken) :]


def _spots(point: Point, radius: float) -> Iterator[Point]:
    """The place wanted, then rings about it, distal first: beyond a fingertip there is no neighbour to be taken for."""
    yield point
    for ring in itertools.count(1):
        away = ring * 1.05 * radius
        for turn in sorted(range(-8, 8), key=abs):
            angle = math.pi * turn / 8
            yield point[0] + away * math.sin(angle), point[1] + away * math.cos(angle)


def _free(spot: Point, placed: Sequence[Point], apart: float) -> bool:
    return all(math.dist(spot, other) >= apart for other in placed)


def draw_mark(parent: ET.Element, centre: Point, state: State, number: str, radius: float = RADIUS) -> None:
    """Add a mark, with its number where it has one.

    A full disc is found, an open ring not found, a full diamond in doubt, an open one not found and in doubt, a square
    measured, a broken ring not assessed.
    """
    x, y = centre
    if state in ("doubt", "not found, in doubt"):
        r = radius * 1.28
        corners = f"{x:.2f},{y - r:.2f} {x + r:.2f},{y:.2f} {x:.2f},{y + r:.2f} {x - r:.2f},{y:.2f}"
        fill = "doubt" if state == "doubt" else "clear"
        element(parent, "polygon", f"{fill} ink-line", points=corners, stroke_width=1.6)
    elif state == "measured":
        side = radius * 1.8
        element(
            parent, "rect", "clear ink-line", x=x - side / 2, y=y - side / 2, width=side, height=side, stroke_width=1.6
        )
    elif state == "found":
        element(parent, "circle", "found ink-line", cx=x, cy=y, r=radius, stroke_width=1.2)
    else:
        more = {"stroke_dasharray": "3 3"} if state == "not assessed" else {}
        element(parent, "circle", "clear ink-line", cx=x, cy=y, r=radius, stroke_width=1.6, **more)
    if not number:
        return
    size = radius * (1.2 if len(number) < 3 else 0.9)
    write(
        parent, x, y + size * 0.36, number, "clear number" if state == "found" else "ink number",
        font_size=size, text_anchor="middle", font_weight="bold",
    )  # fmt: skip
