"""What a reader chooses of a note. Imports document."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from dictation.measurement.result import Measure
from dictation.note.document import Length


@dataclass(frozen=True, slots=True)
class NoteOptions:
    """How a note is to be.

    length: full, brief, a letter, or the patient's summary. as_signed: without what was added since, and marked as
    superseded. name_fields: every sentence names the fields it rests on. templates: a clinic's own folder of templates, laid
    over the shipped ones. measures: what follows from the confirmed fields, where the clinic has it printed.
    normal_table: the table of normal ranges that pictures show beside movements, a key of measurement/tables.py.
    """

    length: Length = "full"
    as_signed: bool = False
    name_fields: bool = False
    templates: Path | None = None
    measures: tuple[Measure, ...] = ()
    normal_table: str = "aaos"
