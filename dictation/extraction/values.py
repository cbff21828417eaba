"""What a number means for its concept: sign, range, unit, grade, and the doubts about it.

Signs follow one rule: in an extension movement a number beyond neutral is positive and one short of it negative; in a
flexion movement or a range, hyperextension is negative; in hyperextension, fixed flexion and lag the amount is positive.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from dictation.extraction.numbers import Reading
from dictation.lexicon.entries import Concept
from dictation.units import TO_UNIT

AMOUNTS = {"fixed_flexion_deformity", "extension_lag", "hyperextension", "ulnar_drift"}
LOSSES = {"fixed_flexion_deformity", "extension_lag"}
"""Of these, none is there where the joint is said to be straight, or at zero."""
STRAIGHT_AT_ZERO = {"elbow_extension", "mcp_extension", "pip_extension", "dip_extension", "ip_extension"}
UNIT_WORDS = {
    "deg": "degrees",
    "kg": "kilograms",
    "[lb_av]": "pounds",
    "mm": "millimetres",
    "cm": "centimetres",
    "s": "seconds",
    "mL": "millilitres",
}


@dataclass(slots=True)
class Valued:
    """The number keys of a field, and flags as (code, level, message)."""

    keys: dict[str, object] = field(default_factory=dict)
    flags: list[tuple[str, str, str]] = field(default_factory=list)


def takes_number(concept: Concept) -> bool:
    """Whether a number may be the value of a field of this concept."""
    return bool(concept.takes & {"value", "range"})


def gap(concept: Concept) -> bool:
    """Whether it is a distance that may be nothing: "pulp to palm nil"."""
    return concept.kind == "measure" or concept.id.endswith("_distance")


def fits(concept: Concept, reading: Reading) -> bool:
    """Whether the unit said, if any, is one the concept could carry."""
    if not takes_number(concept):
        return False
    if concept.unit == "{score}":
        return reading.unit is None
    return reading.unit is None or reading.unit == concept.unit or (reading.unit, concept.unit) in TO_UNIT


def settle_value(
    concept: Concept, reading: Reading, said: str, *, short_of: bool, beyond: bool, unit_in_force: str | None
) -> Valued:
    """Return the number keys of one field. said: the words, for messages."""
    out = Valued()
    value, low, high = reading.value, reading.low, reading.high
    unit = reading.unit or _unit(concept, said, unit_in_force, out)
    if value is not None:
        value = _signed(concept, value, said, short_of, beyond, out)
    if concept.id in AMOUNTS and value is not None:
        value = abs(value)
    if concept.kind == "reported" and unit in {"wk", "mo", "a"} and value is not None:
        out.keys["qualifier"] = said
        value, unit = round(value * TO_UNIT[(unit, "d")]), "d"
    if concept.unit == "s" and unit == "min" and value is not None:
        value, unit = value * 60, "s"
    out.keys |= {"value": value, "low": low, "high": high, "unit": unit}
    if reading.comparator:
        out.keys["comparator"] = reading.comparator
    if reading.about:
        out.keys["qualifier"] = reading.about
    if reading.sign and concept.kind == "power":
        out.keys["grade_sign"] = reading.sign
    if reading.singly:
        out.flags.append(("number_unclear", "check", f'"{said}" was spoken digit by digit and could be another number.'))
    if low is not None and high is not None and low > high:
        out.flags.append(("number_unclear", "check", f'"{said}" runs from high to low.'))
    if reading.out_of is not None and concept.kind == "power" and reading.out_of != 5:
        out.flags.append(("number_unclear", "check", f'"{said}" is not a grade out of five.'))
    return out


def _unit(concept: Concept, said: str, unit_in_force: str | None, out: Valued) -> str | None:
    if concept.unit == "{score}" or concept.unit is None:
        return concept.unit
    if unit_in_force and (unit_in_force == concept.unit or (unit_in_force, concept.unit) in TO_UNIT):
        return unit_in_force
    word = UNIT_WORDS.get(concept.unit, concept.unit)
    level = "info" if concept.unit == "deg" else "check"
    out.flags.append(("unit_assumed", level, f'No unit was said with "{said}"; {word} is assumed.'))
    return concept.unit


def _signed(concept: Concept, value: float, said: str, short_of: bool, beyond: bool, out: Valued) -> float:
    if not concept.id.endswith("_extension") or concept.kind != "movement":
        if short_of and concept.kind == "movement":
            out.flags.append(
                ("direction_unclear", "check", f'"{said}" may be a loss from the full movement or the movement itself.')
            )
        if beyond and concept.id.endswith("_flexion"):
            return -abs(value)
        return value
    if short_of:
        return -abs(value)
    if value < 0 or value == 0:
        return value
    if not beyond and concept.id in STRAIGHT_AT_ZERO:
        out.flags.append(("direction_unclear", "check", f'Whether "{said}" is short of straight or beyond it was not said.'))
    return value


def grade(reading: Reading) -> bool:
    """Whether a reading looks like an MRC grade."""
    return (
        reading.out_of == 5
        or reading.sign is not None
        or (reading.unit is None and reading.value is not None and 0 <= reading.value <= 5 and reading.low is None)
    )
