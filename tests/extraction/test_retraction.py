"""Taking back: the corrected value stands, the evidence holds both, and whole statements can be dropped."""

from __future__ import annotations

import pytest
from spoken import draft, facts, flags, unplaced


@pytest.mark.parametrize(
    ("said", "stands"),
    [
        ("Right wrist flexion sixty degrees, correction, seventy.", "wrist_flexion right wrist 70 deg"),
        ("Right wrist flexion sixty degrees, sorry, seventy degrees.", "wrist_flexion right wrist 70 deg"),
        ("Right wrist tender, correction, left.", "tenderness left wrist present"),
        ("Right wrist tender, I mean the left.", "tenderness left wrist present"),
        ("Right ring finger triggering, or rather the little finger.", "triggering right little present"),
        ("Right wrist tender over the lunate, sorry, the scaphoid.", "tenderness right scaphoid present"),
        ("Left Phalen's positive, I mean negative.", "phalen_test left negative"),
        ("Left wrist extension thirty degrees. I'm sorry, that's flexion thirty degrees.", "wrist_flexion left wrist 30 deg"),
    ],
)
def test_the_corrected_value_stands_and_says_so(said: str, stands: str) -> None:
    assert facts(said) == [stands]
    assert "self_corrected info" in flags(said)


def test_make_that_is_taking_back() -> None:
    said = "Right wrist flexion sixty degrees, make that seventy degrees."
    assert facts(said) == ["wrist_flexion right wrist 70 deg"]


def test_the_evidence_holds_what_was_taken_back() -> None:
    (field,) = draft("Right wrist flexion sixty degrees, correction, seventy.").fields
    said = {e.role: e.said for e in field.evidence}
    assert "sixty" in said["retraction"]
    assert any("seventy" in e.said for e in field.evidence if e.role == "statement")


@pytest.mark.parametrize("word", ["Scratch that.", "Strike that.", "Delete that.", "Ignore that.", "I take that back."])
def test_a_dropped_statement_is_shown_and_makes_no_field(word: str) -> None:
    said = f"Right wrist tender. {word}"
    assert facts(said) == []
    assert unplaced(said) == [("Right wrist tender.", "taken back by the speaker")]


def test_what_follows_a_dropped_statement_stands() -> None:
    assert facts("Right wrist swollen. Scratch that. Right elbow swollen.") == ["swelling right elbow present"]


def test_only_the_last_statement_is_dropped() -> None:
    assert facts("Right wrist swollen. Right elbow tender. Scratch that.") == ["swelling right wrist present"]


def test_a_corrected_side_is_the_one_carried_on() -> None:
    assert facts("Right wrist tender, correction, left. Phalen's negative.")[-1] == "phalen_test left negative"


def test_a_denial_after_the_finding_turns_it_and_asks_to_be_checked() -> None:
    said = "Right wrist swollen. No it is not."
    assert facts(said) == ["swelling right wrist absent"]
    assert flags(said) == ["self_corrected check"]


def test_nothing_to_take_back_is_no_error() -> None:
    assert facts("Scratch that. Correction, left. No it is not.") == []


def test_what_follows_a_number_taken_back_is_of_the_next_joint() -> None:
    assert facts("Left ring PIP flexion sixty five, no, fifty five, DIP thirty.") == [
        "pip_flexion left ring pip 55 deg",
        "dip_flexion left ring dip 30 deg",
    ]
    assert facts("The left little finger PIP has a contracture of sixty five, no, fifty five degrees, DIP neutral.") == [
        "fixed_flexion_deformity left little pip present 55 deg",
        "fixed_flexion_deformity left little dip absent",
    ]
