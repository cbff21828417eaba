"""The order a reader expects: the parts of the examination, right before left, positives and numbers before
negatives; an impression against something comes after all that are for something.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from dictation.lexicon.entries import Lexicon
from dictation.record import PARTS, Part, RecordField
from dictation.review.decisions import Decision
from dictation.review.grouping import group_fields, negative

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


def order_steps(fields: Iterable[RecordField], lexicon: Lexicon, *, doubtful_first: bool) -> list[list[str]]:
    """Return what a review goes through, in order: the id of a field alone, or those that may be decided together."""
    ordered = order_fields(fields, lexicon)
    groups = {field.id: group for group in group_fields(ordered, lexicon) for field in group}
    steps: dict[str, list[RecordField]] = {}
    for field in ordered:
        step = groups.get(field.id, [field])
        steps.setdefault(step[0].id, step)
    found = list(steps.values())
    if doubtful_first:
        found.sort(key=lambda step: not step[0].checked())
    return [[field.id for field in step] for step in found]


def _rank(field: RecordField, lexicon: Lexicon) -> tuple[int, bool, int, bool]:
    against = negative(field, lexicon)
    return PARTS.index(field.part), field.part == "impression" and against, _SIDES[field.side], against
