"""The side in force from its words to where it ends: runs, a new patient, a long silence, and plans that set none.

A run is what review shows as one block, so it must hold every field that rests on it and no other side's.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from scoring import read_cases
from spoken import draft, facts

from dictation.extraction.extract import LONG_SILENCE_S
from dictation.lexicon.entries import Lexicon
from dictation.pipeline import draft as draft_transcript
from dictation.record import DraftRecord, Source
from dictation.transcript import Transcript, Word

LONG = read_cases(Path(__file__).parents[1] / "cases" / "dictations_tuning.jsonl")
SOURCE = Source(
    name="invented.wav", sha256="0", duration_s=300.0, recogniser="scripted", model=None, program_version="0",
    lexicon_version="0",
)  # fmt: skip


def runs(record: DraftRecord) -> list[tuple[str, str]]:
    """Side and words of each run."""
    heard = [w.said for w in record.transcript.words]
    return [(run.side, " ".join(heard[slice(*run.words)])) for run in record.runs]


def test_each_stretch_under_one_side_is_a_run_of_its_own() -> None:
    record = draft("Left wrist. Snuffbox tender. Phalen's negative. Right wrist. Not swollen. Left again. Durkan's negative.")
    assert runs(record) == [
        ("left", "Left wrist. Snuffbox tender. Phalen's negative."),
        ("right", "Right wrist. Not swollen."),
        ("left", "Left again. Durkan's negative."),
    ]
    assert [run.fields for run in record.runs] == [[f.id for f in record.fields[a:b]] for a, b in [(0, 2), (2, 3), (3, 4)]]


def test_a_side_said_after_its_fields_makes_a_run_that_holds_them() -> None:
    assert runs(draft("No warmth, and no synovitis, all on the left.")) == [
        ("left", "No warmth, and no synovitis, all on the left.")
    ]


@pytest.mark.parametrize("case", LONG, ids=lambda case: case["id"])
def test_a_run_holds_the_words_and_the_side_of_its_fields(case: dict[str, str]) -> None:
    record = draft(case["text"])
    fields = {f.id: f for f in record.fields}
    for run in record.runs:
        assert {fields[i].side for i in run.fields} == {run.side}
        spans = [fields[i].evidence[0].words for i in run.fields]
        assert all(run.words[0] <= i and j <= run.words[1] for i, j in spans)


def test_the_dictations_hold_many_runs() -> None:
    assert sum(len(draft(case["text"]).runs) for case in LONG) >= 40


def test_a_run_tells_when_it_was_said(lexicon: Lexicon) -> None:
    words = tuple(Word(w, i * 0.5, i * 0.5 + 0.4, 0.95) for i, w in enumerate("Left wrist. Snuffbox tender.".split()))
    (run,) = draft_transcript(Transcript(words), SOURCE, lexicon).runs
    assert (run.start, run.end) == (0.0, 1.9)


@pytest.mark.parametrize(
    "said",
    [
        "Left wrist flexion fifty degrees. New patient. Wrist tender.",
        "left wrist flexion fifty degrees next patient wrist tender",
        "Left wrist flexion fifty degrees, another patient, wrist tender.",
    ],
)
def test_a_new_patient_resets_the_side(said: str) -> None:
    assert facts(said) == ["wrist_flexion left wrist 50 deg", "tenderness wrist present"]
    assert [flag.code for flag in draft(said).fields[1].flags] == ["side_missing"]


@pytest.mark.parametrize("said", ["Same on the right.", "Scratch that.", "Sorry, right.", "On the right as well."])
def test_nothing_of_the_last_patient_is_copied_corrected_or_continued(said: str) -> None:
    assert facts(f"Left wrist swollen. New patient. {said}") == ["swelling left wrist present"]


@pytest.mark.parametrize(("silence_s", "side"), [(LONG_SILENCE_S - 1, "left"), (LONG_SILENCE_S + 1, None)])
def test_a_long_silence_resets_the_side(lexicon: Lexicon, silence_s: float, side: str | None) -> None:
    said = "Left wrist swollen. Snuffbox tender.".split()
    words = tuple(Word(w, at := i * 0.5 + (silence_s if i > 2 else 0.0), at + 0.4, 0.97) for i, w in enumerate(said))
    fields = draft_transcript(Transcript(words, breaks=frozenset({0, 3})), SOURCE, lexicon).fields
    assert [f.side for f in fields] == ["left", side]
    assert [[flag.code for flag in f.flags] for f in fields] == [[], ["side_carried" if side else "side_missing"]]


@pytest.mark.parametrize(
    "said",
    [
        "Plan: right carpal tunnel.",
        "Treatment: splint, right hand.",
        "Impression: sprain, right wrist.",
        "Plan. Right hand clinic.",
    ],
)
def test_a_plan_or_impression_of_which_no_term_was_recognised_sets_no_side(said: str) -> None:
    record = draft(f"Left wrist swollen. {said} Phalen's negative.")
    assert [(f.side, [g.code for g in f.flags]) for f in record.fields if f.concept == "phalen_test"] == [
        ("left", ["side_carried"])
    ]


def test_a_sentence_that_ends_with_treatment_or_plan_is_no_heading() -> None:
    said = "Left wrist swollen. She has had no treatment. Right wrist. Not swollen."
    assert facts(said)[-1] == "swelling right wrist absent"
    assert facts("Left wrist swollen. That was the plan. Right wrist. Not swollen.")[-1] == "swelling right wrist absent"
