"""The command that listens, whole: a sample played in the microphone's place, kept, drafted, and the same as its file."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from sounds_for_tests import SAMPLES

from dictation.cli import main
from dictation.pipeline import draft_audio
from dictation.record import parse_draft
from dictation.settings import Settings
from dictation.store.sound import find_sound
from dictation.store.store import open_store


@pytest.mark.sound
def test_what_live_dictation_ends_with_is_what_drafting_its_sound_gives(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    typed = iter(["", "e"])

    def answer(prompt: str) -> str:
        import time

        if prompt == "":
            time.sleep(15)
        return next(typed)

    monkeypatch.setattr("builtins.input", answer)
    with pytest.raises(SystemExit) as caught:
        main(["--store", str(tmp_path / "store"), "listen", "H-2041", "--who", "R. Invented", "--consent", "--from",
              str(SAMPLES / "self_corrections.opus")])  # fmt: skip
    assert caught.value.code == 0
    out = capsys.readouterr().out
    assert "Side now: RIGHT" in out
    assert re.search(r"Marked at 0:1\d\.", out)
    assert "For review: dictation review H-2041" in out
    store = open_store(tmp_path / "store")
    encounter = store.encounter("H-2041")
    (sha256,) = encounter.facts.drafts
    live = parse_draft(encounter.draft_content(sha256), "draft")
    sound = find_sound(encounter, live.source.sha256)
    assert sound.path is not None
    settings = Settings(tmp_path / "data", tmp_path / "store", tmp_path / "cache", recogniser="embedded")
    again = draft_audio(sound.path, settings=settings)
    store.close()
    assert len(live.fields) >= 3
    assert live.model_dump(exclude={"source": {"name"}}) == again.model_dump(exclude={"source": {"name"}})
