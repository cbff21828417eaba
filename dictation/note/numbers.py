"""Numbers in words: unit and direction spelled out, never a bare minus.

The sign rule (DEVELOPERS.md, "Signs"): in an extension movement a number beyond neutral is positive and one
short of it negative; in a flexion movement or a range, hyperextension is negative.
"""

from __future__ import annotations

from decimal import Decimal

from dictation.lexicon.entries import Concept
from dictation.record import RecordField
from dictation.review.typed_number import COMPARATORS

UNITS = {
    "kg": ("kg", "kg"), "[lb_av]": ("pound", "pounds"), "mm": ("mm", "mm"), "cm": ("cm", "cm"),
    "s": ("second", "seconds"), "mL": ("mL", "mL"), "d": ("day", "days"),
}  # fmt: skip
_HINGES = {"elbow", "mcp", "pip", "dip", "ip"}
"""Joints whose straight position is neutral, so that going beyond it is hyperextension."""


def number(value: float) -> str:
    """Return a number as a person writes it, without an exponent or a needless decimal.

    >>> number(45.0), number(3.5)
    ('45', '3.5')
    """
    if value == 0:
        return "0"
    text = format(Decimal(repr(value)), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def word_value(field: RecordField, concept: Concept | None, *, plain: bool = False) -> str:
    """Return the number or range of a field in words, "" where it has none. plain: without the words of the trade."""
    unit = field.unit or (concept.unit if concept else None)
    if field.low is not None or field.high is not None:
        ends = [end for end in (field.low, field.high) if end is not None]
        parts = [_one(end, unit, field, concept, ranged=True, plain=plain) for end in ends]
        both = " to ".join(parts)
        said = both if len(parts) == 2 else ("from " if field.high is None else "up to ") + both
        if field.value is not None:
            said = f"{_one(field.value, unit, field, concept, plain=plain)}, {said}"
    elif field.value is not None:
        said = _one(field.value, unit, field, concept, plain=plain)
    else:
        return f"grade {field.grade_sign}" if field.grade_sign else ""
    return f"{COMPARATORS[field.comparator]} {said}" if field.comparator else said


def _one(
    value: float, unit: str | None, field: RecordField, concept: Concept | None, *, plain: bool, ranged: bool = False
) -> str:
    amount = number(abs(value))
    if unit == "deg":
        degrees = _plain_degrees if plain else _degrees
        return degrees(value, amount, field, concept, ranged=ranged)
    if value < 0:
        amount = f"minus {amount}"
    if unit == "{score}":
        sign = {"+": "+", "-": " minus", None: ""}[field.grade_sign]
        top = concept.plausible if concept else None
        return f"{amount}{sign} out of {number(top[1])}" if top and top[0] == 0 else f"{amount}{sign}"
    if unit is None:
        return amount
    one, many = UNITS.get(unit, (unit, unit))
    return f"{amount} {one if value == 1 else many}"


def _degrees(value: float, amount: str, field: RecordField, concept: Concept | None, *, ranged: bool) -> str:
    movement = concept is not None and concept.kind == "movement"
    extension = movement and field.concept.endswith("_extension")
    hinge = field.joint in _HINGES
    if extension and value < 0:
        return f"{amount}° short of {'straight' if hinge else 'neutral'}" if ranged else f"lacks {amount}° of extension"
    if extension and hinge and value > 0:
        return f"{amount}° beyond neutral" + ("" if ranged else " (hyperextension)")
    if value < 0:
        flexes = field.concept.endswith("_flexion") or field.concept == "range_of_motion"
        return f"{amount}° of hyperextension" if flexes and hinge else f"{amount}° short of neutral"
    return f"{amount}°"


def _plain_degrees(value: float, amount: str, field: RecordField, concept: Concept | None, *, ranged: bool) -> str:
    """As _degrees, in plain words: "20 degrees short of straight", "10 degrees past straight"."""
    clinical = _degrees(value, amount, field, concept, ranged=ranged)
    straight = "straight" if field.joint in _HINGES else "the middle position"
    if clinical == f"{amount}°":
        return f"{amount} degrees"
    past = "hyperextension" in clinical or "beyond" in clinical
    return f"{amount} degrees {'past' if past else 'short of'} {straight}"
