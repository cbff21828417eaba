"""What a signer looks at once more before signing: positives and numbers by side, plans, and what does not agree.

Imports order, places, record and review.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dictation.lexicon.entries import Lexicon
from dictation.note.order import order_fields
from dictation.note.places import SIDES
from dictation.record import RecordField
from dictation.review.grouping import negative
from dictation.review.rules import Review

BySide = Sequence[tuple[str, Sequence[RecordField]]]
"""Heading of a side and its statements, sides without any left out."""


@dataclass(frozen=True, slots=True)
class Summary:
    """positives: what was found. numbers: measured, with no status of their own. open: not assessed, or with neither status nor
    number. disagreements: each pair once. Plain negatives and normals stand in the note alone.
    """

    positives: BySide
    numbers: BySide
    open: BySide
    plans: Sequence[RecordField]
    disagreements: Sequence[tuple[RecordField, RecordField]]

    @property
    def blocks(self) -> list[tuple[str, BySide]]:
        """What is listed by side, each with its heading."""
        return [("Positive", self.positives), ("Numbers", self.numbers), ("Not assessed or no result", self.open)]


def summarise(review: Review) -> Summary:
    """Return the summary of the fields that stand, in the order of the examination."""
    fields = order_fields((d.field for d in review.state.fields.values() if d.state != "rejected"), review.lexicon)
    found = [f for f in fields if f.part not in {"context", "reported", "plan"}]

    def by_side(kind: str) -> BySide:
        mine = [field for field in found if _kind(field, review.lexicon) == kind]
        sides = [(name, [field for field in mine if field.side == side]) for side, name in (*SIDES.items(), (None, "no side"))]
        return [(name, of_side) for name, of_side in sides if of_side]

    return Summary(
        by_side("positive"),
        by_side("number"),
        by_side("open"),
        [field for field in fields if field.part == "plan"],
        [(field, other) for field in fields for other in review.contradictions(field) if field.id < other.id],
    )


def _kind(field: RecordField, lexicon: Lexicon) -> str:
    concept = lexicon.concepts.get(field.concept)
    if field.status in {"not_assessed", "not_offered"}:
        return "open"
    numbered = field.value is not None or field.low is not None
    if numbered and (field.status is None or negative(field, lexicon)):
        return "number"
    if negative(field, lexicon):
        return "ordinary"
    return "open" if field.status is None and concept is not None and concept.statuses else "positive"
