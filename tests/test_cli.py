"""The commands over a draft: review, note, demonstration, lexicon, settings; exit codes and sentences."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
import running
from running import Run, one_sentence
from scripted import ENDING, WHEN, decide_all, invented_examination, taken

from dictation import errors
from dictation.record import DraftRecord
from dictation.review.rules import Review

pipeline, run = running.pipeline, running.run  # fixtures


@pytest.fixture
def drafted(tmp_path: Path) -> Path:
    """A draft file in the current folder, nothing decided."""
    path = tmp_path / "invented.draft.json"
    path.write_text(invented_examination().draft().model_dump_json(), encoding="utf-8")
    return path


def _review(path: Path) -> Review:
    return taken(path, path.parent / "data" / "hand-examination-dictation" / "store")


def _sign(path: Path) -> None:
    review = _review(path)
    decide_all(review)
    review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING)


def test_no_note_before_it_is_signed(run: Run, drafted: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("note", drafted.name, "--out", "note.txt") == 8
    err = capsys.readouterr().err
    one_sentence(err)
    assert "has not begun" in err
    _review(drafted)
    assert run("note", drafted.name, "--out", "note.txt") == 8
    err = capsys.readouterr().err
    one_sentence(err)
    assert "11 fields and 1 stretch of unplaced speech are not decided" in err
    assert not (drafted.parent / "note.txt").exists()


@pytest.mark.parametrize(("form", "start"), [("text", "HAND, WRIST"), ("markdown", "# Hand, wrist")])
def test_note_prints_or_writes_the_signed_note(
    run: Run, drafted: Path, capsys: pytest.CaptureFixture[str], form: str, start: str
) -> None:
    _sign(drafted)
    assert run("note", drafted.name, "--format", form) == 0
    printed = capsys.readouterr().out
    assert printed.startswith(start)
    assert run("note", drafted.name, "--format", form, "--out", "n") == 0
    assert (drafted.parent / "n").read_text(encoding="utf-8") == printed
    assert run("note", drafted.name, "--format", form, "--out", drafted.name) == 9  # a draft is never overwritten
    assert DraftRecord.model_validate_json(drafted.read_text())


def test_review_at_the_command_line_stops_and_goes_on(
    run: Run, drafted: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = iter(["Dr A. Invented", "confirm", "stop"])
    monkeypatch.setattr("builtins.input", lambda prompt="": next(answers))
    assert run("review", drafted.name) == 0
    assert "1 of 11 decided" in capsys.readouterr().out
    answers = iter(["stop"])
    assert run("review", drafted.name, "--reviewer", "Dr B", "--order", "examination") == 0
    assert "Going on where it stopped" in capsys.readouterr().out


def test_ctrl_c_in_a_review_keeps_what_was_decided(
    run: Run, drafted: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = iter(["confirm"])

    def answer(prompt: str = "") -> str:
        try:
            return next(answers)
        except StopIteration:
            raise KeyboardInterrupt from None

    monkeypatch.setattr("builtins.input", answer)
    assert run("review", drafted.name, "--reviewer", "Dr A") == 130
    one_sentence(capsys.readouterr().err)
    assert [entry.what for entry in _review(drafted).journal.entries] == ["confirmed"]


@pytest.mark.usefixtures("pipeline")
def test_a_draft_under_review_is_not_drafted_over(run: Run, drafted: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _sign(drafted)
    before = drafted.read_bytes()
    (drafted.parent / "invented.wav").write_bytes(b"sound")
    assert run("draft", "invented.wav", "--out-dir", ".") == 3
    one_sentence(capsys.readouterr().err)
    assert drafted.read_bytes() == before


@pytest.mark.parametrize("command", ["review", "note"])
@pytest.mark.parametrize(
    ("text", "code"),
    [
        (None, 3),
        ("nonsense", 7),
        ('{"schema_version": "9.0"}', 7),
        ('{"schema_version": "1.0", "fields": 3}', 7),
    ],
)
def test_a_draft_that_is_none_isone_sentence(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str], command: str, text: str | None, code: int
) -> None:
    if text is not None:
        (tmp_path / "d.draft.json").write_text(text)
    assert run(command, "d.draft.json") == code
    one_sentence(capsys.readouterr().err)


@pytest.mark.usefixtures("pipeline")
def test_demonstrate_goes_from_sound_to_a_marked_note_and_leaves_nothing(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "a.wav").write_bytes(b"sound")
    assert run("demonstrate", "a.wav") == 0
    out = capsys.readouterr().out
    assert out.index("DRAFT: 11 statements") < out.index("DECISIONS, made by the program") < out.index("HAND, WRIST AND ELBOW")
    assert "no clinician confirmed any of this" in " ".join(out.split())
    assert [p.name for p in tmp_path.iterdir()] == ["a.wav"]
    (tmp_path / "b.wav").write_bytes(b"noise")
    assert run("demonstrate", "b.wav") == 4
    one_sentence(capsys.readouterr().err)


def test_lexicon_check_names_file_line_and_term(run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("lexicon", "check") == 0
    assert "No fault" in capsys.readouterr().out
    (tmp_path / "own.yaml").write_text('concepts:\n  - id: swelling\n    preferred: "Swelling"\n    kind: "guess"\n')
    assert run("lexicon", "check", "own.yaml") == 6
    err = capsys.readouterr().err
    one_sentence(err)
    assert "own.yaml, line 2, term swelling" in err


def test_settings_show_names_every_setting_and_variable(run: Run, capsys: pytest.CaptureFixture[str]) -> None:
    from dictation.settings import VARIABLES

    assert run("settings", "show") == 0
    out = capsys.readouterr().out
    assert all(name in out and variable in out for name, variable in VARIABLES.items())


def test_a_fault_in_the_program_shows_no_patient_text(
    run: Run, drafted: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(path: Path) -> None:
        raise RuntimeError("Mild swelling of the RIGHT wrist")

    monkeypatch.setattr("dictation.review.opening.read_draft_file", broken)
    assert run("note", drafted.name) == 1
    err = capsys.readouterr().err
    one_sentence(err)
    assert "swelling" not in err
    assert "RuntimeError in opening.py, line" in err


def test_a_question_that_no_one_answers_is_one_sentence(
    run: Run, drafted: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def nobody(prompt: str = "") -> str:
        raise EOFError

    monkeypatch.setattr("builtins.input", nobody)
    assert run("review", drafted.name) == 2
    err = capsys.readouterr().err
    one_sentence(err)
    assert "had no answer" in err


def test_every_exit_code_is_in_the_help(run: Run, capsys: pytest.CaptureFixture[str]) -> None:
    kinds = [kind for kind in vars(errors).values() if isinstance(kind, type) and issubclass(kind, errors.DictationError)]
    assert len(kinds) >= 8
    assert run("--help") == 0
    page = capsys.readouterr().out.split("Exit codes")[1]
    codes = {int(line.split()[0]) for line in page.splitlines() if line.split() and line.split()[0].isdigit()}
    assert {kind.exit_code for kind in kinds} | {0, 2, 130} == codes


def test_an_unknown_option_is_a_usage_fault(run: Run) -> None:
    assert run("draft", "--loud") == 2


def test_a_reader_that_goes_away_is_no_traceback(tmp_path: Path) -> None:
    read, write = os.pipe()
    os.close(read)
    result = subprocess.run(
        [sys.executable, "-m", "dictation", "settings", "show"],
        stdout=write,
        stderr=subprocess.PIPE,
        text=True,
        check=False,
        cwd=Path(__file__).parents[1],
    )
    os.close(write)
    assert "Traceback" not in result.stderr
    assert result.returncode != 0
