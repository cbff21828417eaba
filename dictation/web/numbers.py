"""Every number of a record in one table, right beside left. Imports review, note and showing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from dictation.note.numbers import word_value
from dictation.note.order import order_fields
from dictation.note.places import lower_first, name_place
from dictation.note.printable import printable
from dictation.note.wording import HEADINGS
from dictation.record import RecordField
from dictation.review.rules import Review
from dictation.web.showing import STATES, anchor

_LIKE = ("concept", "digit", "joint", "structure", "aspect", "mode", "trial", "position", "occasion")
"""What two fields share that stand in one row."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One number. state: in words; doubtful: it is to be decided, and something of it asks to be checked."""

    anchor: str
    value: str
    state: str
    doubtful: bool


@dataclass(slots=True)
class Row:
    """One thing measured. cells: side -> its numbers, "" for none; several where it was said in several ways."""

    name: str
    cells: dict[str, list[Cell]] = field(default_factory=lambda: {"right": [], "left": [], "": []})


@dataclass(frozen=True, slots=True)
class Table:
    """The rows of one part of the examination. sideless: whether any has no side."""

    heading: str
    rows: Sequence[Row]
    sideless: bool


def view_numbers(review: Review) -> list[Table]:
    """Return the numbers that stand, decided or not, by part; what was rejected is left out."""
    decisions = [d for d in review.state.fields.values() if d.state != "rejected"]
    states = {d.field.id: d.state for d in decisions}
    tables: dict[str, dict[tuple[object, ...], Row]] = {}
    for one in order_fields((d.field for d in decisions), review.lexicon):
        value = word_value(one, review.lexicon.concepts.get(one.concept))
        if not value or (one.value is None and one.low is None and one.high is None):
            continue
        rows = tables.setdefault(HEADINGS[one.part], {})
        row = rows.setdefault(tuple(getattr(one, key) for key in _LIKE), Row(_name(one, review)))
        pending = states[one.id] == "pending"
        row.cells[one.side or ""].append(Cell(anchor(one.id), value, STATES[states[one.id]], pending and one.checked()))
    return [
        Table(heading, list(rows.values()), any(row.cells[""] for row in rows.values())) for heading, rows in tables.items()
    ]


def _name(one: RecordField, review: Review) -> str:
    concept = review.lexicon.concepts.get(one.concept)
    name = concept.preferred if concept else one.concept.replace("_", " ").capitalize()
    parts = [f"{one.mode.capitalize()} {lower_first(name)}" if one.mode else name]
    if place := name_place(one.model_copy(update={"side": None}), review.lexicon):
        parts.append(place)
    parts += [printable(text) for text in (one.aspect, one.position, one.occasion) if text]
    if one.trial is not None:
        parts.append("mean of the trials" if one.trial == "mean" else f"trial {one.trial}")
    return ", ".join(parts)
