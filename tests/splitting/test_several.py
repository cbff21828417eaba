"""Two patients in one dictation: said at drafting, and refused wherever a draft goes into an encounter."""

from __future__ import annotations

from pathlib import Path

import pytest
import running
from running import Run

from dictation.bulk.parts import is_part
from dictation.terminal import screen

run = running.run  # fixture

TWO = "Right wrist. No swelling. End of examination. Next patient. Left hand. Tenderness over the lunate."


def _nobody(prompt: str = "") -> str:
    raise EOFError


def test_two_patients_in_one_text_are_said_and_go_into_no_encounter(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "multi.txt").write_text(TWO, encoding="utf-8")
    assert run("draft", "multi.txt", "--out-dir", ".") == 0
    assert "multi.txt: another examination begins in it, 2 in all; put each into a text file" in capsys.readouterr().out
    assert run("review", "multi.draft.json", "--reviewer", "Dr A. Invented") == 3
    assert "speaks of 2 examinations, and is not taken into the store as one; put each" in capsys.readouterr().err
    monkeypatch.setenv("DICTATION_REVIEWER", "Dr A. Invented")
    (tmp_path / "one.txt").write_text("Right wrist. No swelling.", encoding="utf-8")
    assert run("draft", "multi.txt", "one.txt", "--out-dir", ".", "--encounter", "H-2041") == 3
    said = capsys.readouterr()
    assert "speaks of 2 examinations" in said.err
    assert said.out.count("In the store: encounter H-2041.") == 1  # the other file is kept all the same
    assert run("encounter", "show", "H-2041") == 0
    assert capsys.readouterr().out.count("Draft of") == 1


def test_a_name_is_asked_for_before_anything_is_drafted(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "one.txt").write_text("Right wrist. No swelling.", encoding="utf-8")
    monkeypatch.delenv("DICTATION_REVIEWER", raising=False)
    monkeypatch.setattr(screen, "ask", _nobody)
    assert run("draft", "one.txt", "--out-dir", ".", "--encounter", "H-2041") != 0
    assert not (tmp_path / "one.draft.json").exists()


def test_a_part_that_a_person_cut_is_known_by_its_sound(tmp_path: Path) -> None:
    (tmp_path / "clinic.parts").mkdir()
    (tmp_path / "clinic.parts" / "001.wav").write_bytes(b"sound")
    assert is_part(tmp_path / "clinic.001.draft.json")
    assert not is_part(tmp_path / "clinic.002.draft.json")
    assert not is_part(tmp_path / "clinic.draft.json")
