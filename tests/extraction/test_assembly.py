"""Fields from statements: collective phrases, lists, copies, trials, modes."""

from __future__ import annotations

import pytest
from spoken import draft, facts, flags, unplaced


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("Right wrist full range of movement.",
         ["wrist_extension", "wrist_flexion", "wrist_radial_deviation", "wrist_ulnar_deviation"]),
        ("Right elbow full range of movement.", ["elbow_flexion", "elbow_extension"]),
        ("Right forearm rotation full.", ["forearm_pronation", "forearm_supination"]),
        ("Right PIP joints full range of movement.", ["pip_flexion", "pip_extension"]),
        ("Right hand: normal sensation in all three nerve distributions.",
         ["median_nerve_sensation", "ulnar_nerve_sensation", "radial_nerve_sensation"]),
    ],
)  # fmt: skip
def test_a_collective_phrase_is_expanded_and_says_so(said: str, expected: list[str]) -> None:
    fields = draft(said).fields
    assert [f.concept for f in fields] == expected
    assert {(f.status, f.side) for f in fields} == {("normal", "right")}
    assert flags(said) == ["expanded info"] * len(expected)


def test_kanavels_signs_are_four_fields() -> None:
    said = "Right hand: Kanavel's signs are absent."
    assert [f.split()[0] for f in facts(said)] == [
        "flexed_digit_posture", "fusiform_digit_swelling", "flexor_sheath_tenderness", "pain_on_passive_extension",
    ]  # fmt: skip
    assert {f.status for f in draft(said).fields} == {"absent"}
    assert flags(said) == ["expanded info"] * 4


def test_full_range_of_the_fingers_names_no_joint_and_is_not_expanded() -> None:
    assert facts("Left full range of movement of the fingers.") == ["range_of_motion left normal"]


def test_one_no_and_both_wrists_is_six_fields() -> None:
    assert sorted(facts("No swelling, erythema or scars over either wrist.")) == sorted(
        f"{concept} {side} wrist absent" for concept in ("swelling", "erythema", "scar") for side in ("right", "left")
    )


def test_a_general_phrase_stays_one_field_and_fills_in_nothing() -> None:
    assert facts("Right wrist swollen. Otherwise unremarkable.") == [
        "swelling right wrist present",
        "normal_examination right present",
    ]


def test_same_on_the_other_side_copies_and_asks_to_be_checked() -> None:
    said = "Left Phalen's positive, Tinel's negative. Same on the right."
    assert sorted(facts(said)) == [
        "phalen_test left positive", "phalen_test right positive", "tinel_test left negative", "tinel_test right negative",
    ]  # fmt: skip
    copies = [f for f in draft(said).fields if f.side == "right"]
    assert [[(g.code, g.level) for g in f.flags] for f in copies] == [[("copied_side", "check")]] * 2
    assert all("Same on the right." in [e.said for e in f.evidence] for f in copies)


@pytest.mark.parametrize(
    "said",
    ["Left grip strength twenty kilograms. Same on the right.", "Left wrist flexion fifty degrees. Same on the right.",
     "Left scar. Same on the right."],
)  # fmt: skip
def test_numbers_and_scars_are_never_copied(said: str) -> None:
    assert [f.side for f in draft(said).fields] == ["left"]


def test_the_same_as_nothing_is_shown() -> None:
    assert facts("Same on the right.") == []
    assert unplaced("Same on the right.") == [("Same on the right.", '"same" without a clear side to copy from')]


def test_a_copy_of_what_may_not_be_copied_is_shown() -> None:
    assert unplaced("Left grip strength twenty kilograms. Same on the right.") != []


def test_both_findings_of_a_sentence_are_copied() -> None:
    assert "swelling right wrist present" in facts("Left wrist swollen and tender. Same on the right.")


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("Right grip strength 18, 20 and 22 kilograms.", ["18 kg trial=1", "20 kg trial=2", "22 kg trial=3"]),
        ("Right grip strength 18, 20 and 22 kilograms, mean 20.",
         ["18 kg trial=1", "20 kg trial=2", "22 kg trial=3", "20 kg trial=mean"]),
        ("Right grip strength mean twenty kilograms.", ["20 kg trial=mean"]),
        ("Right grip strength 20 kilograms.", ["20 kg"]),
    ],
)  # fmt: skip
def test_each_trial_of_a_strength_is_a_field(said: str, expected: list[str]) -> None:
    assert facts(said) == [f"grip_strength right {trial}" for trial in expected]


def test_numbered_trials_are_a_field_each() -> None:
    said = "Right grip strength trial one fourteen kilograms, trial two fifteen kilograms."
    assert facts(said) == ["grip_strength right 14 kg trial=1", "grip_strength right 15 kg trial=2"]


def test_two_modes_of_one_movement() -> None:
    assert facts("Right wrist, flexion seventy degrees active and eighty degrees passive.") == [
        "wrist_flexion right wrist 70 deg active",
        "wrist_flexion right wrist 80 deg passive",
    ]


def test_numbers_go_with_their_sides() -> None:
    assert facts("Flexion of the right and left wrists 60 and 70 degrees.") == [
        "wrist_flexion right wrist 60 deg",
        "wrist_flexion left wrist 70 deg",
    ]


def test_a_result_at_the_end_holds_for_the_list_of_tests() -> None:
    said = "Tinel's over the carpal tunnel, Phalen's and Durkan's are negative on the left."
    assert facts(said) == ["tinel_test left carpal_tunnel negative", "phalen_test left negative", "durkan_test left negative"]


def test_a_side_at_the_end_of_a_sentence_holds_for_it() -> None:
    said = "Wrist swollen and tender, all on the left."
    assert facts(said) == ["swelling left wrist present", "tenderness left wrist present"]


def test_a_place_said_last_holds_for_both_findings() -> None:
    assert facts("Mild swelling and moderate tenderness over the right snuffbox.") == [
        "swelling right anatomical_snuffbox present mild",
        "tenderness right anatomical_snuffbox present moderate",
    ]


def test_trials_whose_side_follows_begin_after_the_side_of_the_trials_before() -> None:
    assert facts("grip strength 28 30 and 29 kg on the right 40 41 and 39 kg on the left") == [
        f"grip_strength {side} {value} kg trial={n}"
        for side, values in (("right", (28, 30, 29)), ("left", (40, 41, 39)))
        for n, value in enumerate(values, start=1)
    ]


def test_a_wound_check_is_the_visit_and_no_wound() -> None:
    assert facts("This is a wound check of the right hand. No redness.") == ["erythema right absent"]
    assert "follow_up present" in facts("Plan: wound check in ten days.")
