"""A recording as it comes in gives the segments and words of the same sound in a file, however it is cut into bits."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pytest
from numpy.typing import NDArray
from sounds_for_tests import sample_part

from dictation.audio import FRAME, PAUSE_S, RATE_HZ, Samples, find_speech
from dictation.recognition import listening
from dictation.recognition.denoise import QUIET_S
from dictation.recognition.listening import Listening, Utterance, WordsSoFar
from dictation.transcript import Transcript, Word


class Recorder:
    """A listener that keeps what it was given, and says how long the sound was."""

    def __init__(self) -> None:
        self.heard: list[tuple[str, bytes]] = []
        self.followed: list[int] = []

    def quiet(self, pcm: NDArray[np.int16]) -> None:
        self.heard.append(("quiet", pcm.tobytes()))

    def utterance(self, pcm: NDArray[np.int16], start_s: float) -> Transcript:
        self.heard.append(("utterance", pcm.tobytes()))
        return Transcript((Word(str(len(pcm)), start_s),), frozenset({0}))

    def follow(self, pcm: NDArray[np.int16], fresh: bool) -> tuple[str, ...]:
        self.followed.append(len(pcm) if fresh else self.followed[-1] + len(pcm))
        return (str(self.followed[-1]),)


def bits(samples: Samples, size: int) -> Iterable[NDArray[np.int16]]:
    return (samples.pcm[at : at + size] for at in range(0, len(samples.pcm), size))


def stream(samples: Samples, size: int, ahead: bool) -> tuple[list[Utterance], Recorder]:
    recorder, found = Recorder(), []
    live = Listening(recorder)
    for bit in bits(samples, size):
        found += live.push(bit)
        if ahead:
            live.ahead()
    return found + list(live.finish()), recorder


def as_a_file(samples: Samples) -> list[tuple[str, bytes]]:
    """What a recogniser of files gives its listener."""
    heard, ended = [], 0.0
    for s in find_speech(samples):
        heard.append(("quiet", samples.part(max(ended, s.start - QUIET_S), s.start).tobytes()))
        heard.append(("utterance", samples.part(s.start, s.end).tobytes()))
        ended = s.end
    return heard


@pytest.mark.parametrize("size", [160, 1600, 7001, 64_000])
def test_the_same_utterances_and_quiet_as_from_a_file(size: int) -> None:
    samples = sample_part("self_corrections", 0, 25)
    found, recorder = stream(samples, size, ahead=False)
    assert [u.segment for u in found] == find_speech(samples)
    assert len(found) > 4
    assert recorder.heard == as_a_file(samples)


@pytest.mark.parametrize("size", [512, 1600])
def test_reading_ahead_changes_no_result(size: int) -> None:
    samples = sample_part("small_talk_between", 0, 25)
    found, recorder = stream(samples, size, ahead=True)
    plain, _ = stream(samples, size, ahead=False)
    assert found == plain
    quiet = [sound for kind, sound in recorder.heard if kind == "quiet"]
    assert quiet == [sound for kind, sound in as_a_file(samples) if kind == "quiet"], "each quiet is given once"
    assert recorder.followed


def test_an_utterance_is_there_after_its_silence_and_read_before_it() -> None:
    samples = sample_part("self_corrections", 0, 8)
    first = find_speech(samples)[0]
    recorder = Recorder()
    live = Listening(recorder)
    read_at = given_at = 0.0
    for number, bit in enumerate(bits(samples, FRAME)):
        at = (number + 1) * FRAME / RATE_HZ
        if list(live.push(bit)):
            given_at = at
            break
        if live.ahead() and any(kind == "utterance" for kind, _ in recorder.heard):
            read_at = read_at or at
    last_speech = first.end - 0.2
    assert given_at - last_speech <= 0.4 + 1e-6
    assert PAUSE_S <= 0.4
    assert last_speech < read_at < given_at


def test_words_so_far_grow_and_begin_afresh_with_each_utterance() -> None:
    samples = sample_part("self_corrections", 0, 12)
    live = Listening(Recorder())
    guesses: list[WordsSoFar] = []
    for bit in bits(samples, 1600):
        list(live.push(bit))
        guess = live.ahead()
        if guess is not None:
            guesses.append(guess)
    begins = [s.start for s in find_speech(samples)]
    assert len({g.start for g in guesses} & set(begins)) >= 3
    of_first = [int(g.words[0]) for g in guesses if g.start == begins[0]]
    assert of_first == sorted(of_first)


def test_memory_is_bounded_through_long_silence_and_long_speech() -> None:
    live = Listening(Recorder())
    draw = np.random.default_rng(3)
    speech = sample_part("self_corrections", 2, 4).pcm
    most = 0
    for _ in range(60):
        list(live.push(draw.normal(0, 5, 32_000).astype(np.int16)))
        most = max(most, len(live._pcm))
    assert most <= listening.KEPT_QUIET + 2 * 32_000
    assert live.read_to >= 60 * 32_000 - 2 * RATE_HZ, "silence is done with"
    for _ in range(60):  # two minutes with hardly a pause
        list(live.push(speech))
        most = max(most, len(live._pcm))
    assert most <= listening.KEPT_QUIET + 30 * RATE_HZ


def test_nothing_spoken_gives_nothing() -> None:
    live = Listening(Recorder())
    assert list(live.push(np.zeros(50_000, np.int16))) == []
    assert live.ahead() is None
    assert list(live.finish()) == []
