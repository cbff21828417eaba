"""Where on the page a point of the hand or arm lies: one frame for each side and view. Imports record and skeleton."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from dictation.pictures.skeleton import Point
from dictation.record import Side

View = Literal["dorsal", "volar"]
VIEWS: tuple[View, ...] = ("dorsal", "volar")


@dataclass(frozen=True, slots=True)
class Frame:
    """A drawn part on the page. x, y: where its origin lies. scale: units of the page in a millimetre.

    radial: 1 where the radial side lies to the right of the page, -1 to the left.
    """

    x: float
    y: float
    scale: float
    radial: int

    def page(self, point: Point) -> Point:
        """Return the point of the page of a point in millimetres (x radial, y distal)."""
        return self.x + self.radial * self.scale * point[0], self.y - self.scale * point[1]


def radial_direction(side: Side, view: View) -> int:
    """Return 1 where the radial side lies to the right of the page, -1 to the left, fingers up.

    The back of a right hand with its fingers up has the thumb to the left; its palm, and the left hand, are mirrored.
    """
    return -1 if (side == "right") == (view == "dorsal") else 1
