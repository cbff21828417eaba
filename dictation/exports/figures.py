"""The pictures of a signed record: where the findings are, and how far each joint moves. Imports pictures."""

from __future__ import annotations

from dictation.lexicon.entries import Lexicon
from dictation.measurement.movements import movements
from dictation.note.options import NoteOptions
from dictation.note.printable import printable
from dictation.pictures.bars import movement_bars
from dictation.pictures.hands import hands
from dictation.pictures.states import is_drawn
from dictation.pictures.svg import Picture
from dictation.record import RecordField
from dictation.review.records import SignedRecord


def figures(record: SignedRecord, lexicon: Lexicon, options: NoteOptions) -> list[tuple[str, Picture]]:
    """Return each picture that has something to show, with its caption."""
    errors = {} if options.as_signed else record.in_error
    kept = [d for d in record.complete.kept if d.field.id not in errors]
    fields = [d.field.model_copy(update={"decision": d.state}) for d in kept]
    sentences = {d.field.id: printable(d.sentence or "") for d in record.complete.kept}

    def word(field: RecordField) -> str:
        return sentences[field.id]

    made = []
    if any(is_drawn(field, lexicon) for field in fields):
        made.append(("Where the findings are", hands(fields, lexicon, word)))
    if movements(fields):
        made.append(("Measured movements", movement_bars(fields, options.normal_table)))
    return made
