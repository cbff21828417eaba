"""Properties over dictations put together from many phrases: one change in the words changes what it should and nothing else.

Each draws phrases from the development tables, never the blind ones. The default run always draws the same; the slow tier draws
anew and more, so that it finds what nobody thought of.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scoring import JUDGED, read_cases
from spoken import draft, flags
from strategies import babble

from dictation.correction.correct import correct
from dictation.extraction.extract import Words, readers
from dictation.extraction.tokens import tokenise
from dictation.extraction.values import UNIT_WORDS
from dictation.lexicon.entries import Lexicon
from dictation.record import DraftRecord, FlagCode, RecordField
from dictation.transcript import read_text

CASES = Path(__file__).parents[1] / "cases"
OTHER = {"left": "right", "right": "left", "Left": "Right", "Right": "Left"}
SAID = re.compile(r"\b(?:left|right)\b", re.IGNORECASE)
SHORT = re.compile(r"\b[LR]t?\b|[LR]H[SD]")
ACROSS = {FlagCode.contradiction, FlagCode.repeated, FlagCode.side_conflict}
"""Flags that a field may earn by what is said elsewhere."""
SOME = settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
MANY = settings(max_examples=400, deadline=None, suppress_health_check=list(HealthCheck))


def _phrases() -> list[str]:
    """Return the phrases as sentences, but for those where a side is an ordinary word or one letter."""
    cases = [c for name in ("tuning", "second", "more", "third", "fourth") for c in read_cases(CASES / f"phrases_{name}.jsonl")]
    said = [c["text"].rstrip() for c in cases if "ordinary" not in (c.get("why") or "") and not SHORT.search(c["text"])]
    return [text if text[-1] in ".?!" else f"{text}." for text in said]


PHRASES = _phrases()
dictated = st.lists(st.sampled_from(PHRASES), min_size=1, max_size=3, unique=True).map(" ".join)
tens = st.sampled_from("twenty thirty forty fifty sixty seventy eighty".split()) | st.integers(20, 89).map(str)


def some_and_many(test: Callable[..., None], *drawn: st.SearchStrategy[Any]) -> tuple[Callable[..., None], Callable[..., None]]:
    """Return a property as a default test and as a slow one."""
    return SOME(given(*drawn)(test)), pytest.mark.slow(MANY(given(*drawn)(test)))


def swapped(text: str) -> str:
    return SAID.sub(lambda m: OTHER.get(m[0], m[0]), text)


def said(f: RecordField, *, turned: bool = False) -> str:
    """What a field says, without its id and evidence; turned: with its side the other way round."""
    keys = {k: getattr(f, k) for k in (*JUDGED, "aspect", "position", "qualifier", "trial", "certainty")}
    keys["flags"] = sorted(f"{flag.code} {flag.level}" for flag in f.flags)
    if turned:
        keys["side"] = OTHER.get(keys["side"] or "", keys["side"])
        keys |= {k: swapped(keys[k]) for k in ("position", "qualifier") if keys[k]}
    return json.dumps(keys, sort_keys=True)


def values(f: RecordField) -> dict[str, object]:
    return f.model_dump(exclude={"flags", "confidence", "evidence"})


def own_flags(f: RecordField) -> list[tuple[str, str]]:
    return [(flag.code, flag.level) for flag in f.flags if flag.code not in ACROSS]


def swap(text: str) -> None:
    there, back = draft(text), draft(swapped(text))
    assert sorted(said(f, turned=True) for f in there.fields) == sorted(said(f) for f in back.fields)
    assert {(OTHER[run.side], run.words) for run in there.runs} == {(run.side, run.words) for run in back.runs}


OPEN_HEADING = "a side and a part of the body with nothing said of it"
"""Shown at the end of a dictation; what follows may be said of it, and then it is shown no more."""


def append(text: str, more: str) -> None:
    """What was there stays, but for flags that speak of two fields; what is new rests on the new words."""
    before, after, count = draft(text), draft(f"{text} {more}"), len(text.split())
    if {f.concept for f in before.fields} & {f.concept for f in draft(more).fields}:
        return  # not unrelated: it may repeat, or contradict
    old = [f for f in after.fields if f.evidence[0].words[0] < count]
    assert [(values(f), own_flags(f)) for f in old] == [(values(f), own_flags(f)) for f in before.fields]
    shown = [u.text for u in before.unplaced if u.reason != OPEN_HEADING]
    assert [u.text for u in after.unplaced if u.reason != OPEN_HEADING][: len(shown)] == shown


def renumber(text: str, more: str, number: str, other: str) -> None:
    """Only what rests on the changed word changes, and only in its number, its id apart; flags elsewhere may name it."""
    middle = f"Left little DIP flexion {number} degrees."
    one, two = draft(f"{text} {middle} {more}"), draft(f"{text} {middle.replace(number, other)} {more}")
    at = len(text.split()) + 4
    assert len(one.fields) == len(two.fields)
    for f, g in zip(one.fields, two.fields, strict=True):
        rests = any(i <= at < j for i, j in (e.words for e in f.evidence if e.role == "statement"))
        numbers = {"value", "low", "high", "qualifier"} if rests else set()
        assert {k: v for k, v in values(f).items() if k not in numbers} == {
            k: v for k, v in values(g).items() if k not in numbers
        }
        if not rests:
            assert own_flags(f) == own_flags(g)
    assert [u.reason for u in one.unplaced] == [u.reason for u in two.unplaced]


test_swapping_left_and_right_swaps_the_sides_and_nothing_else, test_swapping_many = some_and_many(swap, dictated)
test_an_unrelated_sentence_adds_its_fields_only, test_appending_many = some_and_many(append, dictated, st.sampled_from(PHRASES))
test_changing_a_number_changes_that_value_only, test_changing_many = some_and_many(renumber, dictated, dictated, tens, tens)


def vanished(record: DraftRecord, text: str, lexicon: Lexicon) -> list[str]:
    """Return the terms, and the numbers with a unit, that are in no field's evidence and in no unplaced stretch."""
    matcher, _ = readers(lexicon)
    transcript = correct(read_text(text), lexicon)
    tokens = tokenise(transcript, matcher.variants, matcher.spelled)
    words, heard = Words(transcript, tokens), [w.said for w in record.transcript.words]
    used = {k for f in record.fields for e in f.evidence for k in range(*e.words)}
    clinical = [(m.start, m.end) for m in matcher.find(tokens) if m.kind == "concept" and not m.observed]
    units = {"degree", *(word.removesuffix("s") for word in UNIT_WORDS.values())}
    clinical += [(k - 1, k + 1) for k in range(1, len(tokens)) if tokens[k].text in units and tokens[k - 1].text.isdigit()]
    out = []
    for start, end in clinical:
        i, j = words.heard(start, end)
        stretch = " ".join(heard[i:j])
        if not used & set(range(i, j)) and not any(stretch in u.text for u in record.unplaced):
            out.append(stretch)
    return out


def vanish(lexicon: Lexicon, text: str) -> None:
    record = draft(text)
    assert vanished(record, text, lexicon) == []
    assert all(u.reason for u in record.unplaced)


test_nothing_clinical_vanishes = SOME(given(text=dictated)(vanish))
test_nothing_clinical_vanishes_from_nonsense = SOME(given(text=babble)(vanish))
test_nothing_clinical_vanishes_from_many = pytest.mark.slow(MANY(given(text=dictated | babble)(vanish)))


def test_the_phrases_are_many_and_none_is_blind() -> None:
    blind = {c["text"] for c in read_cases(CASES / "phrases_blind.jsonl")}
    assert len(PHRASES) > 1000
    assert not blind & set(PHRASES)


@pytest.mark.parametrize(
    "said_",
    ["Left index tender. Dorsal ulnar branch sensation, right, lost.", "Left wrist tender. Finkelstein's, right, positive."],
)
def test_right_between_commas_after_what_it_is_about_is_the_side(said_: str) -> None:
    assert [f.side for f in draft(said_).fields] == ["left", "right"]
    assert flags(said_) == []


def test_a_side_after_a_full_stop_is_in_no_conflict_with_what_was_said_before_it() -> None:
    assert "side_conflict check" not in flags("Right elbow flexion 20 to 120. Palpation of the left wrist: no tenderness.")
