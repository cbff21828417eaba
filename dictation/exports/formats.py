"""Every format that a signed record is exported in: the one table of them.

Each is a function from a signed record to bytes. What is read by people is the note, of the length chosen; what is read
by other programs holds the record whole, whatever the length. Each carries the record's checksum and its journal's head.
Imports each format's file when it is first asked for.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from dictation.lexicon.entries import Lexicon
from dictation.note.options import NoteOptions
from dictation.review.records import SignedRecord

Writer = Callable[[SignedRecord, Lexicon, NoteOptions], bytes]


@dataclass(frozen=True, slots=True)
class Format:
    """One format.

    ending: of a file's name, without its dot. binary: not for a terminal. note: laid out from the note, so that it has a
    length; else for other programs. write: raises RecordError where the record is no longer what was signed, TemplateError
    where a template of the note cannot be used.
    """

    name: str
    what: str
    ending: str
    media_type: str
    binary: bool
    note: bool
    write: Writer


def _text(record: SignedRecord, lexicon: Lexicon, options: NoteOptions) -> bytes:
    from dictation.note.text import render_text

    return render_text(record, lexicon, options).encode()


def _markdown(record: SignedRecord, lexicon: Lexicon, options: NoteOptions) -> bytes:
    from dictation.note.markdown import render_markdown

    return render_markdown(record, lexicon, options).encode()


def _html(record: SignedRecord, lexicon: Lexicon, options: NoteOptions) -> bytes:
    from dictation.exports.html_page import render_html

    return render_html(record, lexicon, options).encode()


def _docx(record: SignedRecord, lexicon: Lexicon, options: NoteOptions) -> bytes:
    from dictation.exports.docx_file import render_docx

    return render_docx(record, lexicon, options)


def _pdf(record: SignedRecord, lexicon: Lexicon, options: NoteOptions) -> bytes:
    from dictation.exports.pdf_file import render_pdf

    return render_pdf(record, lexicon, options)


def _fhir(record: SignedRecord, lexicon: Lexicon, options: NoteOptions) -> bytes:
    from dictation.exports.fhir.bundle import render_fhir

    return render_fhir(record, lexicon, options).encode()


def _json(record: SignedRecord, lexicon: Lexicon, options: NoteOptions) -> bytes:
    from dictation.exports.json_record import render_json

    return render_json(record, options).encode()


def _csv(record: SignedRecord, lexicon: Lexicon, options: NoteOptions) -> bytes:
    from dictation.exports.csv_rows import render_csv

    return render_csv(record, lexicon, options)


_DOCX_TYPE = "application/vnd.openxmlformats-officedocument.wordprocessingml.document"
FORMATS: Mapping[str, Format] = {
    one.name: one
    for one in (
        Format("text", "Plain text", "txt", "text/plain; charset=utf-8", False, True, _text),
        Format("markdown", "Markdown", "md", "text/markdown; charset=utf-8", False, True, _markdown),
        Format("html", "One page, with pictures", "html", "text/html; charset=utf-8", False, True, _html),
        Format("docx", "DOCX, for a word processor", "docx", _DOCX_TYPE, True, True, _docx),
        Format("pdf", "PDF, tagged, with pictures", "pdf", "application/pdf", True, True, _pdf),
        Format("json", "JSON, the whole record", "json", "application/json", False, False, _json),
        Format("fhir", "FHIR R4B document", "fhir.json", "application/fhir+json; charset=utf-8", False, False, _fhir),
        Format("csv", "CSV, one row a statement", "csv", "text/csv; charset=utf-8", False, False, _csv),
    )
}


def file_name(record: SignedRecord, form: Format, options: NoteOptions) -> str:
    """Return a name for an export's file: the encounter's reference, what it is, the ending. It holds nothing else.

    "H-2041.letter.pdf", "H-2041.csv"
    """
    reference = re.sub(r"[^A-Za-z0-9._-]+", "-", record.complete.reference)
    return ".".join([reference, *([options.length] if form.note else []), form.ending])
