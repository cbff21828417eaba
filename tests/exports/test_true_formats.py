"""Every number and side of the note, and none besides, in every format that is read by people; pictures apart.

Pictures set values beside normal ones with their source, and have tests of their own (tests/pictures).
"""

from __future__ import annotations

import re
from collections import Counter
from unittest.mock import patch

import pytest
from exported import signed, statements
from hypothesis import given, settings
from hypothesis import strategies as st
from reading_exports import words
from scripted import SHIPPED, Script

from dictation.exports.formats import FORMATS
from dictation.note.document import LENGTHS, Document, Facts, Heading, Items, Length, Paragraph, Table
from dictation.note.options import NoteOptions
from dictation.note.templating import note_document

NOTES = [form.name for form in FORMATS.values() if form.note]


def _said(document: Document, *, sides_in_cells: bool) -> list[str]:
    """What the note says, piece by piece; sides_in_cells: a cell says its side itself, as in text."""
    pieces = [document.title]
    for block in document.blocks:
        match block:
            case Heading(text):
                pieces.append(text)
            case Paragraph():
                pieces.append(block.text)
            case Items(items):
                pieces += [item.text for item in items]
            case Table(head, rows):
                pieces += [] if sides_in_cells else head
                for row in rows:
                    pieces.append(row[0].text)
                    pieces += [f"{head[at] if sides_in_cells else ''} {c.text}" for at, c in enumerate(row) if at and c.text]
            case Facts(pairs):
                pieces += [text for pair in pairs for text in pair]
            case _:
                pass
    return pieces


def _counted(text: str) -> tuple[Counter[str], Counter[str]]:
    return Counter(re.findall(r"\d+(?:\.\d+)?", text)), Counter(re.findall(r"\b(?:RIGHT|LEFT)\b", text))


@pytest.mark.parametrize("name", NOTES)
@settings(deadline=None, max_examples=8)
@given(script=statements(), length=st.sampled_from(LENGTHS))
def test_every_format_holds_the_numbers_and_sides_of_the_note_and_no_other(name: str, script: Script, length: Length) -> None:
    record = signed(script)
    options = NoteOptions(length=length)
    with (
        patch("dictation.exports.pdf_file.figures", return_value=[]),
        patch("dictation.exports.docx_file.figures", return_value=[]),
        patch("dictation.exports.html_page.figures", return_value=[]),
    ):
        seen = words(name, FORMATS[name].write(record, SHIPPED, options))
    pieces = _said(note_document(record, SHIPPED, options), sides_in_cells=name == "text")
    assert _counted(seen) == _counted(" ".join(pieces))
    for piece in pieces:
        assert " ".join(piece.split()).casefold() in seen.casefold(), piece
