"""Walks a person through reading texts aloud: each is shown until its recording lies beside it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from dictation.errors import InputError
from dictation.terminal.showing import Tone
from dictation.voice_check import recordings_of, true_text


def read_aloud(texts: Sequence[Path], ask: Callable[[str], str], show: Callable[[str, Tone], None]) -> None:
    """Show each text that has no recording yet and wait for it; "skip" leaves one out, "stop" the rest."""
    for number, text in enumerate(texts, 1):
        if recordings_of(text):
            continue
        try:
            said = true_text(text).strip()
        except InputError as err:
            show(str(err), "doubt")
            continue
        show(f"{number} of {len(texts)}. Read aloud:", "heading")
        show(said, "plain")
        answer = ""
        while not recordings_of(text) and answer != "skip":
            answer = ask(f"Save the recording as {text.with_suffix('.wav')} and press Enter; or type skip, or stop: ")
            answer = answer.strip().casefold()
            if answer == "stop":
                return
            if answer != "skip" and not recordings_of(text):
                show(f"There is no recording {text.stem} in {text.parent} yet, of whatever ending.", "doubt")
