"""A dictation going on: what is kept, what comes of a recogniser that dies, of a program that dies, and of a pause."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from scripted_recogniser import Counting, saying, unavailable
from sounds_for_tests import sample_part

from dictation.audio import RATE_HZ, Samples, find_speech, read_audio
from dictation.lexicon.loading import load_lexicon
from dictation.live.dictating import AGAIN, KEPT_ON, PAUSE, Dictating, Now
from dictation.live.kept import Kept
from dictation.pipeline import draft_so_far
from dictation.record import DraftRecord, Side
from dictation.transcript import Transcript

PIECE = 1600


def drafting(heard: Transcript, duration_s: float, by: tuple[str, str | None]) -> tuple[DraftRecord, tuple[Side, ...]]:
    return draft_so_far(heard, "test", duration_s, by, load_lexicon())


def wait_for(dictating: Dictating, wanted: Callable[[Now], bool], limit_s: float = 30.0) -> Now:
    until = time.monotonic() + limit_s
    while not wanted(dictating.now):
        assert time.monotonic() < until, f"it did not come to that: {dictating.now}"
        time.sleep(0.02)
    return dictating.now


def pushed(dictating: Dictating, pcm: np.ndarray) -> None:
    for at in range(0, len(pcm), PIECE):
        dictating.push(pcm[at : at + PIECE])


def ended(dictating: Dictating) -> Now:
    dictating.finish()
    assert dictating.wait(60)
    return dictating.now


@pytest.fixture(scope="module")
def samples() -> Samples:
    return sample_part("self_corrections", 0, 12)


def test_what_is_heard_live_is_what_a_file_of_it_holds(tmp_path: Path, samples: Samples) -> None:
    told: list[Now] = []
    half = round((find_speech(samples)[0].start + find_speech(samples)[0].end) / 2 * RATE_HZ)
    with Dictating(Kept(tmp_path / "one"), Counting, drafting, told.append) as dictating:
        pushed(dictating, samples.pcm[:half])
        wait_for(dictating, lambda now: now.so_far == ("so", "far"))  # words come while somebody speaks
        pushed(dictating, samples.pcm[half:])
        last = ended(dictating)
        assert dictating.all_read
        assert dictating.recogniser == ("scripted", None)
    assert (last.state, dictating.segments()) == ("ended", find_speech(samples))
    assert [n.version for n in told] == sorted(n.version for n in told)
    assert any(n.so_far for n in told)
    kept = read_audio(tmp_path / "one" / "one.wav")
    assert np.array_equal(kept.pcm, samples.pcm), "every sample, and a head that says how many"


def test_the_file_can_be_heard_at_any_moment(tmp_path: Path, samples: Samples) -> None:
    with Dictating(Kept(tmp_path / "one"), Counting, drafting) as dictating:
        dictating.push(samples.pcm[:RATE_HZ])
        assert np.array_equal(read_audio(tmp_path / "one" / "one.wav").pcm, samples.pcm[:RATE_HZ])


def test_a_recogniser_that_is_killed_is_started_again_and_nothing_is_lost(tmp_path: Path, samples: Samples) -> None:
    segments = find_speech(samples)
    half = round((segments[2].end + segments[3].start) / 2 * RATE_HZ)
    with Dictating(Kept(tmp_path / "one"), Counting, drafting) as dictating:
        pushed(dictating, samples.pcm[: half + 24_000])
        wait_for(dictating, lambda now: len(now.utterances) >= 3)
        os.kill(_decoder(), signal.SIGKILL)
        wait_for(dictating, lambda now: now.message == AGAIN)
        pushed(dictating, samples.pcm[half + 24_000 :])
        last = ended(dictating)
        assert dictating.all_read
    assert [u.segment.end for u in last.utterances] == pytest.approx([s.end for s in segments], abs=0.15)
    assert [m.what for m in last.marks] == ["recogniser started again"]
    starts = [u.transcript.words[0].start for u in last.utterances]
    assert starts == sorted(starts), "times stay those of the whole recording"


def test_without_a_recogniser_the_sound_is_kept_and_it_is_said(tmp_path: Path, samples: Samples) -> None:
    with Dictating(Kept(tmp_path / "one"), unavailable, drafting) as dictating:
        pushed(dictating, samples.pcm[:RATE_HZ])
        wait_for(dictating, lambda now: now.message == KEPT_ON)
        pushed(dictating, samples.pcm[RATE_HZ:])
        assert ended(dictating).message == KEPT_ON
        assert not dictating.all_read
    assert np.array_equal(read_audio(tmp_path / "one" / "one.wav").pcm, samples.pcm)


def test_a_pause_keeps_no_sound_and_parts_what_is_said_around_it(tmp_path: Path, samples: Samples) -> None:
    first = find_speech(samples)[0]
    middle = round((first.start + first.end) / 2 * RATE_HZ)
    with Dictating(Kept(tmp_path / "one"), Counting, drafting) as dictating:
        dictating.push(samples.pcm[:middle])
        dictating.pause()
        dictating.push(samples.pcm[:RATE_HZ])
        assert dictating.now.recorded_s == (middle + len(PAUSE)) / RATE_HZ
        dictating.go_on()
        dictating.mark()
        pushed(dictating, samples.pcm[middle:])
        last = ended(dictating)
    assert len(last.utterances) == len(find_speech(samples)) + 1
    at = (middle + len(PAUSE)) / RATE_HZ
    assert [m.what for m in last.marks] == ["paused", "went on", "marked"]
    assert {m.at for m in last.marks} == {round(at, 2)}


def test_a_dictation_broken_off_is_taken_up_where_it_stopped(tmp_path: Path, samples: Samples) -> None:
    half = len(samples.pcm) // 2
    with Dictating(Kept(tmp_path / "one"), Counting, drafting) as dictating:
        pushed(dictating, samples.pcm[:half])
        wait_for(dictating, lambda now: len(now.utterances) >= 2)
        before = dictating.now.utterances  # left without finish, as by a crash
    with (tmp_path / "one" / "heard.jsonl").open("ab") as file:
        file.write(b'{"segment": {"sta')  # half a line
    with (tmp_path / "one" / "one.wav").open("ab") as file:
        file.write(b"\x01")  # half a sample
    with Dictating(Kept(tmp_path / "one"), Counting, drafting) as again:
        wait_for(again, lambda now: now.draft is not None)
        assert again.now.utterances[: len(before)] == before
        pushed(again, samples.pcm[half:])
        last = ended(again)
    assert [u.segment.end for u in last.utterances] == pytest.approx([s.end for s in find_speech(samples)], abs=0.15)
    assert np.array_equal(read_audio(tmp_path / "one" / "one.wav").pcm, samples.pcm)
    assert "taken up again" in [m.what for m in last.marks]


def test_the_draft_follows_what_is_said_and_names_the_side_in_force(tmp_path: Path, samples: Samples) -> None:
    with Dictating(Kept(tmp_path / "one"), saying, drafting) as dictating:
        pushed(dictating, samples.pcm[: 6 * RATE_HZ])
        now = wait_for(dictating, lambda now: now.draft is not None)
    assert now.sides == ("left",)
    assert now.draft is not None
    assert next((f.concept, f.side, f.joint) for f in now.draft.fields) == ("swelling", "left", "wrist")


def test_a_full_disk_is_said_and_what_was_kept_stays_whole(tmp_path: Path, samples: Samples) -> None:
    kept = Kept(tmp_path / "one")
    kept.add(samples.pcm[:RATE_HZ])
    import resource

    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    ignored = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (2 * RATE_HZ + 44 + 1001, before[1]))
    try:
        with pytest.raises(Exception, match="free some space"):
            kept.add(samples.pcm[:RATE_HZ])
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        signal.signal(signal.SIGXFSZ, ignored)
    kept.add(samples.pcm[RATE_HZ : 2 * RATE_HZ])
    kept.close()
    assert np.array_equal(read_audio(kept.path).pcm, samples.pcm[: 2 * RATE_HZ])


def _decoder() -> int:
    """The process that decodes: the only child there is."""
    import multiprocessing

    (child,) = multiprocessing.active_children()
    assert child.pid is not None
    return child.pid
