"""What every recogniser promises, tried on both with one set of expectations.

Whisper runs on the fixture model, so its texts come from that model's grammar (fixtures/whisper-fixture-synthetic).
The sounds are synthetic voices: these tests say nothing about people.
"""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from sounds_for_tests import sample_part

from dictation.audio import Samples, Segment, find_speech, read_audio
from dictation.lexicon.loading import load_lexicon
from dictation.recognition.choose import choose_recogniser
from dictation.recognition.protocol import Recogniser
from dictation.transcript import Transcript

pytestmark = pytest.mark.sound
FIXTURE = Path(__file__).parents[1] / "fixtures" / "whisper-fixture-synthetic"
SPOKEN = "There is a small scar over the right little finger. Tenderness on palpation of the right hand."
WORDS = SPOKEN.lower().replace(".", "").split()


@pytest.fixture(scope="module", params=["embedded", "whisper"])
def recogniser(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Recogniser:
    if request.param == "embedded":
        return choose_recogniser("embedded", load_lexicon(), cache_dir=tmp_path_factory.mktemp("cache"))
    return choose_recogniser("whisper", load_lexicon(), whisper_model=FIXTURE, fixture_allowed=True)


@pytest.fixture(scope="module")
def spoken(tmp_path_factory: pytest.TempPathFactory) -> Samples:
    """Two sentences in a synthetic voice, a second of silence before, between and after; words known."""
    if shutil.which("flite") is None:
        pytest.skip("flite is not installed; it speaks the sentences of this test")
    folder = tmp_path_factory.mktemp("spoken")
    silence = np.zeros(16_000, np.int16)
    parts = [silence]
    for i, sentence in enumerate(SPOKEN.split(". ")):
        path = folder / f"{i}.wav"
        subprocess.run(["flite", "-voice", "slt", "-t", sentence, "-o", str(path)], check=True)
        parts += [read_audio(path).pcm, silence]
    hiss = np.random.default_rng(2).normal(0, 12, sum(map(len, parts)))  # a room, not a computer
    return Samples((np.concatenate(parts) + hiss).astype(np.int16), "0" * 64)


def plain(transcript: Transcript) -> list[str]:
    return [w.said.lower().strip(".,") for w in transcript.words]


def test_says_which_it_is(recogniser: Recogniser) -> None:
    assert recogniser.name in ("embedded", "whisper")
    assert recogniser.model
    assert "/" not in recogniser.model, "no machine path in a record"


def test_hears_what_was_said_with_times_and_probabilities(recogniser: Recogniser, spoken: Samples) -> None:
    told: list[tuple[float, float]] = []
    heard = recogniser.recognise(spoken, find_speech(spoken), lambda done, whole: told.append((done, whole)))
    assert plain(heard) == WORDS
    assert told
    assert told == sorted(told)
    assert all(0 < done <= whole == spoken.duration_s for done, whole in told)
    for word in heard.words:
        assert word.start is not None
        assert word.end is not None
        assert word.probability is not None
        assert 0.0 <= word.start <= word.end <= spoken.duration_s
        assert 0.0 <= word.probability <= 1.0
    starts = [w.start or 0.0 for w in heard.words]
    assert starts == sorted(starts)
    assert heard.breaks >= {0, WORDS.index("tenderness")}
    # The second sentence starts a second of silence after the first: its first word stands there, not before.
    quiet = [s.start for s in find_speech(spoken)]
    assert starts[WORDS.index("tenderness")] == pytest.approx(quiet[-1], abs=0.4)


def test_the_same_again_whatever_was_heard_before(recogniser: Recogniser, spoken: Samples) -> None:
    first = recogniser.recognise(spoken, find_speech(spoken))
    other = sample_part("background_noise", 0, 8)
    recogniser.recognise(other, find_speech(other))
    assert recogniser.recognise(spoken, find_speech(spoken)) == first


def test_nothing_to_hear_gives_no_words(recogniser: Recogniser) -> None:
    draw = np.random.default_rng(1)
    for pcm in (np.zeros(48_000), draw.normal(0, 300, 48_000)):
        silent = Samples(pcm.astype(np.int16), "0" * 64)
        assert recogniser.recognise(silent, []).words == ()
        heard = recogniser.recognise(silent, [Segment(0.5, 2.5)])  # even where voice activity was wrong
        assert all((w.probability or 0) < 0.5 for w in heard.words)


def test_level_changes_no_word(recogniser: Recogniser, spoken: Samples) -> None:
    for gain in (0.1, 1.8):
        changed = Samples((spoken.pcm * gain).clip(-32768, 32767).astype(np.int16), "0" * 64)
        assert plain(recogniser.recognise(changed, find_speech(spoken))) == WORDS
