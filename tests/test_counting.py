"""One statement is no "1 statements"."""

from __future__ import annotations

from pathlib import Path

import pytest
import running
from running import Run

from dictation.counting import counted

run = running.run  # fixture


@pytest.mark.parametrize(("number", "words"), [(0, "0 statements"), (1, "1 statement"), (2, "2 statements")])
def test_the_noun_goes_with_the_number(number: int, words: str) -> None:
    assert counted(number, "statement") == words


def test_a_noun_of_another_kind() -> None:
    assert [counted(n, "stretch", "stretches") for n in (1, 3)] == ["1 stretch", "3 stretches"]


def test_a_draft_of_one_statement_says_so(run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "a.txt").write_text("Left wrist swollen.", encoding="utf-8")
    assert run("draft", "a.txt", "--out-dir", "drafts") == 0
    assert "a.draft.json: 1 statement, 0 to check first, 0 stretches of speech" in capsys.readouterr().out
