"""The note as a DOCX file: real headings, lists and tables, pictures with alternative text, page and encounter in the foot.

Written by python-docx, and packed again with fixed times, so that the same record gives the same bytes. Imports
figures, raster and the note.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from docx import Document as new_document
from docx.oxml import OxmlElement
from docx.oxml.ns import qn
from docx.shared import Cm, Pt, RGBColor

from dictation.exports.figures import figures
from dictation.exports.raster import WIDTH_CM, picture_png
from dictation.lexicon.entries import Lexicon
from dictation.note.document import Block, Facts, Heading, Items, Paragraph, PicturePlace, Table
from dictation.note.options import NoteOptions
from dictation.note.templating import note_document
from dictation.pictures.svg import Picture
from dictation.review.records import SignedRecord

_FIXED = (1980, 1, 1, 0, 0, 0)
"""The time of every part in the file: the earliest that the format can hold."""

_FACTS_CM = (4.6, WIDTH_CM - 4.6)


def render_docx(record: SignedRecord, lexicon: Lexicon, options: NoteOptions) -> bytes:
    """Return the file. Raises as note_document does."""
    document = note_document(record, lexicon, options)
    file = new_document()
    _set_up(file, document.title, document.banner, record)
    file.add_heading(document.title, level=0)
    _banner(file, document.banner)
    pictures = figures(record, lexicon, options) if PicturePlace() in document.blocks else []
    for block in document.blocks:
        _add(file, block, pictures)
    _banner(file, document.banner)
    out = io.BytesIO()
    file.save(out)
    return _packed(out.getvalue())


def _set_up(file: Any, title: str, banner: str | None, record: SignedRecord) -> None:
    section = file.sections[0]
    section.page_width, section.page_height = Cm(21), Cm(29.7)
    section.left_margin = section.right_margin = Cm((21 - WIDTH_CM) / 2)
    language = OxmlElement("w:lang")
    language.set(qn("w:val"), "en-GB")
    normal = file.styles["Normal"]
    normal.font.size = Pt(10.5)
    normal.element.get_or_add_rPr().append(language)
    file.styles["Title"].font.size = Pt(18)
    properties, signed = file.core_properties, datetime.fromisoformat(record.signature.time.at).replace(tzinfo=None)
    properties.title, properties.author, properties.comments = title, "", ""
    properties.language, properties.created, properties.modified = "en-GB", signed, signed
    if banner:
        section.header.paragraphs[0].add_run(banner).bold = True
    foot = section.footer.paragraphs[0]
    foot.add_run(f"Encounter {record.complete.reference}\t\tpage ")  # the style's stops: middle, right
    _field(foot, "PAGE")
    foot.add_run(" of ")
    _field(foot, "NUMPAGES")


def _field(paragraph: Any, name: str) -> None:
    """Add what a word processor works out itself, as the number of a page."""
    field = OxmlElement("w:fldSimple")
    field.set(qn("w:instr"), name)
    paragraph._p.append(field)


def _banner(file: Any, banner: str | None) -> None:
    if banner:
        run = file.add_paragraph(style="Intense Quote").add_run(banner)
        run.font.size, run.font.color.rgb, run.italic = Pt(12), RGBColor(0, 0, 0), False


def _add(file: Any, block: Block, pictures: Iterable[tuple[str, Picture]]) -> None:
    match block:
        case Heading(text):
            file.add_heading(text, level=1)
        case Paragraph():
            file.add_paragraph(block.text)
        case Items(items):
            for item in items:
                file.add_paragraph(item.text, style="List Bullet")
        case Table(head, rows):
            _table(file, [list(head), *([cell.text for cell in row] for row in rows)], headed=True)
        case Facts(pairs):
            file.add_heading("Record", level=1)
            _table(file, [list(pair) for pair in pairs], headed=False, widths=_FACTS_CM)
        case _:
            for caption, picture in pictures:
                run = file.add_paragraph().add_run()
                shape = run.add_picture(io.BytesIO(picture_png(picture.svg)), width=Cm(WIDTH_CM))
                shape._inline.docPr.set("descr", picture.alternative_text)
                run.add_break()
                run.add_text(caption)


def _table(file: Any, rows: list[list[str]], *, headed: bool, widths: tuple[float, ...] | None = None) -> None:
    table = file.add_table(rows=len(rows), cols=len(rows[0]), style="Table Grid")
    for at, row in enumerate(rows):
        for cell, text in zip(table.rows[at].cells, row, strict=True):
            cell.paragraphs[0].paragraph_format.space_after = Pt(0)
            cell.paragraphs[0].add_run(text).bold = (headed and at == 0) or text is row[0]
    table.autofit = widths is None
    for column, width in zip(table.columns, widths or (), strict=False):
        column.width = Cm(width)
        for cell in column.cells:
            cell.width = Cm(width)
    if headed:
        repeated = OxmlElement("w:tblHeader")
        table.rows[0]._tr.get_or_add_trPr().append(repeated)
    file.add_paragraph().paragraph_format.space_after = Pt(0)


def _packed(made: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(made)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(zipfile.ZipInfo(name, _FIXED), old.read(name), zipfile.ZIP_DEFLATED)
    return out.getvalue()
