"""The note as PDF: text that can be searched, fonts in the file, headings, lists, tables and pictures tagged (PDF/UA-1).

Set by typst, which brings its own fonts and fetches nothing; ``note.typ`` is the look. What was spoken reaches it as
data, never as source. Imports figures and the note.
"""

from __future__ import annotations

import json
import re
import textwrap
import unicodedata
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import typst

from dictation.exports.figures import figures
from dictation.lexicon.entries import Lexicon
from dictation.note.document import Block, Facts, Heading, Items, Paragraph, Table
from dictation.note.options import NoteOptions
from dictation.note.templating import note_document
from dictation.pictures.svg import Picture
from dictation.review.records import SignedRecord

_LOOK = Path(__file__).with_name("note.typ")
_NO_GLYPH = re.compile(r'the text `"(.+?)"` could not be displayed', re.DOTALL)
_IN_PART = {"LATIN", "GREEK", "CYRILLIC", "COMBINING"}
"""Scripts that the fonts have most of; of another, a letter that is missing stands for the whole."""
_MOST, _BREAK = 30, "\u200b"
_LONG_WORD = re.compile(rf"\b(?![0-9a-f]{{64}}\b)\w{{{_MOST + 1},}}")
"""A word that could be longer than its line, and would leave the page; it may be broken. A checksum is copied whole."""


def render_pdf(record: SignedRecord, lexicon: Lexicon, options: NoteOptions) -> bytes:
    """Return the PDF; the same record gives the same bytes. Raises as note_document does."""
    document = note_document(record, lexicon, options)
    pictures = figures(record, lexicon, options)
    note = {
        "title": document.title,
        "banner": document.banner,
        "reference": record.complete.reference,
        "blocks": [one for block in document.blocks for one in _block(block, pictures)],
    }
    return _set(json.dumps(note, ensure_ascii=False))


def _set(note: str) -> bytes:
    """Return the PDF of a note as JSON. A character that no font has stands as its code, so that nothing is lost unseen."""
    note = _LONG_WORD.sub(lambda word: _BREAK.join(textwrap.wrap(word[0], _MOST)), note)
    while True:
        try:
            made: bytes = typst.compile(
                _LOOK.read_bytes(), sys_inputs={"note": note}, ignore_system_fonts=True, pdf_standards=["ua-1"]
            )
            return made
        except typst.TypstError as err:
            found = _NO_GLYPH.search(str(err))
            unknown = {letter for letter in found[1] if not letter.isascii()} if found else set()
            scripts = {unicodedata.name(letter, letter).split(" ")[0] for letter in unknown}
            if not unknown & set(note):
                raise
            same = {letter for letter in set(note) if unicodedata.name(letter, letter).split(" ")[0] in scripts}
            for letter in same if scripts.isdisjoint(_IN_PART) else unknown:
                note = note.replace(letter, f"[U+{ord(letter):04X}]")


def _block(block: Block, pictures: Iterable[tuple[str, Picture]]) -> list[dict[str, Any]]:
    match block:
        case Heading(text):
            return [{"kind": "heading", "text": text}]
        case Paragraph():
            return [{"kind": "paragraph", "text": block.text}]
        case Items(items):
            return [{"kind": "items", "items": [item.text for item in items]}]
        case Table(head, rows):
            return [{"kind": "table", "head": head, "rows": [[cell.text for cell in row] for row in rows]}]
        case Facts(pairs):
            return [{"kind": "facts", "pairs": pairs}]
        case _:
            return [
                {"kind": "picture", "caption": caption, "svg": picture.svg, "alt": picture.alternative_text}
                for caption, picture in pictures
            ]
