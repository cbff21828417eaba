"""The command that prints the note and exports it: lengths, formats, a clinic's templates, what was entered in error."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import running
from running import Run, one_sentence
from scripted import ENDING, REFERENCE, WHEN, decide_all, invented_examination, taken

from dictation.exports.formats import FORMATS
from dictation.note.document import LENGTHS

run = running.run  # a fixture
BEGINS = {
    "text": b"HAND, WRIST", "markdown": b"# Hand, wrist", "html": b"<!DOCTYPE html>", "docx": b"PK\x03\x04", "pdf": b"%PDF-",
    "json": b'{\n  "format"', "fhir": b'{\n  "resourceType": "Bundle"', "csv": b"\xef\xbb\xbfreference,",
}  # fmt: skip


@pytest.fixture
def signed(tmp_path: Path) -> Path:
    """A draft file in the current folder whose review is signed."""
    path = tmp_path / "invented.draft.json"
    path.write_text(invented_examination().draft().model_dump_json(), encoding="utf-8")
    review = taken(path, tmp_path / "data" / "hand-examination-dictation" / "store")
    decide_all(review)
    review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING)
    return path


@pytest.mark.parametrize("form", FORMATS)
def test_every_format_is_written_for_its_owner_alone_and_over_nothing(
    run: Run, signed: Path, form: str, capsys: pytest.CaptureFixture[str]
) -> None:
    out = signed.with_name(f"note.{FORMATS[form].ending}")
    assert run("note", REFERENCE, "--format", form, "--out", out.name) == 0
    made = out.read_bytes()
    assert made.startswith(BEGINS[form])
    assert out.stat().st_mode & 0o777 == 0o600
    assert run("note", signed.name, "--format", form, "--out", out.name) == 9
    assert out.read_bytes() == made
    capsys.readouterr()
    code = run("note", REFERENCE, "--format", form)
    shown = capsys.readouterr()
    if FORMATS[form].binary:
        assert code == 2
        assert "--out" in shown.err
    else:
        assert code == 0
        assert shown.out.encode() == made


@pytest.mark.parametrize("length", LENGTHS)
def test_every_length_is_printed_and_can_name_its_fields(
    run: Run, signed: Path, length: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("note", REFERENCE, "--length", length) == 0
    plain = capsys.readouterr().out
    assert "RIGHT" in plain
    assert "[f" not in plain
    assert run("note", REFERENCE, "--length", length, "--name-fields") == 0
    assert "[f2]" in capsys.readouterr().out


def test_a_broken_template_is_one_sentence_and_writes_nothing(
    run: Run, signed: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    own = signed.with_name("own")
    own.mkdir()
    (own / "letter.jinja").write_text("= A\n{{ nobody }}\n", encoding="utf-8")
    monkeypatch.setenv("DICTATION_TEMPLATES_FOLDER", str(own))
    assert run("note", REFERENCE, "--length", "letter", "--format", "pdf", "--out", "letter.pdf") == 3
    err = capsys.readouterr().err
    one_sentence(err.replace(". The record is", "; the record is"))
    assert "letter.jinja, line 2: 'nobody' is undefined" in err
    assert not signed.with_name("letter.pdf").exists()
    assert run("note", REFERENCE) == 0  # the other lengths go on


def test_what_was_entered_in_error_is_said_before_it_is_signed(
    run: Run, signed: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = iter(["The scar was of another patient.", "Dr B. Invented", "Registrar", ENDING] * 2)
    monkeypatch.setattr("builtins.input", lambda prompt="": next(answers))
    assert run("encounter", "addendum", REFERENCE, "--entered-in-error", "f4") == 0
    assert "To be marked as entered in error: No scar on the RIGHT." in capsys.readouterr().out
    assert run("note", REFERENCE) == 0
    assert "ENTERED IN ERROR (addendum 1): No scar on the RIGHT." in " ".join(capsys.readouterr().out.split())
    assert run("note", REFERENCE, "--format", "fhir") == 0
    bundle = json.loads(capsys.readouterr().out)
    states = [entry["resource"].get("status") for entry in bundle["entry"]]
    assert states.count("entered-in-error") == 1
    assert run("encounter", "addendum", REFERENCE, "--entered-in-error", "f404") == 8
    one_sentence(capsys.readouterr().err)
