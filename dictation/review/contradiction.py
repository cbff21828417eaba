"""Which fields cannot both be true: the same thing at the same place on the same occasion, said in two ways.

Imports record.
"""

from __future__ import annotations

from collections.abc import Iterable

from dictation.record import RecordField

_SAME = ("concept", "side", "digit", "joint", "structure", "aspect", "mode", "trial", "position", "occasion")
_CONTENT = ("status", "value", "low", "high", "unit", "comparator", "grade_sign")


def find_contradictions(field: RecordField, others: Iterable[RecordField]) -> list[RecordField]:
    """Return those of the others that say something else about the same thing, place, mode and occasion."""
    return [
        other
        for other in others
        if other.id != field.id
        and all(getattr(other, key) == getattr(field, key) for key in _SAME)
        and any(getattr(other, key) != getattr(field, key) for key in _CONTENT)
    ]
