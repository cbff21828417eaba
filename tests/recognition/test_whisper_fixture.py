"""The faster-whisper path for real: text, segments, word times and probabilities of known utterances.

On the fixture model, which knows one made-up grammar; the sentences are in it and were kept out of its training. Synthetic
voices. How good the times are to be: fixtures/whisper-fixture-synthetic/README.md.
"""

from __future__ import annotations

from pathlib import Path
from statistics import median

import numpy as np
import pytest
from sounds_for_tests import sample_part
from spoken_for_tests import VOICES, KnownWord, spoken

from dictation.audio import Samples, find_speech
from dictation.lexicon.loading import load_lexicon
from dictation.recognition.listening import Listening
from dictation.recognition.whisper import WhisperRecogniser, _windows
from dictation.transcript import Transcript, joined

pytestmark = pytest.mark.sound
FIXTURE = Path(__file__).parents[1] / "fixtures" / "whisper-fixture-synthetic"
Heard = tuple[Transcript, list[KnownWord]]


@pytest.fixture(scope="module")
def recogniser() -> WhisperRecogniser:
    return WhisperRecogniser(load_lexicon(), FIXTURE, fixture_allowed=True)


@pytest.fixture(scope="module", params=VOICES)
def heard(request: pytest.FixtureRequest, recogniser: WhisperRecogniser) -> Heard:
    samples, known = spoken(request.param)
    return recogniser.recognise(samples, find_speech(samples)), known


def test_the_record_names_the_fixture_as_one_and_where_it_ran(recogniser: WhisperRecogniser) -> None:
    assert recogniser.model in {f"whisper-fixture-synthetic, {device}" for device in ("cpu int8", "cuda float16")}


def test_every_word_is_heard_and_written_as_whisper_writes(heard: Heard) -> None:
    transcript, known = heard
    assert [w.said for w in transcript.words] == [k.text for k in known]
    assert transcript.unread == ()


def test_each_sentence_begins_after_a_break(heard: Heard) -> None:
    transcript, known = heard
    first = {i for i, k in enumerate(known) if i == 0 or k.sentence != known[i - 1].sentence}
    assert len(first) == 4
    assert transcript.breaks == first


def test_word_times_are_right_within_a_tenth_of_a_second(heard: Heard) -> None:
    transcript, known = heard
    pairs = list(zip(transcript.words, known, strict=True))
    starts = [abs((w.start or 0.0) - k.start) for w, k in pairs]
    ends = [abs((w.end or 0.0) - k.end) for w, k in pairs]
    assert starts[0] < 0.3, "the first word of a clip takes the silence before it"
    assert median(starts) < 0.05
    assert median(ends) < 0.05
    late = [e for e in (*starts[1:], *ends) if e > 0.1]
    assert len(late) <= 2
    assert max(late, default=0) < 0.2


def test_right_words_are_sure(heard: Heard) -> None:
    sure = [w.probability or 0.0 for w in heard[0].words]
    assert min(sure) > 0.8
    assert sum(sure) / len(sure) > 0.95


@pytest.mark.parametrize("voice", VOICES)
def test_heard_live_segments_and_words_agree_with_those_of_the_file(recogniser: WhisperRecogniser, voice: str) -> None:
    """On these sentences; Whisper reads a file in longer windows than live, so that on others its words may differ."""
    samples, known = spoken(voice)
    segments = find_speech(samples)
    listening = Listening(recogniser.begin())
    live = [u for at in range(0, len(samples.pcm), 1600) for u in listening.push(samples.pcm[at : at + 1600])]
    live += listening.finish()
    assert [u.segment for u in live] == segments
    assert len(segments) > 1
    words = [w.said for u in live for w in u.transcript.words]
    assert words == [w.said for w in recogniser.recognise(samples, segments).words] == [k.text for k in known]


@pytest.fixture(scope="module")
def long_sound() -> Samples:
    """Eight of the known utterances after one another, three and a half minutes: windows enough for several batches."""
    parts = [spoken(voice)[0].pcm for voice in VOICES] * 4
    return Samples(np.concatenate(parts), "0" * 64)


def test_a_file_is_read_in_batches_with_the_words_of_its_windows_alone(
    recogniser: WhisperRecogniser, long_sound: Samples
) -> None:
    segments = find_speech(long_sound)
    told: list[float] = []
    together = recogniser.recognise(long_sound, segments, lambda done, _: told.append(done))
    alone = [recogniser._read_alone(long_sound, window) for window in _windows(segments)]
    assert 2 * len(told) <= len(alone), "several windows at once"
    assert told == sorted(told)
    assert told[-1] == segments[-1].end
    words = joined(alone).words
    assert [w.said for w in together.words] == [w.said for w in words]
    apart = [abs((a.start or 0) - (b.start or 0)) for a, b in zip(together.words, words, strict=True)]
    assert median(apart) < 0.02
    assert max(apart) < 0.2


def test_words_outside_its_grammar_are_less_sure(recogniser: WhisperRecogniser, heard: Heard) -> None:
    """Ordinary talk: the fixture makes words up, and its probabilities say so. None may be lost on the way."""
    samples = sample_part("small_talk_only", 0, 12)
    made_up = recogniser.recognise(samples, find_speech(samples))
    sure = [w.probability or 0.0 for w in made_up.words]
    assert len(sure) + len(made_up.unread) > 5
    assert sum(sure) / max(1, len(sure)) < sum(w.probability or 0.0 for w in heard[0].words) / len(heard[0].words) - 0.05
