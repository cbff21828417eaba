"""Whole dictations: evidence leads back to the words heard, ids are unique, any text can be read."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from scoring import read_cases
from spoken import draft
from strategies import babble, unicode_text

from dictation import draft_from_text
from dictation.errors import TextTooLong
from dictation.record import DraftRecord

CASES = Path(__file__).parents[1] / "cases"
TABLE = read_cases(CASES / "phrases_tuning.jsonl")
LONG = [*read_cases(CASES / "dictations_tuning.jsonl"), *read_cases(CASES / "dictations_more.jsonl")]
UNRELATED = "The letter goes out on Thursday."


def assert_sound(record: DraftRecord) -> None:
    """Evidence slices back to its own words, corrected words to theirs, ids and runs are consistent."""
    heard = [w.said for w in record.transcript.words]
    for field in record.fields:
        assert field.evidence
        assert field.evidence[0].role == "statement"
        for e in field.evidence:
            i, j = e.words
            assert 0 <= i < j <= len(heard)
            assert " ".join(heard[i:j]) == e.said
    assert all(0 <= i < j <= len(heard) for c in record.transcript.corrected for i, j in [c.from_])
    ids = [field.id for field in record.fields]
    assert len(set(ids)) == len(ids)
    assert all(set(run.fields) <= set(ids) and run.fields for run in record.runs)
    said = " ".join(heard)
    assert all(u.text and u.text in said and u.reason for u in record.unplaced)


@pytest.mark.parametrize("case", [*TABLE, *LONG], ids=lambda case: case["id"])
def test_evidence_slices_back_to_the_words_heard(case: dict[str, str]) -> None:
    assert_sound(draft(case["text"]))


def test_many_fields_were_looked_at() -> None:
    assert sum(len(draft(case["text"]).fields) for case in TABLE) > 450


def test_drafting_again_gives_the_same_ids() -> None:
    for case in LONG[:5]:
        first, again = draft_from_text(case["text"]), draft_from_text(case["text"])
        assert [f.id for f in first.fields] == [f.id for f in again.fields]


@given(babble)
@settings(max_examples=60, deadline=None)
def test_any_text_is_read_without_raising(text: str) -> None:
    assert_sound(draft_from_text(text))


@given(unicode_text)
@settings(max_examples=25, deadline=None)
def test_any_unicode_is_read_without_raising(text: str) -> None:
    assert_sound(draft_from_text(text))


@pytest.mark.parametrize("text", ["'", "left wrist ' tender", "’s"])
def test_a_lone_apostrophe_is_read_without_raising(text: str) -> None:
    assert_sound(draft_from_text(text))


@pytest.mark.parametrize(
    "text",
    ["", " \n\t ", ".", "…", "\u0000", "ﬁ ½ ٣ 三", "left " * 500, "no " * 500, "5 " * 500,
     "to " * 300, "one hundred " * 200, "same on the right. " * 100, "scratch that " * 100, "🖐" * 50,
     "left wrist \ud55c\uae00 tender", "\u0b94 test positive", "-" * 400, "4+" * 300],
)  # fmt: skip
def test_odd_text_is_read_without_raising(text: str) -> None:
    assert_sound(draft_from_text(text))


@pytest.mark.parametrize("text", ["a" * 2_000_001, "é" * 1_000_001, "\ud800" * 2_000_001])
def test_text_of_more_than_two_megabytes_is_refused_in_one_sentence(text: str) -> None:
    with pytest.raises(TextTooLong, match=r"^The text is longer than 2 MB, .*\.$"):
        draft_from_text(text)


@pytest.mark.parametrize("text", ["🖐" * 500_000, *(pytest.param(c * 2_000_000, marks=pytest.mark.slow) for c in " a1'-")])
def test_text_of_two_megabytes_is_read(text: str) -> None:
    assert len(draft_from_text(text).transcript.words) == len(text.split())


def test_half_of_a_surrogate_pair_is_read_without_raising() -> None:
    assert_sound(draft_from_text("\ud800 left wrist tender"))


def test_an_unrelated_sentence_after_it_keeps_every_field() -> None:
    changed = []
    for case in TABLE:
        text = case["text"].rstrip()
        text = text if text[-1] in ".?!" else f"{text}."
        if draft(text).fields != draft(f"{text} {UNRELATED}").fields:
            changed.append(case["id"])
    assert changed == []
