"""The numbers of a part of the examination as a table: one row a movement or measure, one column a side.

Where a part holds several numbers they are read better side by side. A cell holds the number with its unit and
direction in words, the mode and every detail that was said. Pure.
"""

from __future__ import annotations

from collections.abc import Container, Sequence

from dictation.lexicon.entries import Lexicon
from dictation.note.document import Sentence, Table
from dictation.note.merging import unchanged
from dictation.note.numbers import word_value
from dictation.note.places import NO_SIDE, SIDES, name_place
from dictation.note.wording import CLINICAL_WORDS, Words, word_details
from dictation.record import RecordField
from dictation.review.decisions import Decision

SEVERAL = 3
"""Numbers that make a table; fewer stay sentences."""

_SIDES = ("right", "left", None)


def number_table(
    decisions: Sequence[Decision], lexicon: Lexicon, words: Words = CLINICAL_WORDS, errors: Container[str] = ()
) -> tuple[Table | None, list[Decision]]:
    """Return the table of the numbers among decisions, None where there are not several, and the decisions not in it.

    errors: ids of what was entered in error, which no table holds.
    """
    numbered = [one for one in decisions if one.field.id not in errors and _numbered(one, lexicon)]
    if len(numbered) < SEVERAL:
        return None, list(decisions)
    cells: dict[str, dict[str | None, list[Decision]]] = {}
    for decision in numbered:
        cells.setdefault(_label(decision.field, lexicon, words), {}).setdefault(decision.field.side, []).append(decision)
    sides = [side for side in _SIDES if any(side in row for row in cells.values())]
    head = ("", *(SIDES[side] if side else NO_SIDE for side in sides))
    rows = [
        (Sentence(label), *(_cell(row.get(side, []), lexicon) for side in sides)) for label, row in cells.items()
    ]
    placed = {decision.field.id for decision in numbered}
    return Table(head, tuple(rows)), [decision for decision in decisions if decision.field.id not in placed]


def _numbered(decision: Decision, lexicon: Lexicon) -> bool:
    """Whether a number alone, with its details, says all that the statement says."""
    field = decision.field
    numbers = (field.value, field.low, field.high)
    plain = field.status is None and field.certainty is None and field.severity is None
    known = field.concept in lexicon.concepts
    return plain and known and any(n is not None for n in numbers) and unchanged(decision, lexicon)


def _label(field: RecordField, lexicon: Lexicon, words: Words) -> str:
    sideless = field.model_copy(update={"side": None})
    place = name_place(sideless, lexicon, (), words.places)
    aspect = words.places.aspects[field.aspect] if field.aspect else ""
    return ", ".join(filter(None, [words.name(lexicon.concepts[field.concept]), place, aspect]))


def _cell(decisions: Sequence[Decision], lexicon: Lexicon) -> Sentence:
    said = []
    for decision in decisions:
        field = decision.field
        value = word_value(field, lexicon.concepts[field.concept])
        details = ", ".join([value, *word_details(field)])
        said.append(f"{field.mode + ' ' if field.mode else ''}{details}{' (added by hand)' if decision.added else ''}")
    return Sentence("; ".join(said), tuple(decision.field.id for decision in decisions))
