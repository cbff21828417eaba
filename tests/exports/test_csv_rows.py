"""CSV: one row a field, read back by the standard library's reader, and no cell that a spreadsheet acts on."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from exported import ACCENTS, HOSTILE, LONG_WORD, said, signed_examination
from hypothesis import given
from hypothesis import strategies as st
from scripted import ENDING, LEXICON, WHEN, WHO, Script, decide_all, invented_examination

from dictation.exports.csv_rows import COLUMNS, render_csv, safe_cell
from dictation.note.options import NoteOptions
from dictation.note.printable import printable
from dictation.review.records import SignedRecord


def _rows(record: SignedRecord, options: NoteOptions | None = None) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(render_csv(record, LEXICON, options or NoteOptions()).decode("utf-8-sig"))))


def test_one_row_a_field_with_what_was_decided(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    review.reject("f5", "said by the student", WHO, WHEN)
    decide_all(review)
    record = review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING)
    rows = {row["field"]: row for row in _rows(record)}
    assert len(rows) == len(record.complete.decisions) == 11
    assert tuple(next(iter(rows.values()))) == COLUMNS
    assert (rows["f5"]["decision"], rows["f5"]["reason"]) == ("rejected", "said by the student")
    assert (rows["f7"]["value"], rows["f7"]["unit_ucum"], rows["f7"]["side"]) == ("-20", "deg", "left")
    assert (rows["f8"]["value"], rows["f8"]["grade_sign"]) == ("4", "plus")
    assert rows["f8"]["sentence"] == "Abductor pollicis brevis power on the RIGHT: 4+ out of 5"
    assert {row["journal_head_sha256"] for row in rows.values()} == {record.head}
    assert {row["decided_at_utc"] for row in rows.values()} == {"2025-03-04T13:30:00Z"}


def test_numbers_stay_numbers(tmp_path: Path) -> None:
    script = Script()
    script.say("wrist_extension", "x", side="right", low=-10.5, high=60.0, unit="deg")
    row = _rows(signed_examination(tmp_path, script))[0]
    assert (float(row["low"]), float(row["high"])) == (-10.5, 60.0)


def test_no_cell_is_a_formula_and_words_survive(tmp_path: Path) -> None:
    words = [*HOSTILE, ACCENTS, LONG_WORD, 'a "quoted", word']
    rows = _rows(signed_examination(tmp_path, said(*words)))
    assert all(row["qualifier"] in (f"'{printable(text)}", printable(text)) for row, text in zip(rows, words, strict=True))
    assert sum(row["qualifier"].startswith("'") for row in rows) >= 6
    for row in rows:
        for name, cell in row.items():
            assert name in {"value", "low", "high"} or not cell.startswith(("=", "+", "-", "@", "\t", "\r"))


@given(st.text())
def test_a_cell_is_one_harmless_line(text: str) -> None:
    """How a formula begins: OWASP, CSV Injection (=, +, -, @, tab, carriage return), quoted from memory."""
    cell = safe_cell(text)
    assert not cell.startswith(("=", "+", "-", "@", "\t", "\r"))
    assert cell.isprintable()


def test_a_demonstration_and_a_superseded_record_say_so(tmp_path: Path) -> None:
    assert _rows(signed_examination(tmp_path, demonstration=True))[0]["role"] == "demonstration"
    folder = tmp_path / "later"
    folder.mkdir()
    review = invented_examination().review(folder)
    decide_all(review)
    review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING)
    record = review.add_addendum("Seen again.", "Dr B. Invented", "Registrar", WHEN, ending=ENDING)
    assert _rows(record, NoteOptions(as_signed=True))[0]["state"] == "superseded"
    assert "1 addendum:" in _rows(record)[0]["state"]
