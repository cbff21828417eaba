"""Whether a difference of angles is more than the goniometer's own error, by two readings of it that disagree.

Imports nothing of ours.
"""

from __future__ import annotations

import math

WORKING_RULE_DEG = {True: 5.0, False: 10.0}
"""Under this a change may be error: same examiner True, another False. Common practice, no source; optimistic."""

MINIMAL_DETECTABLE_DEG = (12.0, 30.0)
"""Minimal detectable difference of wrist and finger joints, by joint: Reissner et al. 2019 (seen in the abstract)."""


def standard_error(sd: float, icc: float) -> float:
    """Return the standard error of measurement: SD x sqrt(1 - ICC). sd and result in one unit; icc 0 to 1.

    >>> standard_error(10, 0.84)
    4.0
    """
    return round(sd * math.sqrt(1 - icc), 10)


def minimal_detectable_change(sem: float, z: float = 1.96) -> float:
    """Return z x sqrt(2) x SEM, in the unit of sem; z 1.96 for 95 percent, 1.645 for 90."""
    return z * math.sqrt(2) * sem


def within_error(degrees: float, *, same_examiner: bool = True) -> str:
    """Return in words where a difference of angles stands against the error of measuring."""
    low, high = MINIMAL_DETECTABLE_DEG
    if abs(degrees) < WORKING_RULE_DEG[same_examiner] or (abs(degrees) < low and not same_examiner):
        return "within measurement error"
    if abs(degrees) < low:
        return f"over the working rule of {WORKING_RULE_DEG[same_examiner]:g}°, within the published {low:g} to {high:g}°"
    if abs(degrees) <= high:
        return f"within the published {low:g} to {high:g}° for some joints"
    return "beyond measurement error"
