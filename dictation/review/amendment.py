"""What may be changed in a field, and to what: checked against the lexicon before anything is written to the
journal.

Takes a field and the changes a clinician asks for; gives the changed field, or a ReviewError saying what does
not fit. A number outside the plausible range is kept if the clinician insists, and carries the flag
out_of_range. The concept itself is never changed: that is rejecting one field and adding another. Imports
record, lexicon and errors.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dictation.errors import ReviewError
from dictation.lexicon.entries import Concept, Lexicon
from dictation.record import Flag, FlagCode, RecordField
from dictation.units import in_unit

ALWAYS = ("certainty", "qualifier", "position", "occasion")
"""Field keys allowed on every concept, whatever it takes."""

NUMBERS = ("value", "low", "high", "unit", "comparator", "grade_sign")
UNITS = {
    "deg": ("deg",), "kg": ("kg", "[lb_av]"), "mm": ("mm", "cm"),
    "cm": ("cm", "mm"), "s": ("s",), "mL": ("mL",), "d": ("d",),
    "{score}": ("{score}",),
}  # fmt: skip
"""Unit of a concept -> units its number may be given in."""

_SIDE_DOUBTS = {FlagCode.side_missing, FlagCode.side_conflict}
"""Conversion for the plausibility check alone. Pound: exact by the international yard and pound agreement of
1959.
"""


def amendable(concept: Concept) -> tuple[str, ...]:
    """Return the field keys that may be filled for a concept, in the order a clinician is asked."""
    places = ("side", "digit", "joint", "structure", "aspect")
    keys: list[str] = [key for key in places if key in concept.takes]
    if concept.statuses:
        keys.append("status")
    if "severity" in concept.takes:
        keys.append("severity")
    if "value" in concept.takes or "range" in concept.takes:
        keys += ["value", "unit", "comparator"]
    if "range" in concept.takes:
        keys += ["low", "high"]
    if concept.kind == "power":
        keys.append("grade_sign")
    if concept.kind in {"strength", "measure"}:
        keys.append("trial")
    if "mode" in concept.takes:
        keys.append("mode")
    return (*keys, *ALWAYS)


def choices(key: str, field: RecordField, lexicon: Lexicon) -> tuple[str, ...]:
    """Return what a key of this field may be set to, or () where the answer is free (a number, words)."""
    concept = _concept(field, lexicon)
    match key:
        case "side":
            return ("right", "left")
        case "digit":
            joint = lexicon.joints.get(field.joint or "")
            return tuple(joint.digits) if joint and joint.digits else tuple(lexicon.digits)
        case "joint":
            return tuple(j.id for j in lexicon.joints.values() if not field.digit or not j.digits or field.digit in j.digits)
        case "structure":
            return tuple(lexicon.structures)
        case "aspect":
            return tuple(lexicon.aspects)
        case "status":
            return concept.statuses
        case "severity":
            return ("mild", "moderate", "severe")
        case "mode":
            return ("active", "passive")
        case "certainty":
            return ("suspected",)
        case "unit":
            return UNITS.get(concept.unit or "", ())
        case "comparator":
            return ("<", "<=", ">=", ">")
        case "grade_sign":
            return ("+", "-")
    return ()


def side_open(field: RecordField) -> bool:
    """Return whether the side of a field is still to be decided: none was said, and no one has settled it
    since.
    """
    return field.side is None and any(flag.code is FlagCode.side_missing for flag in field.flags)


def amend_field(
    field: RecordField, changes: Mapping[str, Any], lexicon: Lexicon, *, accept_implausible: bool = False
) -> RecordField:
    """Return the field with the changes made; evidence and confidence stay as drafted, and so do flags not
    settled by it.

    A side of None says that none applies. Raises ReviewError where the side is still open and not among the
    changes, a key cannot be changed, a value does not fit, nothing would change, or a number is outside the
    plausible range and accept_implausible is false.
    """
    field, given = field.model_copy(deep=True), dict(changes)
    if "side" not in given:
        if side_open(field):
            raise ReviewError("No side was said for this field; give its side first, or say that none applies.")
        return _change(field, given, lexicon, accept_implausible)
    if side_open(field) and given["side"] is None:
        del given["side"]  # no change of value, but a decision: the flag goes
    field.flags = [flag for flag in field.flags if flag.code not in _SIDE_DOUBTS]
    return _change(field, given, lexicon, accept_implausible) if given else field


def new_field(
    name: str, concept: str, values: Mapping[str, Any], lexicon: Lexicon, *, accept_implausible: bool = False
) -> RecordField:
    """Return a field made by hand, without evidence. Raises ReviewError where it does not fit, or no side is
    said.
    """
    entry = lexicon.concepts.get(concept)
    if entry is None:
        raise ReviewError("The lexicon has no such concept; choose one it lists.")
    if "side" in entry.takes and "side" not in values:
        raise ReviewError(f"{entry.preferred} needs a side, or the word that none applies.")
    fixed = {"joint": entry.joint, "digit": entry.digit, "structure": entry.structure}
    bare = {"id": name, "part": entry.part, "concept": concept, "confidence": 1.0, **fixed}
    given = {key: value for key, value in values.items() if value is not None}
    return _change(RecordField.model_validate(bare), given, lexicon, accept_implausible)


def _change(field: RecordField, changes: Mapping[str, Any], lexicon: Lexicon, accept_implausible: bool) -> RecordField:
    concept = _concept(field, lexicon)
    allowed = set(amendable(concept))
    for key, value in changes.items():
        if key not in allowed:
            raise ReviewError(f"{concept.preferred} takes no {key.replace('_', ' ')}; nothing was changed.")
        known = choices(key, field.model_copy(update=dict(changes)), lexicon)
        if value is not None and known and value not in known:
            some = ", ".join(known) if len(known) <= 12 else "one of the lexicon's"
            raise ReviewError(f"The {key.replace('_', ' ')} of {concept.preferred} cannot be that; it can be {some}.")
    try:
        changed = RecordField.model_validate({**field.model_dump(), **changes})
    except ValueError as err:  # what is wrong would quote the value
        raise ReviewError(f"A value does not fit {', '.join(changes)} of the record; nothing was changed.") from err
    if all(getattr(field, key) == getattr(changed, key) for key in changes):
        raise ReviewError("That is what the field says already; nothing was changed.")
    _check_whole(changed, concept)
    numbered = any(n is not None for n in (changed.value, changed.low, changed.high))
    changed.unit = (changed.unit or concept.unit) if numbered else None
    changed.flags = [flag for flag in changed.flags if flag.code is not FlagCode.out_of_range]
    if problem := implausible(changed, concept):
        if not accept_implausible:
            raise ReviewError(problem)
        changed.flags.append(Flag(code=FlagCode.out_of_range, level="check", message=problem))
    return changed


def answered(field: RecordField) -> bool:
    """Return whether a field says anything: a status, a number, words, or a side where that is the answer."""
    keys = ("status", "value", "low", "high", "qualifier")
    by_side = field.part in {"context", "reported"} and field.side is not None
    return by_side or any(getattr(field, key) is not None for key in keys)


def implausible(field: RecordField, concept: Concept) -> str | None:
    """Return one sentence where a number of the field is outside the concept's plausible range, else None."""
    if concept.plausible is None or concept.unit is None:
        return None
    low, high = concept.plausible
    numbers = [
        in_unit(n, field.unit or concept.unit, concept.unit) for n in (field.value, field.low, field.high) if n is not None
    ]
    if all(low <= n <= high for n in numbers):
        return None
    return f"{concept.preferred}: the number is outside what is plausible ({_plain(low)} to {_plain(high)} {concept.unit})."


def _check_whole(field: RecordField, concept: Concept) -> None:
    """What no single key can say: the field holds an answer, and a range rises."""
    if field.low is not None and field.high is not None and field.low > field.high:
        raise ReviewError("A range goes from the lower number to the higher; nothing was changed.")
    if not answered(field):
        raise ReviewError(f"{concept.preferred} needs a status or a number; nothing was changed.")
    if field.grade_sign is not None and field.value is None:
        raise ReviewError("A plus or minus needs the grade it belongs to; nothing was changed.")


def _concept(field: RecordField, lexicon: Lexicon) -> Concept:
    concept = lexicon.concepts.get(field.concept)
    if concept is None:
        raise ReviewError(
            "This field's concept is not in the lexicon in use; reject the field, or use the lexicon it came from."
        )
    return concept


def _plain(value: float) -> str:
    return f"minus {abs(value):g}" if value < 0 else f"{value:g}"
