"""Walks a person through reading texts aloud: each is shown until its recording lies beside it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from dictation.terminal.showing import Tone
from dictation.voice_check import recording_of


def read_aloud(texts: Sequence[Path], ask: Callable[[str], str], show: Callable[[str, Tone], None]) -> None:
    """Show each text that has no recording yet and wait for it; "skip" leaves one out, "stop" the rest."""
    for number, text in enumerate(texts, 1):
        while recording_of(text) is None:
            show(f"{number} of {len(texts)}. Read aloud:", "heading")
            show(text.read_text(encoding="utf-8").strip(), "plain")
            answer = ask(f"Save the recording as {text.with_suffix('.wav')} and press Enter; or type skip, or stop: ")
            if answer.strip().casefold() == "stop":
                return
            if answer.strip().casefold() == "skip":
                break
