"""Tubiana's stage of a ray, from its total extension deficit.

Imports findings, movements and result.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from dictation.measurement.findings import DIGITS, SIDES, Findings
from dictation.measurement.movements import Movement
from dictation.measurement.result import Measure, Source, number

SOURCE = Source("Tubiana 1968, stages 1 and 2 as tabulated in a systematic review of 2016, 3 and 4 from memory", "published")
_UPPER = ((45, "1"), (90, "2"), (135, "3"))
SHARED = "The bands share their ends: the upper end is taken as the lower stage."


def tubiana_stage(deficit_deg: float, *, nodule: bool) -> str:
    """Return "0", "N", "1", "2", "3" or "4" for a total extension deficit in degrees.

    >>> tubiana_stage(70, nodule=True), tubiana_stage(45, nodule=True), tubiana_stage(0, nodule=True)
    ('2', '1', 'N')
    """
    if deficit_deg <= 0:
        return "N" if nodule else "0"
    return next((stage for upper, stage in _UPPER if deficit_deg <= upper), "4")


def tubiana_stages(findings: Findings, measured: Sequence[Movement]) -> Iterator[Measure]:
    """Give the stage of each ray with a cord, a nodule or the disease named and its passive deficits measured.

    A joint whose deficit was not spoken of counts as straight, and that is said.
    """
    for side in SIDES:
        for digit in DIGITS:
            disease = [
                f
                for f in findings.found("dupuytren_cord", "dupuytren_nodule", "dupuytren_disease")
                if f.side == side and f.digit == digit
            ]
            joints = ("mcp", "ip") if digit == "thumb" else ("mcp", "pip", "dip")
            lost = [
                m
                for m in measured
                if (m.side, m.digit) == (side, digit)
                and m.mode != "active"
                and m.name in {f"{joint}_extension" for joint in joints}
            ]
            if not disease or len({m.name for m in lost}) != len(lost):
                continue
            nodule = any(f.concept == "dupuytren_nodule" for f in disease)
            if not lost and not nodule:
                continue
            total = sum(max(0.0, -m.degrees) for m in lost)
            silent = [joint.upper() for joint in joints if f"{joint}_extension" not in {m.name for m in lost}]
            notes = [f"Taken as straight, not measured: {', '.join(silent)}."] if silent else []
            if total in (45, 90, 135):
                notes.append(SHARED)
            stage = tubiana_stage(total, nodule=nodule)
            yield Measure(
                "tubiana_stage", f"Tubiana stage {stage}, total extension deficit {number(total)}°",
                tuple(dict.fromkeys([f.id for f in disease] + [m.field for m in lost])),
                "sum of MCP, PIP and DIP extension deficits", SOURCE, side, digit, total, "deg", tuple(notes),
            )  # fmt: skip
