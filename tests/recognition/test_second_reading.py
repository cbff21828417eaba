"""Whisper's words set against the phone loop: right words keep their probability, made-up ones lose it.

On the fixture model, which reads its grammar right and makes up words for ordinary talk. Synthetic voices.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from sounds_for_tests import sample_part
from spoken_for_tests import VOICES, spoken

from dictation.audio import find_speech
from dictation.checks import LOW_PROBABILITY
from dictation.lexicon.loading import load_lexicon
from dictation.recognition.agreement import Phone
from dictation.recognition.second_reading import SecondReading, _trusted
from dictation.recognition.whisper import WhisperRecogniser
from dictation.sounds import Sounds
from dictation.transcript import Word

FIXTURE = Path(__file__).parents[1] / "fixtures" / "whisper-fixture-synthetic"


@pytest.mark.parametrize(("distances", "most"), [([0.1, 0.1, 0.2], 0.9), ([0.6, 0.8, 0.7], 0.3), ([0.1, 0.9, 0.2], 0.9)])
def test_it_never_raises_and_lowers_more_where_the_neighbours_agree_that_it_is_wrong(
    distances: list[float], most: float
) -> None:
    word = Word("crepitus", 1.0, 1.6, 0.9)
    trusted = _trusted(word, distances, 1).probability or 0.0
    assert trusted <= most
    assert trusted <= (_trusted(word, [0.0, 0.0, 0.0], 1).probability or 0.0) == 0.9


def test_numbers_in_figures_are_said_as_numbers() -> None:
    reading = object.__new__(SecondReading)
    reading._sounds = Sounds(load_lexicon())
    loop = [Phone(p, 100 + 8 * i, 108 + 8 * i) for i, p in enumerate("F IH F T IY".split())]
    fifty, fifteen = (reading._distance(Word(said, 1.0, 1.4, 0.9), loop) for said in ("50°,", "15"))
    assert fifty == 0.0
    assert fifteen is not None
    assert fifteen > 0.1
    assert reading._distance(Word("…", 1.0, 1.4, 0.9), loop) is None


@pytest.mark.sound
def test_made_up_words_lose_their_probability_and_right_ones_keep_it() -> None:
    right: dict[bool, list[float]] = {}
    made_up: dict[bool, list[float]] = {}
    talk = sample_part("small_talk_only", 0, 60)
    for on in (False, True):
        recogniser = WhisperRecogniser(load_lexicon(), FIXTURE, fixture_allowed=True, second_reading=on)
        right[on] = []
        for voice in VOICES:
            samples, known = spoken(voice)
            heard = recogniser.recognise(samples, find_speech(samples))
            assert [w.said for w in heard.words] == [k.text for k in known]
            assert bool(heard.second_reading) is on
            right[on] += [w.probability or 0.0 for w in heard.words]
        made_up[on] = [w.probability or 0.0 for w in recogniser.recognise(talk, find_speech(talk)).words]
    assert len(right[True]) == len(right[False]) == 88
    assert len(made_up[True]) == len(made_up[False]) > 40
    assert unsure(right[True]) < 0.1
    assert unsure(made_up[True]) > unsure(made_up[False]) + 0.15


def unsure(probabilities: list[float]) -> float:
    """The share of words that are named where a field asks to be checked (checks.LOW_PROBABILITY)."""
    return sum(p < LOW_PROBABILITY for p in probabilities) / len(probabilities)
