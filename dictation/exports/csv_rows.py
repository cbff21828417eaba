"""A signed record as CSV: one row a field, rejected ones too, with what was decided; for spreadsheets.

A cell that a spreadsheet would take for a formula begins with an apostrophe, which makes it text; numbers stay numbers.
The character that marks UTF-8 stands first, without which spreadsheets misread accents.
"""

from __future__ import annotations

import csv
import io

from dictation.lexicon.entries import Lexicon
from dictation.note.numbers import number
from dictation.note.options import NoteOptions
from dictation.note.printable import printable
from dictation.review.decisions import Decision
from dictation.review.records import SignedRecord

COLUMNS = (
    "reference", "field", "decision", "entered_in_error", "added_by_hand", "part", "concept", "name",
    "side", "digit", "joint", "structure",
    "aspect", "status", "certainty", "severity", "value", "low", "high", "unit_ucum", "comparator", "grade_sign", "trial",
    "position", "occasion", "qualifier", "mode", "sentence", "reason", "decided_by", "decided_at_utc", "signer", "role",
    "signed_at_utc", "state", "checksum_sha256", "journal_head_sha256",
)  # fmt: skip
_FIELD_KEYS = (*COLUMNS[8:16], "comparator", "position", "occasion", "qualifier", "mode")
_SIGNS = {"+": "plus", "-": "minus", None: ""}
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "|", "%")
"""How a cell begins that some spreadsheet acts on. Source: OWASP, CSV Injection, quoted from memory; | and % to be sure."""


def render_csv(record: SignedRecord, lexicon: Lexicon, options: NoteOptions) -> bytes:
    """Return the rows under a head of COLUMNS. Raises RecordError where the record is not what was signed."""
    record.verify()
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\r\n")
    writer.writeheader()
    for decision in record.complete.decisions:
        writer.writerow(_row(decision, record, lexicon, options))
    return out.getvalue().encode("utf-8-sig")


def safe_cell(text: str) -> str:
    """Return text that no spreadsheet takes for a formula.

    >>> safe_cell("=1+1"), safe_cell("well healed")
    ("'=1+1", 'well healed')
    """
    shown = printable(text)
    return f"'{shown}" if shown.lstrip("'\" ").startswith(_FORMULA) else shown


def _row(decision: Decision, record: SignedRecord, lexicon: Lexicon, options: NoteOptions) -> dict[str, str]:
    field, signature = decision.field, record.signature
    concept = lexicon.concepts.get(field.concept)
    texts = {
        "reference": record.complete.reference,
        "field": field.id,
        "decision": decision.state,
        "entered_in_error": "yes" if field.id in record.in_error and not options.as_signed else "no",
        "added_by_hand": "yes" if decision.added else "no",
        "part": field.part,
        "concept": field.concept,
        "name": concept.preferred if concept else "",
        "unit_ucum": field.unit or "",
        "grade_sign": _SIGNS[field.grade_sign],
        "trial": "" if field.trial is None else str(field.trial),
        "sentence": decision.sentence or "",
        "reason": decision.reason or "",
        "decided_by": decision.who or "",
        "decided_at_utc": decision.time.at if decision.time else "",
        "signer": "" if signature.demonstration else signature.signer,
        "role": "demonstration" if signature.demonstration else signature.role,
        "signed_at_utc": signature.time.at,
        "state": _state(record, options),
        "checksum_sha256": signature.checksum,
        "journal_head_sha256": record.head,
        **{key: getattr(field, key) or "" for key in _FIELD_KEYS},
    }
    numbers = {"value": field.value, "low": field.low, "high": field.high}
    return {name: safe_cell(text) for name, text in texts.items()} | {name: _number(n) for name, n in numbers.items()}


def _state(record: SignedRecord, options: NoteOptions) -> str:
    count = len(record.addenda)
    if count:
        added = f"signed, with {count} {'addendum' if count == 1 else 'addenda'}: see the note"
        return "superseded" if options.as_signed else added
    return "signed"


def _number(value: float | None) -> str:
    return "" if value is None else ("-" if value < 0 else "") + number(abs(value))
