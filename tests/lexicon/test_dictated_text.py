"""The text behind the language model: every form is in it, and nothing that a recogniser cannot say."""

from __future__ import annotations

import random
import re
from collections import Counter
from dataclasses import replace

import pytest

from dictation.lexicon.dictated_text import (
    SLOTS,
    _fill,
    _slots,
    dictated_sentences,
    shape_problem,
    talk_sentences,
    whole_sentences,
)
from dictation.lexicon.loading import load_lexicon
from dictation.lexicon.spelling import recogniser_words, spelled_out
from dictation.lexicon.spoken_numbers import ways_to_say
from dictation.voice_check import given_dictations


@pytest.fixture(scope="module")
def sentences() -> list[list[str]]:
    return list(dictated_sentences(load_lexicon()))


def test_every_spoken_form_is_said(sentences: list[list[str]]) -> None:
    said = {" ".join(s) for s in sentences}
    forms = [form.text for term in load_lexicon().terms() for form in term.spoken]
    assert len(forms) > 1000
    assert [form for form in forms if " ".join(recogniser_words(form)) not in said] == []


def test_forms_are_said_among_other_words(sentences: list[list[str]]) -> None:
    running = " | ".join(" ".join(s) for s in sentences if len(s) > 4)
    for phrase in ("negative for", "sorry", "out of five", "MCP joint", "point five", "one hundred and", "same on the left"):
        assert phrase in running, phrase


def test_numbers_up_to_a_hundred_and_eighty_are_all_said(sentences: list[list[str]]) -> None:
    running = " " + " | ".join(" ".join(s) for s in sentences) + " "
    assert [n for n in range(181) if not any(f" {way} " in running for way in ways_to_say(n))] == []


def test_no_slot_is_left_open(sentences: list[list[str]]) -> None:
    assert len(sentences) > 20_000
    assert not any(re.search(r"[{}|()_]", word) for s in sentences for word in s)


def test_the_same_lexicon_gives_the_same_text(sentences: list[list[str]]) -> None:
    assert list(dictated_sentences(load_lexicon())) == sentences


@pytest.mark.parametrize(
    ("shape", "what"),
    [
        ("the {colour} hand", "unknown slot colour"),
        ("{finding} (over|at {place}", "a bracket without its other half"),
        ("{finding} over) {place}", "a bracket without its other half"),
        ("{finding over {place}", "a bracket without its other half"),
        ("{two words}", "a bracket without its other half"),
    ],
)
def test_a_shape_that_cannot_be_filled_says_why(shape: str, what: str) -> None:
    assert what in str(shape_problem(shape))


def test_every_slot_that_a_shape_may_have_is_filled() -> None:
    assert set(_slots(load_lexicon(), random.Random(1))) == SLOTS
    assert not any(shape_problem(shape) for shape in (*load_lexicon().phrases, *load_lexicon().dictations))


def test_whole_sentences_are_filled_and_the_same_each_time() -> None:
    lexicon = replace(load_lexicon(), dictations=("{side} {finger} {finger_joint} (flexion|extension) {number}",) * 40)
    said = list(whole_sentences(lexicon))
    assert said == list(whole_sentences(lexicon))
    assert {words[0] for words in said} == {"left", "right"}
    assert {words[1] for words in said} >= {"index", "middle", "ring", "little"}
    assert {words[2] for words in said} == {"MCP", "PIP", "DIP"}
    assert {words[3] for words in said} == {"flexion", "extension"}
    assert not any("{" in word for words in whole_sentences(load_lexicon()) for word in words)


def test_whole_sentences_name_both_sides_equally_often() -> None:
    words = Counter(word for said in whole_sentences(load_lexicon()) for word in said)
    assert words["right"] == pytest.approx(words["left"], rel=0.1)  # or one side would be heard for the other


def test_talk_is_varied_and_also_contracted() -> None:
    lexicon = load_lexicon()
    assert len(set(lexicon.conversation)) >= 500
    said = {" ".join(s) for s in talk_sentences(lexicon)}
    assert "do you drop things" in said
    assert any("don't" in s for s in said)
    assert any("do not" in s for s in said)


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("Non-tender, Tinel’s", ["non", "tender", "tinel's"]),
        ("boutonnière", ["boutonniere"]),
        ("the MCPJs of IF", ["the", "MCPJs", "of", "IF"]),
        ("if A1 catches", ["if", "A1", "catches"]),
        ("", []),
    ],
)
def test_written_words_become_recogniser_words(written: str, words: list[str]) -> None:
    assert recogniser_words(written) == words


@pytest.mark.parametrize(
    ("word", "phones"),
    [("MCP", "EH M S IY P IY"), ("PIPs", "P IY AY P IY Z"), ("A1", "EY W AH N"), ("FDS", "EH F D IY EH S")],
)
def test_abbreviations_are_said_letter_by_letter(word: str, phones: str) -> None:
    assert spelled_out(word) == phones


def test_no_sentence_that_a_clinic_reads_aloud_to_be_measured_is_among_the_dictations() -> None:
    """A check on sentences that the language model has seen would flatter."""
    lexicon = load_lexicon()
    sentence = re.compile(r"(?<=[.?!;]) +(?=\S)")
    read_aloud = {tuple(recogniser_words(s)): s for text in given_dictations() for s in sentence.split(text)}
    assert len(read_aloud) > 30
    draw = random.Random(1)
    slots = _slots(lexicon, draw)
    shapes = {shape for line in lexicon.dictations for shape in sentence.split(line)}
    said = {tuple(recogniser_words(_fill(s, slots, draw))) for s in shapes for _ in range(20 if "{" in s else 1)}
    assert [read_aloud[words] for words in read_aloud.keys() & said] == []
