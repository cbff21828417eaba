"""Whisper's words set against the phone loop: where the two do not agree, a word is trusted less.

Whisper is as sure of words it makes up as of words it hears. The loop knows no words, so what it heard in the same span says
whether the sound was there. It only ever lowers a probability. Chosen on the test fixture's words in synthetic voices, right
and made up (tests/recognition/test_second_reading.py); not tried on people.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from dictation.audio import RATE_HZ, Segment
from dictation.lexicon.spoken_numbers import ways_to_say
from dictation.recognition.agreement import Phone, phones_between
from dictation.recognition.phone_loop import loop_decoder, loop_phones
from dictation.recognition.sphinx import FRAMES_PER_S, levelled
from dictation.sounds import Pronunciation, Sounds
from dictation.transcript import Transcript, Word

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from dictation.lexicon.entries import Lexicon

HALF = 0.65  # distance, of a word and of it with its neighbours, at which it is as likely made up as heard
STEEP = 12.0
SHORT_S = 0.2  # a shorter word is judged with its neighbours alone: its times are too rough


class SecondReading:
    """See the module. Loads the loop's decoder, about 40 MB."""

    def __init__(self, lexicon: Lexicon) -> None:
        self._sounds = Sounds(lexicon)
        self._loop: Any = loop_decoder()

    def weigh(self, pcm: NDArray[np.int16], window: Sequence[Segment], found: Transcript) -> Transcript:
        """Return the transcript of a window with its words weighed and the loop's phones as second reading.

        pcm: int16, from the start of the window's first segment to the end of its last.
        """
        loop: list[Phone] = []
        for segment in window:
            offset = segment.start - window[0].start
            part = pcm[round(offset * RATE_HZ) : round((segment.end - window[0].start) * RATE_HZ)]
            at = round(segment.start * FRAMES_PER_S)
            loop += [Phone(p.name, at + p.start, at + p.end) for p in loop_phones(self._loop, levelled(part))]
        distances = [self._distance(word, loop) for word in found.words]
        words = tuple(_trusted(word, distances, i) for i, word in enumerate(found.words))
        second = tuple(Word(p.name, p.start / FRAMES_PER_S, p.end / FRAMES_PER_S) for p in loop if p.name != "SIL")
        return replace(found, words=words, second_reading=second)

    def _distance(self, word: Word, loop: Sequence[Phone]) -> float | None:
        """How unlike a word and the loop's phones in its span are; None for a word that says nothing."""
        said = self._said(word.said)
        if not said:
            return None
        heard = phones_between(loop, (word.start or 0.0) * FRAMES_PER_S, (word.end or 0.0) * FRAMES_PER_S)
        return min(self._sounds.distance(one, heard) for one in said)

    def _said(self, word: str) -> tuple[Pronunciation, ...]:
        """Whisper writes 70 and 70°: those are said as numbers."""
        number = re.fullmatch(r"(\d{1,3})\W*", word)
        if number is None:
            return self._sounds.pronounce(word)
        ways = ways_to_say(int(number[1]))
        return tuple(tuple(p for part in way.split() for p in self._sounds.pronounce(part)[0]) for way in ways)


def _trusted(word: Word, distances: Sequence[float | None], i: int) -> Word:
    near = [d for d in distances[max(0, i - 1) : i + 2] if d is not None]
    own = distances[i]
    if word.probability is None or own is None:
        return word
    around = sum(near) / len(near)
    apart = around if (word.end or 0.0) - (word.start or 0.0) < SHORT_S else (own + around) / 2
    agreed = 1 / (1 + math.exp(STEEP * (apart - HALF)))
    return replace(word, probability=round(min(word.probability, agreed), 3))
