"""Total active and passive motion of a digit, and its grades by both published bandings.

Imports movements, record and result.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from dictation.measurement.movements import Movement
from dictation.measurement.result import Measure, Source, number
from dictation.record import Digit, Mode, RecordField, Side

NORMAL_DEG = {"fingers": 260.0, "thumb": 140.0}
"""Fingers: ASSH method as summarised, 2012; thumb: implied by the bands of a hand-surgery reference."""

METHOD = Source("ASSH total active motion (as summarised in a hand-therapy teaching sheet, 2012)", "verified")
BANDS = Source("Degree bands of a hand-surgery reference (Eaton, tendon result grading)", "verified")
HYPEREXTENSION = "Hyperextension counts as no deficit (common practice, no source)."
_JOINTS: dict[str, tuple[str, ...]] = {"fingers": ("mcp", "pip", "dip"), "thumb": ("mcp", "ip")}
_DEGREE_BANDS = {
    "fingers": ((220, "Excellent"), (180, "Good"), (130, "Fair")),
    "thumb": ((119, "Excellent"), (98, "Good"), (70, "Fair")),
}


@dataclass(frozen=True, slots=True)
class Digital:
    """A digit's flexion and extension deficits in degrees, joint by joint; what was not measured is missing."""

    side: Side
    digit: Digit
    mode: Mode
    occasion: str | None
    flexion: dict[str, float]
    deficit: dict[str, float]
    fields: tuple[str, ...]

    @property
    def joints(self) -> tuple[str, ...]:
        """Return the joints that count in this digit."""
        return _JOINTS["thumb" if self.digit == "thumb" else "fingers"]


def digital_motion(measured: Sequence[Movement]) -> list[Digital]:
    """Return what was measured of each digit, one for a side, mode and occasion; nothing whose mode was not stated.

    Where a joint's direction was measured twice alike, the digit is left out: which counts is for the clinician.
    """
    groups: dict[tuple[Side, Digit, Mode, str | None], list[Movement]] = {}
    for m in measured:
        if m.side and m.digit and m.mode and m.name.split("_")[0] in ("mcp", "pip", "dip", "ip"):
            groups.setdefault((m.side, m.digit, m.mode, m.occasion), []).append(m)
    out = []
    for key, moved in groups.items():
        if len({m.name for m in moved}) == len(moved):
            flexion = {m.name.split("_")[0]: m.degrees for m in moved if m.name.endswith("flexion")}
            deficit = {m.name.split("_")[0]: max(0.0, -m.degrees) for m in moved if m.name.endswith("extension")}
            out.append(Digital(*key, flexion, deficit, tuple(dict.fromkeys(m.field for m in moved))))
    return out


def total_motion(digital: Digital) -> float | None:
    """Return the sum of flexion less the sum of extension deficits, in degrees; None where a joint lacks either."""
    joints = set(digital.joints)
    if not joints <= set(digital.flexion) or not joints <= set(digital.deficit):
        return None
    return sum(digital.flexion[j] for j in joints) - sum(digital.deficit[j] for j in joints)


def assh_grade(percent: float) -> tuple[Literal["Excellent", "Good", "Fair", "Poor"], str]:
    """Return the grade by percent of normal, and a note where the value lies on a boundary ("" else).

    100 and above Excellent, above 75 Good, above 50 Fair, below 50 Poor; the bands leave exactly 50 open.

    >>> assh_grade(84.6), assh_grade(75.0)[0]
    (('Good', ''), 'Fair')
    """
    if percent >= 100:
        return "Excellent", ""
    if percent > 75:
        return "Good", ""
    if percent > 50:
        return "Fair", "Exactly 75 percent is not above 75." if percent == 75 else ""
    return "Poor", "Exactly 50 percent is in neither band: the source says above 50 and below 50." if percent == 50 else ""


def degree_grade(total: float, digit: Digit) -> str:
    """Return the grade by the alternative degree bands."""
    for least, grade in _DEGREE_BANDS["thumb" if digit == "thumb" else "fingers"]:
        if total >= least:
            return grade
    return "Poor"


def total_motions(measured: Sequence[Movement]) -> Iterator[Measure]:
    """Give total active and passive motion of each digit whose joints were all measured, and what is missing of the others."""
    digits = digital_motion(measured)
    totals = {(d.side, d.digit, d.mode, d.occasion): total_motion(d) for d in digits}
    for digital in digits:
        total = totals[digital.side, digital.digit, digital.mode, digital.occasion]
        name = f"Total {digital.mode} motion"
        if total is None:
            if len(digital.flexion) >= 2:
                yield _incomplete(digital, name)
            continue
        normal = NORMAL_DEG["thumb" if digital.digit == "thumb" else "fingers"]
        opposite: Side = "left" if digital.side == "right" else "right"
        other = totals.get((opposite, digital.digit, digital.mode, digital.occasion))
        text = f"{name} {number(total)}°, {number(100 * total / normal)} percent of {normal:g}°"
        notes = [HYPEREXTENSION]
        if digital.mode == "active":
            grade, boundary = assh_grade(100 * total / normal)
            text += f"; {grade} by percent, {degree_grade(total, digital.digit)} by the degree bands"
            notes += [boundary] if boundary else []
            notes.append(f"Degree bands: {BANDS}.")
        if other:
            percent = 100 * total / other
            text += f"; {number(percent)} percent of the {opposite}"
            if digital.mode == "active":
                text += f", {assh_grade(percent)[0]} if that side is uninjured"
        kind = f"total_{digital.mode}_motion"
        yield Measure(
            kind, text, digital.fields, "sum of flexion - sum of extension deficits", METHOD,
            digital.side, digital.digit, total, "deg", tuple(notes),
        )  # fmt: skip


def said_totals(fields: Iterable[RecordField], measured: Sequence[Movement]) -> Iterator[Measure]:
    """Give the grades of each total active motion that was said as one number, and what its joints add up to where they differ.

    A total of no named digit has no grade, since fingers and thumb have bands of their own.
    """
    active = {(d.side, d.digit, d.occasion): total_motion(d) for d in digital_motion(measured) if d.mode == "active"}
    for field in fields:
        if field.concept != "total_active_motion" or field.unit != "deg" or field.value is None or field.comparator:
            continue
        if field.side is None or field.digit is None:
            continue
        normal = NORMAL_DEG["thumb" if field.digit == "thumb" else "fingers"]
        percent = 100 * field.value / normal
        grade, boundary = assh_grade(percent)
        notes = [HYPEREXTENSION, *([boundary] if boundary else []), f"Degree bands: {BANDS}."]
        other = active.get((field.side, field.digit, field.occasion))
        if other is not None and other != field.value:
            notes.append(f"The joints add up to {number(other)}°.")
        yield Measure(
            "total_active_motion_said",
            f"Total active motion as said {number(field.value)}°, {number(percent)} percent of {normal:g}°; "
            f"{grade} by percent, {degree_grade(field.value, field.digit)} by the degree bands",
            (field.id,), "100 x said / normal", METHOD, field.side, field.digit, field.value, "deg", tuple(notes),
        )  # fmt: skip


def _incomplete(digital: Digital, name: str) -> Measure:
    missing = [f"{j.upper()} flexion" for j in digital.joints if j not in digital.flexion]
    missing += [f"{j.upper()} extension" for j in digital.joints if j not in digital.deficit]
    return Measure(
        f"total_{digital.mode}_motion", f"{name} not worked out: {', '.join(missing)} not measured", digital.fields,
        "sum of flexion - sum of extension deficits", METHOD, digital.side, digital.digit,
    )  # fmt: skip
