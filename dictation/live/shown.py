"""What a screen shows of a dictation going on: its fields under their part of the examination, in the sentences of the note.

Plain values, the same for a page and a terminal; how they look is theirs. Cautions are those of what was heard, while the
patient is still there. Imports dictating, completeness, measurement, splitting, note and lexicon.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from dictation.completeness.not_mentioned import not_mentioned
from dictation.completeness.purposes import GENERAL
from dictation.measurement.cautions import cautions
from dictation.note.order import order_fields
from dictation.note.places import SIDES
from dictation.note.printable import printable
from dictation.note.wording import HEADINGS, word_field
from dictation.record import PARTS, Side
from dictation.splitting.marks import examinations

if TYPE_CHECKING:
    from dictation.lexicon.entries import Lexicon
    from dictation.live.dictating import Now
    from dictation.recognition.listening import Utterance
    from dictation.record import DraftRecord, RecordField

TAKEN_BACK = "self_corrected"
ANOTHER = "Another examination seems to begin: end this dictation, and begin one under the next patient's own reference."


@dataclass(frozen=True, slots=True)
class Statement:
    """One field. key: the same for as long as it is the same statement, whatever its value; doubts: why to look at it."""

    key: str
    sentence: str
    doubts: tuple[str, ...]
    corrected: bool


@dataclass(frozen=True, slots=True)
class Part:
    """The statements of one part of the examination."""

    heading: str
    statements: tuple[Statement, ...]


@dataclass(frozen=True, slots=True)
class Shown:
    """See the module. side: what would be carried to the next words, in capitals; None where nothing is.

    another: said where another patient's examination seems to begin; None while none does.
    """

    side: str | None
    parts: tuple[Part, ...] = ()
    cautions: tuple[str, ...] = ()
    not_mentioned: tuple[str, ...] = ()
    unplaced: tuple[str, ...] = ()
    another: str | None = None


def shown(now: Now, lexicon: Lexicon, *, purpose: str | None = None, age: float | None = None) -> Shown:
    """Return what a screen shows. purpose, age: of the encounter, where stated."""
    draft = now.draft
    if draft is None:
        return Shown(_side(now.sides))
    missing = not_mentioned(draft.fields, lexicon, purpose or GENERAL)
    return Shown(
        side=_side(now.sides),
        parts=_parts(draft, lexicon),
        cautions=tuple(caution.text for caution in cautions(draft.fields, age)),
        not_mentioned=tuple(_named(one.concept, one.side, lexicon) for one in missing),
        unplaced=tuple(printable(one.text) or "(nothing could be read)" for one in draft.unplaced),
        another=ANOTHER if len(examinations(draft, lexicon.language.get("reset", {}))) > 1 else None,
    )


def said(utterance: Utterance) -> str:
    """Return the words of an utterance as heard, those in doubt too."""
    words = " ".join(word.said for word in utterance.transcript.words)
    return printable(words or " ".join(one.text for one in utterance.transcript.unread) or "(nothing could be read)")


def _parts(draft: DraftRecord, lexicon: Lexicon) -> tuple[Part, ...]:
    ordered = order_fields(draft.fields, lexicon)
    return tuple(
        Part(HEADINGS[part], tuple(_statement(field, lexicon) for field in inside))
        for part in PARTS
        if (inside := [field for field in ordered if field.part == part])
    )


def _statement(field: RecordField, lexicon: Lexicon) -> Statement:
    return Statement(
        key=field.id,
        sentence=word_field(field, lexicon),
        doubts=tuple(printable(flag.message) for flag in field.flags if flag.level == "check"),
        corrected=any(flag.code == TAKEN_BACK for flag in field.flags),
    )


def _named(concept: str, side: Side | None, lexicon: Lexicon) -> str:
    name = lexicon.concepts[concept].preferred
    return f"{name}, {SIDES[side]}" if side else name


def _side(sides: tuple[Side, ...]) -> str | None:
    return " and ".join(SIDES[side] for side in sides) or None
