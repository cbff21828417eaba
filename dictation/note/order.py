"""The order a reader expects: the parts of the examination, right before left, positives and numbers before
negatives.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from dictation.lexicon.entries import Lexicon
from dictation.record import PARTS, Part, RecordField
from dictation.review.decisions import Decision
from dictation.review.grouping import negative

_SIDES = {"right": 0, "left": 1, None: 2}


def order_fields(fields: Iterable[RecordField], lexicon: Lexicon) -> list[RecordField]:
    """Return the fields in the order of the examination; within a part and side, as spoken but positives
    first.
    """
    return sorted(fields, key=lambda field: _rank(field, lexicon))


def order_by_part(decisions: Sequence[Decision], lexicon: Lexicon) -> list[tuple[Part, list[Decision]]]:
    """Return the decisions under each part that has any, in the order of ``order_fields``."""
    ordered = sorted(decisions, key=lambda decision: _rank(decision.field, lexicon))
    parts = [(part, [d for d in ordered if d.field.part == part]) for part in PARTS]
    return [(part, found) for part, found in parts if found]


def _rank(field: RecordField, lexicon: Lexicon) -> tuple[int, int, bool]:
    return PARTS.index(field.part), _SIDES[field.side], negative(field, lexicon)
