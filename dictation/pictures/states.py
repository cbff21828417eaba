"""What a field says as a mark: found, not found, in doubt, measured or not assessed.

Imports lexicon's entries and record.
"""

from __future__ import annotations

from typing import Literal

from dictation.lexicon.entries import Lexicon
from dictation.record import RecordField

State = Literal["found", "doubt", "measured", "not assessed", "not found, in doubt", "not found"]

STATES: dict[State, str] = {
    "found": "found",
    "doubt": "in doubt",
    "measured": "a value, not judged here",
    "not assessed": "not assessed",
    "not found, in doubt": "not found or normal, but in doubt",
    "not found": "looked for and not found, or normal",
}
"""In the order in which marks are placed and listed, with the words of the key."""

_KINDS = {"finding", "test", "sensation", "circulation"}
_NOT_EXAMINED = {"context", "reported", "impression", "plan"}


def is_drawn(field: RecordField, lexicon: Lexicon) -> bool:
    """Return whether a field is a finding of the examination, to be marked where it is.

    Movements, power and function are not, but for those that name a structure (a tendon); nor is what was rejected.
    """
    if field.part in _NOT_EXAMINED or field.decision == "rejected":
        return False
    concept = lexicon.concepts.get(field.concept)
    return concept is None or concept.kind in _KINDS or (field.structure is not None and field.status is not None)


def state_of(field: RecordField, lexicon: Lexicon) -> State:
    """Return what a field says as a mark. "Absent" of a pulse, of feeling or of a tendon's pull is found, not healthy.

    In doubt: equivocal, suspected, or, while nothing is decided, with a flag to be checked.
    """
    concept = lexicon.concepts.get(field.concept)
    if field.status == "not_assessed":
        return "not assessed"
    if field.status == "equivocal" or field.certainty or concept is None:
        return "doubt"
    doubtful = field.decision == "pending" and field.checked()
    if field.status is None:
        return "doubt" if doubtful else "measured"
    graded = "normal" in concept.statuses
    healthy = {"normal", "negative"} if graded else {"absent", "negative"}
    if field.status in healthy:
        return "not found, in doubt" if doubtful else "not found"
    return "doubt" if doubtful else "found"
