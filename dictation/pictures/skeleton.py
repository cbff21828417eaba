"""The hand in millimetres: where the joints of each digit lie, and a point anywhere along a ray.

A frame for all four drawn hands: x is radial, y distal, the origin in the middle of the distal wrist crease. A side and a
view only mirror it. Lengths are those of an adult hand of 195 mm, rounded: common practice, no source. Imports record.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from dictation.record import Digit

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Ray:
    """One digit with its metacarpal.

    joints: cmc, mcp, pip, dip and tip; of the thumb cmc, mcp, ip and tip. widths: half the breadth at the base of the
    digit, at each joint beyond the MCP, and near the tip.
    """

    joints: tuple[Point, ...]
    widths: tuple[float, ...]

    def at(self, station: float) -> Point:
        """Return the point of a station: 0 cmc, 1 mcp, 2 pip … , the whole numbers between being along the bone."""
        n = min(max(int(station), 0), len(self.joints) - 2)
        (x0, y0), (x1, y1) = self.joints[n], self.joints[n + 1]
        share = station - n
        return x0 + (x1 - x0) * share, y0 + (y1 - y0) * share

    def direction(self, station: float) -> Point:
        """Return the unit vector that points distally along the bone of a station."""
        n = min(max(int(station), 0), len(self.joints) - 2)
        (x0, y0), (x1, y1) = self.joints[n], self.joints[n + 1]
        length = math.hypot(x1 - x0, y1 - y0)
        return (x1 - x0) / length, (y1 - y0) / length

    def beside(self, station: float, across: float, along: float = 0.0) -> Point:
        """Return the point ``across`` mm to the radial side of a station and ``along`` mm distal to it."""
        (x, y), (dx, dy) = self.at(station), self.direction(station)
        return x + across * dy + along * dx, y - across * dx + along * dy


def _ray(cmc: Point, mcp: Point, bones: tuple[float, ...], angles: tuple[float, ...], widths: tuple[float, ...]) -> Ray:
    """A ray from its phalanges: lengths in mm, angles in degrees from straight distal, radial positive."""
    joints = [cmc, mcp]
    for length, angle in zip(bones, angles, strict=True):
        x, y = joints[-1]
        joints.append((x + length * math.sin(math.radians(angle)), y + length * math.cos(math.radians(angle))))
    return Ray(tuple(joints), widths)


RAYS: dict[Digit, Ray] = {
    "thumb": _ray((23, 13), (52, 43), (33, 29), (37, 30), (12.0, 11.2, 8.6)),
    "index": _ray((14, 27), (28, 93), (43, 25, 22), (8, 7, 5), (10.6, 10.0, 8.6, 6.9)),
    "middle": _ray((4, 28), (8.5, 97), (47, 29, 23), (2, 1, 1), (10.6, 10.2, 8.8, 7.1)),
    "ring": _ray((-6, 26), (-11, 92), (43, 27, 23), (-4.5, -4, -3), (10.2, 9.6, 8.3, 6.7)),
    "little": _ray((-15, 23), (-29, 82), (34, 20, 20), (-13, -11, -9), (9.2, 8.5, 7.4, 5.9)),
}
"""Station numbers: fingers 0 cmc, 1 mcp, 2 pip, 3 dip, 4 tip; thumb 0 cmc, 1 mcp, 2 ip, 3 tip."""
