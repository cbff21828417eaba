"""DOCX: read back by python-docx and by the standard library's XML reader; real styles; whatever was spoken is text."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from docx import Document as read_docx
from exported import ACCENTS, HOSTILE, LONG_WORD, numbered, said, signed_examination
from scripted import ENDING, LEXICON, WHEN, decide_all, invented_examination

from dictation.exports.docx_file import render_docx
from dictation.note.document import LENGTHS, Items, Table, sentences_of
from dictation.note.options import NoteOptions
from dictation.note.printable import printable
from dictation.note.templating import note_document
from dictation.review.records import SignedRecord


def _made(record: SignedRecord, options: NoteOptions | None = None) -> tuple[Any, dict[str, bytes]]:
    """The file as python-docx reads it, and its parts, each well-formed."""
    made = render_docx(record, LEXICON, options or NoteOptions())
    with zipfile.ZipFile(io.BytesIO(made)) as file:
        assert file.testzip() is None
        parts = {name: file.read(name) for name in file.namelist()}
    for name, content in parts.items():
        if name.endswith((".xml", ".rels")):
            ElementTree.fromstring(content)
    return read_docx(io.BytesIO(made)), parts


@pytest.mark.parametrize("length", LENGTHS)
def test_the_file_holds_the_whole_note_in_real_styles(length: str, tmp_path: Path) -> None:
    record = signed_examination(tmp_path, numbered())
    options = NoteOptions(length=length)  # type: ignore[arg-type]
    file, _ = _made(record, options)
    document = note_document(record, LEXICON, options)
    styles = {style: [p.text for p in file.paragraphs if p.style.name == style] for style in ("List Bullet", "Heading 1")}
    items = [item.text for block in document.blocks if isinstance(block, Items) for item in block.items]
    assert styles["List Bullet"] == items
    assert styles["Heading 1"][-1] == "Record"
    cells = [cell.text for table in file.tables for row in table.rows for cell in row.cells]
    for block in document.blocks:
        if isinstance(block, Table):
            assert all(sentence.text in cells for sentence in sentences_of(block))
    text = "\n".join([p.text for p in file.paragraphs] + cells)
    for block in document.blocks:
        assert not hasattr(block, "sentences") or block.text in text
    assert {record.head, record.signature.checksum} <= set(cells)
    assert "Encounter H-2041" in file.sections[0].footer.paragraphs[0].text


def test_pictures_have_alternative_text(tmp_path: Path) -> None:
    _, parts = _made(signed_examination(tmp_path))
    document = parts["word/document.xml"].decode()
    described = [node.get("descr") or "" for node in ElementTree.fromstring(document).iter() if node.tag.endswith("}docPr")]
    assert len(described) == 2
    assert "RIGHT" in described[0]
    assert "Mild swelling" in described[0]
    assert sum(name.startswith("word/media/") for name in parts) == 2


def test_whatever_was_spoken_is_text_alone(tmp_path: Path) -> None:
    words = [*HOSTILE, ACCENTS, LONG_WORD]
    file, parts = _made(signed_examination(tmp_path, said(*words)))
    items = [p.text for p in file.paragraphs if p.style.name == "List Bullet"]
    assert items == [f"Scar on the RIGHT{', ' * bool(text)}{text}." for text in map(printable, words)]
    assert not set(parts["word/document.xml"].decode()) & set("\x1b\x07\x00\x01\x0b\u202e\u2066\ufffe")


def test_nothing_in_it_is_fetched_or_run(tmp_path: Path) -> None:
    _, parts = _made(signed_examination(tmp_path, said(*HOSTILE)))
    assert not [name for name in parts if name.endswith(".bin") or "vba" in name.lower()]
    assert b'TargetMode="External"' not in b"".join(parts.values())
    fields = [node for node in ElementTree.fromstring(parts["word/document.xml"]).iter() if "instr" in node.tag.lower()]
    assert fields == []


def test_a_superseded_note_says_so_at_the_top_the_foot_and_on_every_page(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    decide_all(review)
    review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING)
    record = review.add_addendum("Seen again.", "Dr B. Invented", "Registrar", WHEN, ending=ENDING)
    file, _ = _made(record, NoteOptions(as_signed=True))
    assert [p.text.startswith("SUPERSEDED") for p in file.paragraphs].count(True) == 2
    assert file.sections[0].header.paragraphs[0].text.startswith("SUPERSEDED")
