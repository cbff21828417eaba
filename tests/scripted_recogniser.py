"""A recogniser for tests of the process around it: each utterance is one word, the number of its samples.

In a module of its own so that the other process can find it.
"""

from __future__ import annotations

import time

import numpy as np
from numpy.typing import NDArray

from dictation.audio import RATE_HZ
from dictation.errors import RecogniserUnavailable
from dictation.transcript import Transcript, Word


class Counting:
    """Stands for a recogniser and its listener at once. slow_s: how long an utterance takes."""

    name = "scripted"
    model = None

    def __init__(self, slow_s: float = 0.0) -> None:
        self.slow_s = slow_s

    def begin(self) -> Counting:
        return self

    def quiet(self, pcm: NDArray[np.int16]) -> None: ...

    def utterance(self, pcm: NDArray[np.int16], start_s: float) -> Transcript:
        time.sleep(self.slow_s)
        return Transcript((Word(str(len(pcm)), start_s),), frozenset({0}))

    def follow(self, pcm: NDArray[np.int16], fresh: bool) -> tuple[str, ...]:
        return ("so", "far")


class Saying(Counting):
    """Each utterance is the same words, evenly over its sound."""

    def __init__(self, words: tuple[str, ...]) -> None:
        super().__init__()
        self.words = words

    def begin(self) -> Saying:
        return self

    def utterance(self, pcm: NDArray[np.int16], start_s: float) -> Transcript:
        step = len(pcm) / RATE_HZ / len(self.words)
        times = [start_s + i * step for i in range(len(self.words) + 1)]
        said = tuple(Word(word, times[i], times[i + 1], 0.99) for i, word in enumerate(self.words))
        return Transcript(said, frozenset({0}))


def saying() -> Saying:
    return Saying(("left", "wrist", "swelling"))


def chosen(*_: object, **__: object) -> Saying:
    """In the place of the function that chooses a recogniser."""
    return saying()


def slow() -> Counting:
    return Counting(60.0)


class Faulty(Counting):
    def utterance(self, pcm: NDArray[np.int16], start_s: float) -> Transcript:
        raise ValueError("something said by a patient")


def unavailable() -> Counting:
    raise RecogniserUnavailable("No Whisper model is set up; fetch one.")
