"""What every recogniser promises, tried on both with one set of expectations.

Whisper runs on the fixture model, so its texts come from that model's grammar (fixtures/whisper-fixture-synthetic).
The sounds are synthetic voices: these tests say nothing about people.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from sounds_for_tests import sample_part
from spoken_for_tests import KnownWord, plain, spoken

from dictation.audio import Samples, Segment, find_speech
from dictation.lexicon.loading import load_lexicon
from dictation.recognition.choose import choose_recogniser
from dictation.recognition.protocol import Recogniser
from dictation.transcript import Transcript

pytestmark = pytest.mark.sound
FIXTURE = Path(__file__).parents[1] / "fixtures" / "whisper-fixture-synthetic"
TIME_S = 0.1
FIRST_TIME_S = 0.3  # Whisper gives the first word of a clip the silence before it
PARTS = ((1, 4.4, 11.2), (3, 16.3, 20.2))  # sentence, and where in the sound of the voice slt it stands


@pytest.fixture(scope="module", params=["embedded", "whisper"])
def recogniser(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Recogniser:
    if request.param == "embedded":
        return choose_recogniser("embedded", load_lexicon(), cache_dir=tmp_path_factory.mktemp("cache"))
    return choose_recogniser("whisper", load_lexicon(), whisper_model=FIXTURE, fixture_allowed=True)


@pytest.fixture(scope="module")
def sound() -> Samples:
    """Two sentences in a synthetic voice, silence around them."""
    whole, _ = spoken("slt")
    return Samples(np.concatenate([whole.part(start, end) for _, start, end in PARTS]), whole.sha256)


@pytest.fixture(scope="module")
def known() -> list[KnownWord]:
    """The words of the sound, with their times in it."""
    _, words = spoken("slt")
    found, at = [], 0.0
    for number, start, end in PARTS:
        found += [KnownWord(number, w.text, w.start - start + at, w.end - start + at) for w in words if w.sentence == number]
        at += end - start
    return found


def said(transcript: Transcript) -> list[str]:
    return [plain(w.said) for w in transcript.words]


def test_says_which_it_is(recogniser: Recogniser) -> None:
    assert recogniser.name in ("embedded", "whisper")
    assert recogniser.model
    assert "/" not in recogniser.model, "no machine path in a record"


def test_hears_what_was_said_with_times_and_probabilities(
    recogniser: Recogniser, sound: Samples, known: list[KnownWord]
) -> None:
    told: list[tuple[float, float]] = []
    heard = recogniser.recognise(sound, find_speech(sound), lambda done, whole: told.append((done, whole)))
    assert said(heard) == [plain(k.text) for k in known]
    assert told
    assert told == sorted(told)
    assert all(0 < done <= whole == sound.duration_s for done, whole in told)
    second = next(i for i, k in enumerate(known) if k.sentence != known[0].sentence)
    for i, (word, k) in enumerate(zip(heard.words, known, strict=True)):
        assert word.start is not None
        assert word.end is not None
        assert word.probability is not None
        assert 0.0 <= word.start <= word.end <= sound.duration_s
        assert 0.0 <= word.probability <= 1.0
        assert word.start == pytest.approx(k.start, abs=FIRST_TIME_S if i in (0, second) else TIME_S)
        assert word.end == pytest.approx(k.end, abs=TIME_S)
    starts = [w.start or 0.0 for w in heard.words]
    assert starts == sorted(starts)
    assert heard.breaks >= {0, second}


def test_the_same_again_whatever_was_heard_before(recogniser: Recogniser, sound: Samples) -> None:
    first = recogniser.recognise(sound, find_speech(sound))
    other = sample_part("background_noise", 0, 8)
    recogniser.recognise(other, find_speech(other))
    assert recogniser.recognise(sound, find_speech(sound)) == first


def test_nothing_to_hear_gives_no_words(recogniser: Recogniser) -> None:
    draw = np.random.default_rng(1)
    for pcm in (np.zeros(48_000), draw.normal(0, 300, 48_000)):
        silent = Samples(pcm.astype(np.int16), "0" * 64)
        assert recogniser.recognise(silent, []).words == ()
        heard = recogniser.recognise(silent, [Segment(0.5, 2.5)])  # even where voice activity was wrong
        assert all((w.probability or 0) < 0.5 for w in heard.words)


def test_level_changes_no_word(recogniser: Recogniser, sound: Samples, known: list[KnownWord]) -> None:
    for gain in (0.1, 1.8):
        changed = Samples((sound.pcm * gain).clip(-32768, 32767).astype(np.int16), "0" * 64)
        assert said(recogniser.recognise(changed, find_speech(sound))) == [plain(k.text) for k in known]
