"""PDF: read back by pdfium. Text that can be searched, fonts in the file, headings and pictures tagged, no page overrun."""

from __future__ import annotations

import ctypes
from pathlib import Path

import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from exported import ACCENTS, HOSTILE, LONG_WORD, numbered, said, signed_examination
from scripted import LEXICON

from dictation.exports.pdf_file import render_pdf
from dictation.note.document import LENGTHS
from dictation.note.options import NoteOptions
from dictation.note.printable import printable
from dictation.note.text import render_text
from dictation.review.records import SignedRecord


def _open(record: SignedRecord, options: NoteOptions | None = None) -> pypdfium2.PdfDocument:
    return pypdfium2.PdfDocument(render_pdf(record, LEXICON, options or NoteOptions()))


def _text(file: pypdfium2.PdfDocument) -> str:
    return " ".join(" ".join(page.get_textpage().get_text_bounded() for page in file).replace("\u200b", "").split())


def _elements(file: pypdfium2.PdfDocument) -> list[tuple[str, str]]:
    """The tagged elements of all pages: type and alternative text."""
    found: list[tuple[str, str]] = []

    def walk(element: pdfium.FPDF_STRUCTELEMENT) -> None:
        kind, alt = (ctypes.create_string_buffer(20_000) for _ in range(2))
        pdfium.FPDF_StructElement_GetType(element, kind, 20_000)
        length = pdfium.FPDF_StructElement_GetAltText(element, alt, 20_000)
        found.append((kind.raw.decode("utf-16-le").split("\0")[0], alt.raw[:length].decode("utf-16-le").rstrip("\0")))
        for at in range(pdfium.FPDF_StructElement_CountChildren(element)):
            if child := pdfium.FPDF_StructElement_GetChildAtIndex(element, at):
                walk(child)

    for page in file:
        tree = pdfium.FPDF_StructTree_GetForPage(page)
        for at in range(pdfium.FPDF_StructTree_CountChildren(tree)):
            walk(pdfium.FPDF_StructTree_GetChildAtIndex(tree, at))
        pdfium.FPDF_StructTree_Close(tree)
    return found


@pytest.mark.parametrize("length", LENGTHS)
def test_the_file_holds_the_whole_note_as_text(length: str, tmp_path: Path) -> None:
    record = signed_examination(tmp_path)
    options = NoteOptions(length=length)  # type: ignore[arg-type]
    file = _open(record, options)
    text = _text(file)
    for line in render_text(record, LEXICON, options).splitlines():
        if line.startswith("  ") and "  " not in line.strip() and line.rstrip().endswith("."):
            assert line.strip().rstrip(".") in text, line
    assert record.head in text
    assert record.signature.checksum in text
    assert text.count("Encounter H-2041 page ") == len(file)


def test_headings_lists_tables_and_pictures_are_tagged(tmp_path: Path) -> None:
    file = _open(signed_examination(tmp_path, numbered()))
    assert pdfium.FPDFCatalog_IsTagged(file)
    elements = _elements(file)
    kinds = [kind for kind, _ in elements]
    assert kinds.count("H1") == 1
    assert kinds.count("H2") >= 8
    assert {"L", "LI", "Table", "TH", "TD", "Figure"} <= set(kinds)
    described = {alt for kind, alt in elements if kind == "Figure" and alt}
    assert len(described) == 2
    assert any("RIGHT" in alt and "Mild swelling" in alt for alt in described)


def test_every_font_is_in_the_file(tmp_path: Path) -> None:
    file = _open(signed_examination(tmp_path, said(ACCENTS)))
    seen = 0
    for page in file:
        for thing in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_TEXT]):
            assert pdfium.FPDFFont_GetIsEmbedded(pdfium.FPDFTextObj_GetFont(thing.raw)) == 1
            seen += 1
    assert seen > 20


def test_whatever_was_spoken_is_text_and_stays_on_the_page(tmp_path: Path) -> None:
    words = [printable(text) for text in (*HOSTILE, ACCENTS, LONG_WORD)]
    file = _open(signed_examination(tmp_path, said(*words)))
    text = _text(file).replace(" ", "")
    for word in words:
        assert f"ScarontheRIGHT{',' * bool(word)}{word.replace(' ', '')}." in text
    for page in file:
        width, height = page.get_size()
        for thing in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_TEXT]):
            left, bottom, right, top = thing.get_bounds()
            assert left > 0
            assert right < width
            assert bottom > 0
            assert top < height


def test_a_letter_that_no_font_has_stands_as_its_code(tmp_path: Path) -> None:
    text = _text(_open(signed_examination(tmp_path, said("中文", "a 😀 face", "Ελένη"))))
    assert "Scar on the RIGHT, [U+4E2D][U+6587]." in text
    assert "a [U+1F600] face." in text
    assert "Ελένη" in text


def test_a_demonstration_says_so_on_every_page(tmp_path: Path) -> None:
    file = _open(signed_examination(tmp_path, demonstration=True))
    for page in file:
        assert "DEMONSTRATION" in page.get_textpage().get_text_bounded()
