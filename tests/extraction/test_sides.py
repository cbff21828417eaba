"""Sides: said, carried, switched, both, missing, in conflict; and "left" and "right" as ordinary words."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from scoring import JUDGED, read_cases
from spoken import draft, facts, flags, unplaced

TABLE = read_cases(Path(__file__).parents[1] / "cases" / "phrases_tuning.jsonl")
OTHER = {"left": "right", "right": "left", "Left": "Right", "Right": "Left"}
SAID = re.compile(r"\b(?:left|right)\b", re.IGNORECASE)
WORD = {"tun-096"}  # "Right, moving on, …": the ordinary word, not a side


def test_a_side_said_with_the_finding_needs_no_flag() -> None:
    assert facts("The left wrist is swollen.") == ["swelling left wrist present"]
    assert flags("The left wrist is swollen.") == []


@pytest.mark.parametrize("said", ["Left wrist. Snuffbox tender.", "Left wrist: swollen. Snuffbox tender."])
def test_a_side_is_carried_and_says_so(said: str) -> None:
    assert facts(said)[-1] == "tenderness left anatomical_snuffbox present"
    assert flags(said) == ["side_carried info"]


def test_the_words_that_set_a_carried_side_are_evidence_and_make_a_run() -> None:
    record = draft("Left wrist. Snuffbox tender. Phalen's negative.")
    assert [[(e.role, e.said) for e in f.evidence][-1] for f in record.fields] == [("side", "Left wrist.")] * 2
    (run,) = record.runs
    assert (run.side, run.fields) == ("left", [f.id for f in record.fields])


def test_a_new_side_takes_over() -> None:
    said = "Left wrist. Snuffbox tender. Right wrist. Snuffbox tender. Phalen's negative."
    assert facts(said) == [
        "tenderness left anatomical_snuffbox present",
        "tenderness right anatomical_snuffbox present",
        "phalen_test right negative",
    ]


def test_sides_alternating_in_one_sentence() -> None:
    said = "Tinel's positive on the right, negative on the left."
    assert [f.rsplit(" ", 1)[-1] + " " + f.split()[1] for f in facts(said)] == ["positive right", "negative left"]


@pytest.mark.parametrize(
    "said",
    [
        "She is right handed. Snuffbox tender.",
        "Affected side is the right. Snuffbox tender.",
        "Impression: right ganglion. Snuffbox tender.",
        "Patient says my right hand is numb. Snuffbox tender.",
    ],
)
def test_only_examination_speech_sets_the_side(said: str) -> None:
    (field,) = [f for f in draft(said).fields if f.concept == "tenderness"]
    assert field.side is None
    assert [(g.code, g.level) for g in field.flags] == [("side_missing", "check")]


def test_an_impression_between_findings_leaves_the_side_in_force() -> None:
    assert facts("Left wrist. Impression: right ganglion. Snuffbox tender.")[-1] == (
        "tenderness left anatomical_snuffbox present"
    )


def test_a_plan_never_takes_a_carried_side() -> None:
    (field,) = draft("Right wrist. Plan: steroid injection.").fields
    assert (field.part, field.side, [g.code for g in field.flags]) == ("plan", None, ["side_missing"])


@pytest.mark.parametrize(
    "said",
    ["Both wrists tender.", "Tenderness of the wrist bilaterally.", "The right and left wrists are tender.",
     "Both left wrist and right wrist are tender."],
)  # fmt: skip
def test_both_sides_are_two_fields_alike_but_for_the_side(said: str) -> None:
    assert sorted(facts(said)) == ["tenderness left wrist present", "tenderness right wrist present"]


def test_both_as_an_adverb_is_no_side() -> None:
    assert facts("Left wrist both swollen and tender.") == ["swelling left wrist present", "tenderness left wrist present"]


def test_both_before_modes_is_no_side() -> None:
    assert facts("Left wrist both actively and passively flexes to fifty degrees.") == [
        "wrist_flexion left wrist 50 deg active",
        "wrist_flexion left wrist 50 deg passive",
    ]


@pytest.mark.parametrize(
    "said",
    [
        "That is all right. Snuffbox tender.",
        "Right, moving on. Snuffbox tender.",
        "Right. Snuffbox tender.",
        "Turn right now. Snuffbox tender.",
        "Nothing left to find. Snuffbox tender.",
        "We left at six. Snuffbox tender.",
    ],
)
def test_left_and_right_as_ordinary_words(said: str) -> None:
    assert "tenderness anatomical_snuffbox present" in facts(said)
    assert "side_missing check" in flags(said)


@pytest.mark.parametrize(
    ("said", "side"),
    [
        ("Left wrist tender. All right, tender over the lunate.", "left"),
        ("There is only one finger left to test. Snuffbox tender.", None),
        ("Left elbow tender. We turned right at the corner. Wrist tender.", "left"),
    ],
)
def test_an_ordinary_left_or_right_is_no_side(said: str, side: str | None) -> None:
    assert draft(said).fields[-1].side == side


def test_a_new_patient_carries_nothing_over() -> None:
    assert draft("Left wrist flexion fifty degrees. New patient. Wrist tender.").fields[-1].side is None


def test_a_colon_makes_a_side_a_heading() -> None:
    assert facts("Right: snuffbox tender.") == ["tenderness right anatomical_snuffbox present"]


def test_the_other_side_is_read_from_the_one_before_and_asks_to_be_checked() -> None:
    said = "Left wrist flexion fifty degrees. Contralateral wrist flexion seventy degrees."
    assert facts(said) == ["wrist_flexion left wrist 50 deg", "wrist_flexion right wrist 70 deg"]
    assert flags(said) == ["side_carried check"]


def test_the_other_side_of_nothing_is_missing() -> None:
    assert facts("Contralateral wrist flexion seventy degrees.") == ["wrist_flexion wrist 70 deg"]
    assert flags("Contralateral wrist flexion seventy degrees.") == ["side_missing check"]


def test_a_side_between_two_statements_is_in_conflict() -> None:
    said = "Right wrist. Phalen's is negative Durkan's positive on the left there is a scar."
    (durkan,) = [f for f in draft(said).fields if f.concept == "durkan_test"]
    assert [(g.code, g.level) for g in durkan.flags] == [("side_conflict", "check")]


def test_a_carried_side_grows_stale() -> None:
    talk = "The letter goes out on Thursday and the car is parked outside. " * 9
    record = draft(f"Left wrist swollen. {talk}Snuffbox tender.")
    assert [(g.code, g.level) for g in record.fields[-1].flags] == [("side_carried", "check")]
    assert record.fields[-1].side == "left"


def swapped(text: str) -> str:
    return SAID.sub(lambda m: OTHER[m[0]], text)


def stated(text: str, *, turned: bool) -> list[str]:
    """The judged keys, aspect and words of every field; turned: with its sides the other way round."""
    out = []
    for field in draft(text).fields:
        keys = {k: getattr(field, k) for k in (*JUDGED, "aspect", "position", "qualifier")}
        keys["flags"] = sorted(f"{g.code} {g.level}" for g in field.flags)
        if turned:
            keys["side"] = OTHER.get(keys["side"] or "", keys["side"])
            keys |= {k: swapped(keys[k]) for k in ("position", "qualifier") if keys[k]}
        out.append(json.dumps(keys, sort_keys=True))
    return sorted(out)


def test_swapping_left_and_right_swaps_the_sides_and_nothing_else() -> None:
    cases = [case for case in TABLE if swapped(case["text"]) != case["text"] and case["id"] not in WORD]
    assert len(cases) > 250
    wrong = [c["id"] for c in cases if stated(c["text"], turned=True) != stated(swapped(c["text"]), turned=False)]
    assert wrong == []


@pytest.mark.parametrize(
    ("said", "sides"),
    [
        ("Left: APB five. Right: APB four.", ["left", "right"]),
        ("Left: APB five. Both: FDI five.", ["left", "right", "left"]),
        ("Bilateral Phalen's, positive right, negative left.", ["right", "left"]),
        ("Neither thumb base is tender.", ["right", "left"]),
        ("Each elbow flexes to one hundred and forty.", ["right", "left"]),
        ("Impression: ulnar neuritis, right, severe.", ["right"]),
    ],
)
def test_a_side_before_a_colon_or_between_commas_and_sides_told_one_by_one(said: str, sides: list[str]) -> None:
    assert [field.side for field in draft(said).fields] == sides
    assert not any(field.checked() for field in draft(said).fields)


@pytest.mark.parametrize("said", ["Right, palmar nodule present.", "Right, there is a nodule in the palm."])
def test_right_before_a_comma_may_be_the_side_and_asks(said: str) -> None:
    assert draft(f"Left hand: no scars. {said}").fields[-1].checked()


def test_a_side_inside_a_term_is_its_side() -> None:
    assert facts("A small cut over the head of the right fifth metacarpal.") == ["wound right little metacarpal_head present"]


@pytest.mark.parametrize(
    "compared",
    [
        "Grip thirty kilos compared with thirty nine kilos on the right.",
        "FDI three out of five, against five out of five on the right.",
        "The right for comparison is normal.",
    ],
)
def test_what_is_said_for_comparison_keeps_its_side_to_itself(compared: str) -> None:
    """Common practice, no source: the other side is measured in passing, and the examination goes on where it was."""
    record = draft(f"Left hand. Froment's positive. {compared} Jeanne's negative.")
    assert [f.side for f in record.fields if f.concept == "jeanne_sign"] == ["left"]
    assert all(f.side == "right" for f in record.fields if f.value in {39.0} or (f.value == 5.0))


def test_both_hands_as_a_heading_hold_for_both_and_numbers_ask() -> None:
    assert facts("Both hands. No swelling.") == ["swelling right absent", "swelling left absent"]
    assert flags("Both hands. No swelling.") == ["side_carried info"] * 2
    assert flags("No scars bilaterally. Froment's positive.") == ["side_carried check"] * 2
    assert "side_carried check" in flags("Both hands. Grip strength thirty kilos.")


def test_a_side_within_both_narrows_it() -> None:
    said = "Both hands: ulnar drift, thirty degrees on the right and ten on the left."
    assert facts(said) == ["ulnar_drift right mcp present 30 deg", "ulnar_drift left mcp present 10 deg"]


def test_right_with_a_colon_is_a_heading_and_with_a_comma_a_doubt() -> None:
    assert facts("Left hand. No nodules. Right: swollen.")[-1] == "swelling right present"
    assert "side_carried check" in flags("Left hand. No scars. Right, no swelling.")


def test_turning_to_a_hand_is_no_command() -> None:
    assert facts("Let's look at the right hand first. There is swelling. Now the other hand. No swelling.") == [
        "swelling right present",
        "swelling left absent",
    ]


def test_both_of_a_pair_just_named_means_no_sides() -> None:
    assert facts("Snuffbox and scaphoid tubercle both tender on the left.") == [
        "tenderness left anatomical_snuffbox present",
        "tenderness left scaphoid_tubercle present",
    ]


def test_a_plan_in_a_list_keeps_its_own_side() -> None:
    said = "Plan: list for manipulation tomorrow, buddy strapping of the right ring finger."
    assert facts(said) == ["surgery_listing present", "splint right ring present"]


def test_a_side_between_two_run_together_statements_asks_on_the_doubtful_one() -> None:
    """Common practice, no source: nobody can tell from the words alone to which finding the side belongs."""
    said = "right hand tinel positive at the carpal tunnel on the left phalen negative"
    assert "side_conflict check" in flags(said)
    assert "side_conflict check" not in flags("Right hand. Tinel positive at the carpal tunnel. On the left, Phalen negative.")


@pytest.mark.parametrize("said", ["on examination left wrist nothing", "examining left right hand left"])
def test_bare_places_after_an_examining_verb_raise_nothing(said: str) -> None:
    assert isinstance(facts(said), list)


def test_a_place_after_impression_sets_no_side_and_is_shown() -> None:
    """An impression heard only in part must not vanish, and an impression never sets the side (the record's contract)."""
    said = "Right wrist swollen. Impression: left wrist, sprunge. Snuffbox tender."
    assert facts(said) == ["swelling right wrist present", "tenderness right anatomical_snuffbox present"]
    assert any("left wrist" in text for text, _ in unplaced(said))


def test_a_side_after_not_tested_belongs_to_what_follows() -> None:
    fields = draft("Right hand swollen. Grip not tested left grip 38.").fields
    assert [(f.concept, f.side) for f in fields[1:]] == [("grip_power", "right"), ("grip_strength", "left")]


def test_a_plain_word_typed_is_not_replaced_by_another_plain_word() -> None:
    (field,) = draft("Right progressive Dupuytren's contracture of the little finger.").fields
    assert (field.concept, field.qualifier) == ("dupuytren_disease", None)
    assert all("recurrent" not in e.corrected for e in field.evidence)
