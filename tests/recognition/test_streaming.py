"""Live recognition in a process of its own: words come, nothing blocks, and no sound is lost when the process dies."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable
from functools import partial

import numpy as np
import pytest
from scripted_recogniser import Counting, Faulty, slow, unavailable
from sounds_for_tests import sample_part
from spoken_for_tests import spoken

from dictation.audio import RATE_HZ, Samples, find_speech
from dictation.errors import RecogniserStopped, RecogniserUnavailable
from dictation.lexicon.loading import load_lexicon
from dictation.recognition.choose import choose_recogniser
from dictation.recognition.listening import Utterance, WordsSoFar
from dictation.recognition.streaming import Event, Stream
from dictation.transcript import joined


def pushed(stream: Stream, samples: Samples, size: int = 1600) -> None:
    for at in range(0, len(samples.pcm), size):
        stream.push(samples.pcm[at : at + size])


def utterances(events: list[Event]) -> list[Utterance]:
    return [e for e in events if isinstance(e, Utterance)]


def wait_for(stream: Stream, wanted: Callable[[list[Event]], bool], limit_s: float = 60.0) -> list[Event]:
    events: list[Event] = []
    until = time.monotonic() + limit_s
    while not wanted(events):
        assert time.monotonic() < until, "nothing came"
        events += stream.take(0.1)
    return events


@pytest.fixture(scope="module")
def samples() -> Samples:
    return sample_part("self_corrections", 0, 12)


def test_utterances_come_in_order_and_the_rest_at_the_end(samples: Samples) -> None:
    with Stream(Counting) as stream:
        pushed(stream, samples)
        found = utterances(stream.finish(60))
        assert [u.segment for u in found] == find_speech(samples)
        assert [u.transcript.words[0].said for u in found] == [
            str(len(samples.part(s.start, s.end))) for s in find_speech(samples)
        ]
        assert len(stream.unread()[1]) == 0
        assert stream.take() == []


def test_words_so_far_come_while_somebody_speaks(samples: Samples) -> None:
    segment = find_speech(samples)[0]
    with Stream(Counting) as stream:
        stream.push(samples.part(0, (segment.start + segment.end) / 2))
        events = wait_for(stream, bool)
        assert events[0] == WordsSoFar(segment.start, ("so", "far"))
        assert stream.behind_s > 0


def test_pushing_never_waits_for_the_decoder(samples: Samples) -> None:
    with Stream(slow) as stream:  # takes a minute over an utterance
        began = time.monotonic()
        pushed(stream, Samples(np.tile(samples.pcm, 10), samples.sha256))  # two minutes: far more than a pipe holds
        assert time.monotonic() - began < 5
        began = time.monotonic()
        stream.cancel()
        assert time.monotonic() - began < 5, "cancelled in the middle of an utterance"
        with pytest.raises(RecogniserStopped, match="cancelled"):
            stream.push(samples.pcm)


def test_a_killed_process_is_a_clear_error_and_no_sound_is_lost(samples: Samples) -> None:
    segments = find_speech(samples)
    half = round((segments[2].end + segments[3].start) / 2 * RATE_HZ)  # in the silence after the third
    with Stream(Counting) as stream:
        stream.push(samples.pcm[:half])
        stream.push(samples.pcm[half : half + 24_000])
        before = utterances(wait_for(stream, lambda e: len(utterances(e)) >= 3))
        assert stream.pid is not None
        os.kill(stream.pid, signal.SIGKILL)
        with pytest.raises(RecogniserStopped, match="sound since its last utterance is kept"):
            wait_for(stream, lambda _: False, 10)
        with pytest.raises(RecogniserStopped):
            stream.push(samples.pcm[:1600])
        start_s, kept = stream.unread()
    assert start_s >= before[-1].segment.end - 1.1
    assert start_s * RATE_HZ + len(kept) == half + 24_000, "all that was pushed, to the last sample"
    with Stream(Counting) as again:
        again.push(kept)
        again.push(samples.pcm[half + 24_000 :])
        after = utterances(again.finish(60))
    assert [u.segment.end + start_s for u in after] == pytest.approx([s.end for s in segments[len(before) :]], abs=0.1)


def test_memory_of_the_caller_stays_bounded_in_silence() -> None:
    with Stream(Counting) as stream:
        for _ in range(20):
            stream.push(np.zeros(RATE_HZ * 10, np.int16))
        until = time.monotonic() + 60
        while stream.behind_s > 3 and time.monotonic() < until:
            stream.take(0.1)
        assert stream.behind_s <= 3


def test_a_recogniser_that_cannot_begin_says_so_as_itself(samples: Samples) -> None:
    with Stream(unavailable) as stream, pytest.raises(RecogniserUnavailable, match="No Whisper model is set up"):
        wait_for(stream, lambda _: False)


def test_a_fault_in_the_other_process_quotes_nothing_that_was_said(samples: Samples) -> None:
    with Stream(Faulty) as stream:
        stream.push(samples.pcm)
        with pytest.raises(RecogniserStopped, match="fault in the program") as caught:
            wait_for(stream, lambda _: False)
    assert "patient" not in str(caught.value)


@pytest.mark.sound
def test_final_words_are_those_of_a_file(samples: Samples) -> None:
    """Both readings, times and probabilities included: the embedded recogniser on the same sound."""
    lexicon = load_lexicon()
    whole = choose_recogniser("embedded", lexicon).recognise(samples, find_speech(samples))
    with Stream(partial(choose_recogniser, "embedded", lexicon)) as stream:
        pushed(stream, samples, 1111)
        events = stream.finish(300)
    assert joined(u.transcript for u in utterances(events)) == whole
    assert len(whole.words) > 10


@pytest.mark.sound
def test_words_so_far_become_the_final_words() -> None:
    sound, known = spoken("slt")
    with Stream(partial(choose_recogniser, "embedded", load_lexicon())) as stream:
        stream.push(sound.part(0, known[8].end))  # "... right middle", still speaking
        events = wait_for(stream, bool, 300)
    assert isinstance(events[-1], WordsSoFar)
    assert {"mild", "fingertip"} & set(events[-1].words)
