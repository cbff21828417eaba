"""Present or absent: what a "no" reaches, where it ends, and which words only look like one.

The cases follow the parts of ConText: trigger, scope, termination, pseudo-trigger. Harkema, Dowling, Thornblade and
Chapman 2009, J Biomed Inform 42:839-851; the algorithm's parts are quoted from memory, the phrases are ours.
"""

from __future__ import annotations

import pytest
from spoken import draft, facts, flags

TRIGGERS_BEFORE = (
    "No swelling of the left wrist.",
    "There is no swelling of the left wrist.",
    "No evidence of swelling of the left wrist.",
    "Left wrist without swelling.",
    "Nil swelling of the left wrist.",
    "I cannot see any swelling of the left wrist.",
    "The left wrist is not swollen.",
    "The left wrist is no longer swollen.",
)
TRIGGERS_AFTER = (
    "Swelling of the left wrist is absent.",
    "Swelling absent in the left wrist.",
    "Left wrist swelling not seen.",
    "Left wrist swelling is unlikely.",
    "Swelling of the left wrist has resolved.",
)
PSEUDO = (
    "No doubt the left wrist is swollen.",
    "No change in the left wrist swelling.",
    "No increase in the left wrist swelling.",
    "No problem, the left wrist is swollen.",
)


@pytest.mark.parametrize("said", [*TRIGGERS_BEFORE, *TRIGGERS_AFTER])
def test_a_trigger_before_or_after_makes_a_finding_absent(said: str) -> None:
    assert facts(said) == ["swelling left wrist absent"]


@pytest.mark.parametrize("said", PSEUDO)
def test_a_pseudo_trigger_denies_nothing(said: str) -> None:
    assert facts(said) == ["swelling left wrist present"]


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("No swelling, erythema or scars over the left wrist.", {"swelling": "absent", "erythema": "absent", "scar": "absent"}),
        ("Left hand without wasting or scars.", {"muscle_wasting": "absent", "scar": "absent"}),
        ("Left wrist: swelling, tenderness and warmth, none.",
         {"swelling": "absent", "tenderness": "absent", "increased_warmth": "absent"}),
    ],
)  # fmt: skip
def test_the_scope_is_the_whole_list(said: str, expected: dict[str, str]) -> None:
    assert {f.concept: f.status for f in draft(said).fields} == expected


def test_the_scope_is_every_place_of_the_list() -> None:
    assert facts("No tenderness over the right snuffbox, scaphoid tubercle or lunate.") == [
        "tenderness right anatomical_snuffbox absent",
        "tenderness right scaphoid_tubercle absent",
        "tenderness right lunate absent",
    ]


@pytest.mark.parametrize(
    "said",
    [
        "Left wrist not swollen but tender.",
        "Left wrist not swollen. It is tender.",
        "Left wrist not swollen, however it is tender.",
        "Left wrist no swelling; tender.",
        "No swelling of the left wrist although it is tender.",
    ],
)
def test_a_contrast_or_a_stop_ends_the_scope(said: str) -> None:
    assert {f.concept: f.status for f in draft(said).fields} == {"swelling": "absent", "tenderness": "present"}


def test_the_next_finding_ends_the_scope_where_nothing_is_punctuated() -> None:
    assert [f.split()[-1] for f in facts("no swelling left wrist tender over the snuffbox")] == ["absent", "present"]


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("Left Phalen's negative.", "phalen_test left negative"),
        ("Left Phalen's is not positive.", "phalen_test left negative"),
        ("Left Phalen's is equivocal.", "phalen_test left equivocal"),
        ("Left median nerve sensation is not reduced.", "median_nerve_sensation left normal"),
        ("Left median nerve sensation absent.", "median_nerve_sensation left absent"),
        ("Left wrist non-tender.", "tenderness left wrist absent"),
        ("Left hand muscle bulk normal.", "muscle_wasting left absent"),
        ("Left hand cascade normal.", "resting_cascade_abnormality left absent"),
        ("Left wrist extension not assessed.", "wrist_extension left wrist not_assessed"),
    ],
)
def test_each_kind_of_concept_has_its_own_statuses(said: str, expected: str) -> None:
    assert facts(said) == [expected]


@pytest.mark.parametrize(
    ("said", "status"),
    [
        ("Left wrist not without swelling.", "present"),
        ("Left snuffbox is not non-tender.", "present"),
        ("Cannot rule out swelling of the left wrist.", "present"),
        ("No warmth normal left wrist.", "present"),
    ],
)
def test_two_denials_together_ask_to_be_checked(said: str, status: str) -> None:
    (field,) = draft(said).fields
    assert field.status == status
    assert ("negation_unclear", "check") in [(g.code, g.level) for g in field.flags]


@pytest.mark.parametrize(
    ("plain", "denied"),
    [
        ("Swelling of the left wrist.", "No swelling of the left wrist."),
        ("Tenderness over the right lunate.", "No tenderness over the right lunate."),
        ("Wasting of the left thenar eminence.", "No wasting of the left thenar eminence."),
        ("Triggering of the right ring finger.", "No triggering of the right ring finger."),
    ],
)
def test_a_trigger_changes_the_status_and_nothing_else(plain: str, denied: str) -> None:
    (said,), (not_said,) = draft(plain).fields, draft(denied).fields
    ours = {"status", "evidence", "id"}
    assert said.model_dump(exclude=ours) == not_said.model_dump(exclude=ours)
    assert (said.status, not_said.status) == ("present", "absent")


def test_suspected_is_no_denial() -> None:
    assert facts("Query scaphoid fracture on the right.") == ["scaphoid_fracture right scaphoid present suspected"]


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("Right wrist: no swelling, tender over the lunate.", {"swelling": "absent", "tenderness": "present"}),
        ("Right wrist not warm, tender over the lunate.", {"increased_warmth": "absent", "tenderness": "present"}),
        ("Right wrist no swelling, tenderness present.", {"swelling": "absent", "tenderness": "present"}),
        ("The right wrist is swollen, tenderness is absent.", {"swelling": "present", "tenderness": "absent"}),
        ("Left wrist swollen, Phalen's negative.", {"swelling": "present", "phalen_test": "negative"}),
        ("The left lunate is tender. The right wrist is normal.",
         {"tenderness": "present", "normal_examination": "present"}),
    ],
)  # fmt: skip
def test_results_that_spread_too_far(said: str, expected: dict[str, str]) -> None:
    assert {f.concept: f.status for f in draft(said).fields} == expected


def test_flags_of_a_plain_no_are_none() -> None:
    assert [said for said in (*TRIGGERS_BEFORE, *TRIGGERS_AFTER) if flags(said)] == []


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        (
            "The right scaphoid is not tender and so is the lunate.",
            ["tenderness right scaphoid absent", "tenderness right lunate absent"],
        ),
        (
            "There is neither swelling nor redness at the left ring DIP joint.",
            ["swelling left ring dip absent", "erythema left ring dip absent"],
        ),
        (
            "Cozen's and Mill's positive on the right; on the left both negative.",
            ["cozen_test right positive", "mill_test right positive", "cozen_test left negative", "mill_test left negative"],
        ),
        ("Allen's test on the left shows prompt refill.", ["allen_test left negative"]),
        ("Biceps squeeze on the right, no supination at all.", ["biceps_squeeze_test right positive"]),
        ("Tinel's at the left elbow failed to produce any tingling.", ["tinel_test left cubital_tunnel negative"]),
        ("Passive movement of the right wrist is pain-free.", ["pain_on_movement right wrist absent passive"]),
        ("Right thumb, no anticoagulant change, review tomorrow.", ["follow_up present"]),
        ("Right elbow. With resisted supination, the ECU synergy test is positive.", ["ecu_synergy_test right positive"]),
    ],
)
def test_where_a_result_or_a_denial_reaches(said: str, expected: list[str]) -> None:
    assert facts(said) == expected


def test_an_exception_is_turned_round_and_asks_to_be_checked() -> None:
    first, second = draft("No swelling of the right hand except at the index PIP joint.").fields
    assert (first.status, second.status, second.digit) == ("absent", "present", "index")
    assert second.checked()
    assert not first.checked()


def test_denied_with_a_placed_finding_is_denied_there() -> None:
    text = "Left ring MCP contracture of forty five degrees. Nodule in line with the middle finger with no contracture."
    assert "fixed_flexion_deformity left middle absent" in facts(text)
    assert not [f for f in draft(text).fields for flag in f.flags if flag.level == "check"]


def test_absent_of_a_side_and_present_within_it_asks_to_be_checked() -> None:
    found = draft("Left ring MCP contracture of forty five degrees. No contracture on the left.").fields
    assert [[flag.code for flag in f.flags] for f in found] == [["contradiction"], ["contradiction"]]


def test_straight_is_no_deformity() -> None:
    text = "The right little finger PIP has a fixed flexion deformity of fifteen degrees, MCP is straight."
    assert facts(text)[1] == "fixed_flexion_deformity right little mcp absent"
    assert facts("Right index PIP extension minus ten, DIP neutral.")[1] == "dip_extension right index dip 0 deg"


def test_a_wrist_in_neutral_denies_nothing_of_a_finger_and_is_shown() -> None:
    record = draft("Right index PIP contracture of twenty degrees, wrist neutral.")
    assert [f.status for f in record.fields] == ["present"]
    assert [u.text for u in record.unplaced] == ["wrist neutral."]
