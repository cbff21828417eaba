"""Sentences in synthetic voices whose words and times are known (fixtures/spoken-synthetic)."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

from dictation.audio import Samples, read_audio

SPOKEN = Path(__file__).parent / "fixtures" / "spoken-synthetic"
VOICES = ("rms", "slt")


@dataclass(frozen=True, slots=True)
class KnownWord:
    """One word as the synthesiser placed it. sentence: its number. start, end: seconds from the start of the sound."""

    sentence: int
    text: str
    start: float
    end: float


def spoken(voice: str) -> tuple[Samples, list[KnownWord]]:
    """Return the sound of a voice and its words."""
    rows = json.loads((SPOKEN / "words.json").read_text(encoding="utf-8"))[voice]
    return read_audio(SPOKEN / f"{voice}.opus"), [KnownWord(*row) for row in rows]


def plain(word: str) -> str:
    """Return a word without capitals and stops, which recognisers set or not."""
    return word.lower().strip(".,")
