"""Flexor tendon result by Strickland: PIP and DIP alone, original bands of 1980 and adjusted bands of 1985.

Percent is the primary rule: the percent and degree bands of 1980 do not meet. Imports total_active_motion and result.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from dictation.measurement.movements import Movement
from dictation.measurement.result import Measure, Source, number
from dictation.measurement.total_active_motion import digital_motion

SCALE_DEG = 175.0
SOURCE = Source("Strickland & Glogovac 1980, criteria as tabulated in Tang 2013; adjusted bands Strickland 1985", "published")
_ORIGINAL = ((85, "Excellent"), (70, "Good"), (50, "Fair"))
_ORIGINAL_DEGREES = ((150, "Excellent"), (125, "Good"), (90, "Fair"))
_ADJUSTED = ((75, "Excellent"), (50, "Good"), (25, "Fair"))


def _grade(value: float, bands: tuple[tuple[int, str], ...]) -> str:
    return next((grade for least, grade in bands if value >= least), "Poor")


def strickland(motion_deg: float) -> tuple[float, str, str, str]:
    """Return percent of 175°, original grade, adjusted grade, and a note where degrees give another grade ("" else).

    motion_deg: active PIP and DIP flexion less their extension deficits, in degrees.

    >>> strickland(140)
    (80.0, 'Good', 'Excellent', '')
    """
    percent = 100 * motion_deg / SCALE_DEG
    original = _grade(percent, _ORIGINAL)
    by_degrees = _grade(motion_deg, _ORIGINAL_DEGREES)
    if motion_deg == 150:  # the table says "above 150" and "125 to 149"
        note = "Exactly 150° is in no degree band of the original."
    else:
        note = f"By the degree bands of the original it is {by_degrees}." if by_degrees != original else ""
    return round(percent, 10), original, _grade(percent, _ADJUSTED), note


def strickland_results(measured: Sequence[Movement]) -> Iterator[Measure]:
    """Give the result of each finger whose PIP and DIP were measured actively, both ways."""
    for digital in digital_motion(measured):
        joints = ("pip", "dip")
        if digital.mode != "active" or digital.digit == "thumb":
            continue
        if not all(j in digital.flexion and j in digital.deficit for j in joints):
            continue
        motion = sum(digital.flexion[j] - digital.deficit[j] for j in joints)
        percent, original, adjusted, note = strickland(motion)
        yield Measure(
            "strickland", f"Strickland {number(percent)} percent: {original} (original), {adjusted} (adjusted)", digital.fields,
            "100 x (PIP and DIP flexion - their extension deficits) / 175", SOURCE, digital.side, digital.digit,
            percent, "%", ("For repairs of the flexor tendons in zone II only.", *([note] if note else [])),
        )  # fmt: skip
