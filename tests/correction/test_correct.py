"""Mishearings repaired, and everything else left alone."""

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dictation.correction.correct import correct
from dictation.lexicon.loading import load_lexicon
from dictation.lexicon.sound_index import NEVER_BY_SOUND, key
from dictation.transcript import Transcript, Word, read_text

LEXICON = load_lexicon()
CASES = [
    json.loads(line)
    for line in (Path(__file__).parents[1] / "cases" / "mishearings.jsonl").read_text(encoding="utf-8").splitlines()
]
TRADE = [
    "felons",
    "test",
    "positive",
    "had",
    "burdens",
    "nodes",
    "no",
    "left",
    "radio",
    "aviation",
    "twenty",
    "over",
    "the",
]
TALK = [
    "we",
    "have",
    "been",
    "to",
    "see",
    "my",
    "mother",
    "on",
    "the",
    "coast",
    "and",
    "it",
    "was",
    "very",
    "kind",
]


def said(text):
    return " ".join(word.text for word in correct(read_text(text), LEXICON).corrected)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["heard"])
def test_cases(case):
    assert said(case["heard"]).lower() == case["corrected"].lower()


def test_a_changed_word_says_why_and_from_what():
    corrected = correct(read_text("no had burdens nodes,"), LEXICON).corrected
    assert (corrected[0].text, corrected[0].from_) == ("no", (0, 1))
    changed = [word for word in corrected if word.reason]
    assert changed[0].text == "heberden's"
    assert changed[0].from_[0] == 1
    assert changed[0].distance is not None
    assert 0 < changed[0].distance < 0.3
    assert corrected[-1].text == "nodes,"


def test_listed_and_sounding_are_told_apart():
    listed = correct(read_text("felons test positive"), LEXICON).corrected[0]
    sounding = correct(read_text("houston tabletop test positive"), LEXICON).corrected[0]
    assert listed.reason is not None
    assert listed.reason.startswith("Listed mishearing")
    assert sounding.text == "hueston's"
    assert sounding.reason is not None
    assert sounding.reason.startswith("Sounds like")


def test_no_listed_mishearing_holds_a_side_a_number_or_a_word_of_yes_and_no():
    for term in LEXICON.terms():
        for phrase in term.misheard:
            assert not NEVER_BY_SOUND.intersection(map(key, phrase.split())), phrase


def test_a_pause_ends_a_stretch():
    words = tuple(map(Word, ("radio", "aviation", "twenty", "degrees")))
    together = correct(Transcript(words), LEXICON).corrected
    apart = correct(Transcript(words, breaks=frozenset({1})), LEXICON).corrected
    assert together[0].text == "radial"
    assert apart[1].text == "aviation"


def test_ordinary_talk_is_left_alone():
    """At most one false correction in a thousand words, on the clinic talk that ships with the lexicon."""
    words = changed = 0
    for line in LEXICON.conversation:
        corrected = correct(read_text(line), LEXICON)
        words += len(corrected.heard.words)
        changed += len({word.from_ for word in corrected.corrected if word.reason})
    assert words > 1000
    assert changed / words <= 0.001


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from(TRADE + TALK), max_size=14).map(" ".join))
def test_correcting_twice_changes_nothing_more(text):
    once = said(text)
    assert said(once) == once


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from(TALK), max_size=14).map(" ".join))
def test_talk_without_trade_words_is_unchanged(text):
    assert said(text) == text


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from(TRADE + TALK), max_size=14).map(" ".join))
def test_every_heard_word_is_stood_for_in_order(text):
    result = correct(read_text(text), LEXICON)
    covered = sorted({i for word in result.corrected for i in range(*word.from_)})
    assert covered == list(range(len(result.heard.words)))
    assert [word.from_[0] for word in result.corrected] == sorted(word.from_[0] for word in result.corrected)
    for word in result.corrected:
        if word.reason is None:
            assert word.from_[1] - word.from_[0] == 1
            assert word.text == result.heard.words[word.from_[0]].said


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from(TRADE + TALK), max_size=14).map(" ".join))
def test_sides_numbers_and_polarity_stay(text):
    def kept(words):
        return [word for word in words.split() if key(word) in NEVER_BY_SOUND]

    assert kept(said(text)) == kept(text)
