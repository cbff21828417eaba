"""What a signer looks at once more before signing: positives by side, plans, and what does not agree.

Imports order, places, record and review.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dictation.note.order import order_fields
from dictation.note.places import SIDES
from dictation.record import RecordField
from dictation.review.grouping import negative
from dictation.review.rules import Review


@dataclass(frozen=True, slots=True)
class Summary:
    """positives: heading of a side and its positive findings, sides without any left out. disagreements: each pair once."""

    positives: Sequence[tuple[str, Sequence[RecordField]]]
    plans: Sequence[RecordField]
    disagreements: Sequence[tuple[RecordField, RecordField]]


def summarise(review: Review) -> Summary:
    """Return the summary of the fields that stand, in the order of the examination."""
    fields = order_fields((d.field for d in review.state.fields.values() if d.state != "rejected"), review.lexicon)
    found = [f for f in fields if f.part not in {"context", "reported", "plan"} and not negative(f, review.lexicon)]
    sides = [(name, [field for field in found if field.side == side]) for side, name in (*SIDES.items(), (None, "no side"))]
    return Summary(
        [(name, of_side) for name, of_side in sides if of_side],
        [field for field in fields if field.part == "plan"],
        [(field, other) for field in fields for other in review.contradictions(field) if field.id < other.id],
    )
