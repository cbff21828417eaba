"""A recogniser for tests of the process around it: each utterance is one word, the number of its samples.

In a module of its own so that the other process can find it.
"""

from __future__ import annotations

import time

import numpy as np
from numpy.typing import NDArray

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


def slow() -> Counting:
    return Counting(60.0)


class Faulty(Counting):
    def utterance(self, pcm: NDArray[np.int16], start_s: float) -> Transcript:
        raise ValueError("something said by a patient")


def unavailable() -> Counting:
    raise RecogniserUnavailable("No Whisper model is set up; fetch one.")
