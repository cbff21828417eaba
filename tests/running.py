"""Fixtures for the tests of the commands: run one in an empty folder, with a scripted pipeline behind it."""

from __future__ import annotations

import sys
import types
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from scripted import invented_examination

from dictation.cli import main
from dictation.errors import AudioError
from dictation.record import DraftRecord

Run = Callable[..., int]


@pytest.fixture
def pipeline(monkeypatch: pytest.MonkeyPatch) -> list[tuple[Any, ...]]:
    """Put a scripted pipeline in place of the real one; return what it was asked."""
    asked: list[tuple[Any, ...]] = []
    fake = types.ModuleType("dictation.pipeline")

    def draft_text(text: str, *, name: str = "text", settings: object = None, lexicon: object = None) -> DraftRecord:
        asked.append(("text", name, text))
        return invented_examination().draft()

    def draft_audio(
        path: Path, *, recogniser: str = "auto", settings: object = None, progress: Any = None, lexicon: object = None
    ) -> DraftRecord:
        asked.append(("audio", path.name, recogniser))
        if b"noise" in path.read_bytes():
            raise AudioError(f"{path.name} is not sound that can be read; record it again.")
        if progress:
            progress(30.0, 60.0)
        return invented_examination().draft()

    fake.draft_text, fake.draft_audio = draft_text, draft_audio  # type: ignore[attr-defined]  # a stand-in module
    monkeypatch.setitem(sys.modules, "dictation.pipeline", fake)
    return asked


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Run:
    """Run a command in an empty folder; return its exit code."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))

    def call(*args: str) -> int:
        with pytest.raises(SystemExit) as caught:
            main(list(args))
        assert isinstance(caught.value.code, int)
        return caught.value.code

    return call


def one_sentence(err: str) -> None:
    """Fail unless stderr, progress lines aside, is one sentence and no traceback."""
    lines = [line for line in err.splitlines() if line and not line.startswith("Drafting ")]
    assert len(lines) == 1, err
    assert "Traceback" not in err
    assert lines[0].rstrip().endswith(".")
