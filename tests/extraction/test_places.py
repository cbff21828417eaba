"""Places: digits, joints, structures and aspects, alone, in lists, and completed from what was said before."""

from __future__ import annotations

import pytest
from spoken import draft, facts


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("Left thumb base tender.", ["tenderness left thumb cmc present"]),
        ("Left MCP joints swollen.", ["swelling left mcp present"]),
        ("Right palm tender.", ["tenderness right palm present"]),
        ("Volar wrist tender on the left.", ["tenderness left wrist volar present"]),
        ("Fifth metacarpal tender on the left.", ["tenderness left little metacarpal present"]),
        ("Tenderness of the radial border of the left ring finger.", ["tenderness left ring radial present"]),
        ("Right hand swollen.", ["swelling right present"]),
        ("Left ring finger PIP joint swollen.", ["swelling left ring pip present"]),
        ("Tenderness over the dorsum of the left hand.", ["tenderness left dorsum_of_hand present"]),
        ("Left FDS to the ring finger intact.", ["tendon_integrity left ring flexor_digitorum_superficialis normal"]),
    ],
)
def test_one_place(said: str, expected: list[str]) -> None:
    assert facts(said) == expected


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("Right snuffbox and lunate tender.", ["right anatomical_snuffbox", "right lunate"]),
        ("Right index and middle fingers tender.", ["right index", "right middle"]),
        ("Right index MCP, PIP and DIP tender.", ["right index mcp", "right index pip", "right index dip"]),
        ("All fingers of the right hand are tender.", ["right index", "right middle", "right ring", "right little"]),
        ("Tenderness over the right snuffbox, scaphoid tubercle and lunate.",
         ["right anatomical_snuffbox", "right scaphoid_tubercle", "right lunate"]),
    ],
)  # fmt: skip
def test_a_list_of_places_is_a_field_each(said: str, expected: list[str]) -> None:
    assert facts(said) == [f"tenderness {place} present" for place in expected]


def test_the_digit_in_force_completes_a_joint_that_needs_one() -> None:
    assert facts("Left hand. Ring finger PIP joint swollen. DIP tender.") == [
        "swelling left ring pip present",
        "tenderness left ring dip present",
    ]


def test_a_change_of_side_ends_the_digit_in_force() -> None:
    assert facts("Left ring finger PIP joint swollen. Right hand. DIP joints tender.")[-1] == "tenderness right dip present"


@pytest.mark.parametrize(
    ("said", "site"),
    [
        ("Tinel's positive at the left elbow.", "cubital_tunnel"),
        ("Tinel's positive over the left carpal tunnel.", "carpal_tunnel"),
        ("Tinel's positive at the left wrist.", "carpal_tunnel"),
    ],
)
def test_the_site_of_a_tinel_test(said: str, site: str) -> None:
    assert facts(said) == [f"tinel_test left {site} positive"]


def test_a_movement_word_takes_its_joint() -> None:
    assert facts("Left elbow. Flexion one hundred and thirty degrees. Left wrist. Flexion sixty degrees.") == [
        "elbow_flexion left elbow 130 deg",
        "wrist_flexion left wrist 60 deg",
    ]


def test_the_position_of_testing_is_no_value() -> None:
    assert facts("Right wrist extension in thirty degrees of flexion power four.") == [
        "wrist_extension_power right wrist 4 {score} @in thirty degrees of flexion"
    ]


def test_the_size_of_a_scar_is_a_qualifier() -> None:
    (scar,) = draft("Two centimetre scar over the left palm.").fields
    assert (scar.value, scar.qualifier, scar.structure) == (None, "Two centimetre", "palm")


@pytest.mark.parametrize("said", ["all digits", "all five digits", "every digit", "each digit"])
def test_all_digits_are_five(said: str) -> None:
    fields = draft(f"Right hand. Sensation normal in {said}.").fields
    assert [f.digit for f in fields] == ["thumb", "index", "middle", "ring", "little"]
    assert not any(f.checked() for f in fields)


@pytest.mark.parametrize("said", ["PIP flexion ninety in all digits.", "FDP intact in all digits."])
def test_a_thumb_has_no_pip_joint_and_no_deep_flexor_of_that_name(said: str) -> None:
    assert [f.digit for f in draft(f"Right hand. {said}").fields] == ["index", "middle", "ring", "little"]


def test_all_fingers_are_four_and_the_thumb_is_asked_about() -> None:
    fields = draft("Right hand. Light touch normal in all fingers.").fields
    assert [f.digit for f in fields] == ["index", "middle", "ring", "little"]
    assert all(f.checked() for f in fields)
    named = draft("Right hand. Light touch normal in all fingers and reduced in the thumb.").fields
    assert not any(f.checked() for f in named)


def test_a_border_of_a_digit_is_no_nerve_and_stays_with_its_digit() -> None:
    fields = draft("Right hand. Light touch reduced in the ulnar half of the ring finger, normal in the thumb.").fields
    assert [(f.concept, f.digit, f.aspect, f.status) for f in fields] == [
        ("light_touch", "ring", "ulnar", "reduced"),
        ("light_touch", "thumb", None, "normal"),
    ]
