"""Confidence is a probability that only worse evidence lowers; and the words that decide a field."""

from __future__ import annotations

from dataclasses import replace
from math import log
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictation.confidence import CHECK_BELOW, LEAST, MOST, Support, heard_confidence, support, typed_confidence
from dictation.deciding import deciding_words
from dictation.record import Evidence, Flag, FlagCode, RecordField
from dictation.transcript import Transcript, Word

SUPPORTS = st.builds(Support, st.floats(-6, 6), st.floats(-6, 6), st.floats(0, 2), st.floats(0, 2))
SAID = "left wrist | there is no swelling of the carpus | thank you"


def heard(**doubted: float) -> Transcript:
    """SAID as a recogniser gives it, sure but for the words doubted; | is a pause."""
    words = SAID.split()
    breaks = frozenset({0, *(i - words[:i].count("|") for i, word in enumerate(words, 1) if word == "|")})
    return Transcript(tuple(Word(w, 0.0, 0.0, doubted.get(w, 1.0)) for w in words if w != "|"), breaks)


def field(*flags: tuple[str, str], words: tuple[int, int] = (4, 6)) -> RecordField:
    def evidence(role: Any, span: tuple[int, int]) -> Evidence:
        return Evidence(role=role, said="", corrected="", words=span)

    return RecordField(
        id="1", part="look", concept="swelling",
        flags=[Flag(code=FlagCode(code), level=level, message=".") for code, level in flags],  # type: ignore[arg-type]
        evidence=[evidence("statement", words), evidence("side", (0, 2))],
    )  # fmt: skip


@given(SUPPORTS, st.floats(0.01, 1))
def test_worse_evidence_never_raises_it(found: Support, step: float) -> None:
    base = heard_confidence(found)
    assert LEAST <= base <= MOST
    for worse in (
        replace(found, words=found.words - step),
        replace(found, breath=found.breath - step),
        replace(found, doubts=found.doubts + step),
        replace(found, noise=found.noise + step),
    ):
        assert heard_confidence(worse) <= base


def test_what_decides_is_the_statement_without_small_words_and_of_the_side_its_own_word() -> None:
    said = heard().words
    assert [said[k].said for k in deciding_words(field(words=(2, 9)), heard())] == ["no", "swelling", "carpus", "left"]


def test_what_speaks_for_a_field() -> None:
    found = support(field(), heard(no=0.4, left=0.7, the=0.2, thank=0.0, wrist=0.0))
    assert found is not None
    sure = log(199)  # no word counts as surer than 0.995
    assert found.words == pytest.approx((log(0.4 / 0.6) + sure + log(0.7 / 0.3)) / 3)
    assert found.breath == pytest.approx((log(0.4 / 0.6) + sure + sure) / 3), "in one breath with it, not before nor after"
    assert (found.doubts, found.noise) == (0, 0)


def test_doubts_are_those_that_do_not_come_from_hearing() -> None:
    def doubts(*codes: str, level: str = "check") -> float | None:
        found = support(field(*((code, level) for code in codes)), heard())
        return None if found is None else found.doubts

    assert doubts("low_recognition") == 0
    assert doubts("side_carried", level="info") == 0
    assert doubts("side_carried", "low_recognition") == 1
    assert doubts("side_carried", "contradiction", "expanded") == 2


def test_noise_counts_from_20_db_down_and_typed_words_have_no_support() -> None:
    found = [support(field(), heard(), db) for db in (45.0, 20.0, 10.0, 0.0, -9.0, None)]
    assert [one.noise for one in found if one] == [0.0, 0.0, 1.0, 2.0, 2.0, 0.0]
    assert support(field(), Transcript(tuple(Word(w) for w in SAID.split()))) is None


def test_a_field_heard_surely_is_much_surer_than_a_doubted_one() -> None:
    sure, doubted = (support(field(), heard(**words)) for words in ({}, {"swelling": 0.3, "carpus": 0.2}))
    assert sure is not None
    assert doubted is not None
    assert heard_confidence(doubted) < CHECK_BELOW < heard_confidence(sure)


def test_typed_text_is_sure_until_it_is_flagged() -> None:
    assert typed_confidence([]) == 0.97
    assert typed_confidence(["info"]) == 0.95
    assert typed_confidence(["check"] * 9) == 0.05
