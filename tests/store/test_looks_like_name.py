"""A reference that reads as a name is asked about once, before anything is opened under it."""

from __future__ import annotations

from pathlib import Path

import pytest
import running
from running import Run, one_sentence

from dictation.store.facts import looks_like_name

run = running.run  # fixture


@pytest.mark.parametrize("reference", ["John Smith", "john smith", "Mary Jones 70", "mary.jones", "J. O Smith-Jones", "Smith"])
def test_names_are_taken_for_names(reference: str) -> None:
    assert looks_like_name(reference)


@pytest.mark.parametrize("reference", ["H-2041", "H2041", "AB-12", "2041", "room2/H-2041", "clinic 3", "CTS", "h 12 b"])
def test_references_are_not(reference: str) -> None:
    assert not looks_like_name(reference)


@pytest.mark.parametrize(("answer", "code"), [("no", 3), ("", 3), ("yes", 0)])
def test_only_yes_opens_an_encounter_under_what_looks_like_a_name(
    run: Run, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, answer: str, code: int
) -> None:
    monkeypatch.setenv("DICTATION_REVIEWER", "Dr A")
    asked: list[str] = []

    def reply(prompt: str = "") -> str:
        asked.append(prompt)
        return answer

    monkeypatch.setattr("builtins.input", reply)
    assert run("encounter", "new", "John Smith") == code
    assert [prompt.startswith("That looks like a name") for prompt in asked] == [True]
    said = capsys.readouterr()
    if code:
        one_sentence(said.err)
    assert run("encounter", "list") == 0
    assert ("John Smith" in capsys.readouterr().out) == (answer == "yes")
    assert run("encounter", "new", "H-2041") == 0
    assert len(asked) == 1


def test_a_draft_is_not_begun_under_a_name(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "one.txt").write_text("Right wrist. No swelling.", encoding="utf-8")
    monkeypatch.setattr("builtins.input", lambda prompt="": "no")
    assert run("draft", "one.txt", "--out-dir", ".", "--encounter", "Mary Jones 1970") == 3
    assert not (tmp_path / "one.draft.json").exists()
    assert run("listen", "Mary Jones 1970", "--who", "Dr A") == 3


def test_a_folder_without_recordings_is_said(run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "letter.pdf").write_bytes(b"x")
    assert run("bulk", "in", "--out-dir", "out", "--pattern", "*.wav") == 0
    assert "There is no recording in 1 folder(s): looked for *.wav." in capsys.readouterr().err
