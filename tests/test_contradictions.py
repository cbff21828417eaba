"""Readings that cannot all be true are flagged on every field concerned, with the words; truthful ones are left alone.

From outside: total active motion is the sum of flexion at the digit's joints less the losses of extension (American Society
for Surgery of the Hand, as summarised). The rest is anatomy, arithmetic, or common practice, no source.
"""

from __future__ import annotations

import pytest

from dictation import draft_from_text
from dictation.record import FlagCode

JOINTS = "Right index finger. MCP flexion eighty degrees. PIP flexion ninety degrees. DIP flexion sixty degrees. "
STRAIGHT = "MCP extension zero degrees. PIP extension zero degrees. DIP extension zero degrees. "


def doubted(said: str) -> dict[str, str]:
    """Concept and number of each field in a contradiction, with its message."""
    return {
        f"{f.concept} {f.value:g}" if f.value is not None else f"{f.concept} {f.status}": flag.message
        for f in draft_from_text(said).fields
        for flag in f.flags
        if flag.code is FlagCode.contradiction and flag.level == "check"
    }


@pytest.mark.parametrize(
    ("said", "fields"),
    [
        ("Left wrist swollen. No swelling of the left wrist.", ["swelling present", "swelling absent"]),
        ("Left wrist flexion seventy degrees. Left wrist flexion forty degrees.", ["wrist_flexion 70", "wrist_flexion 40"]),
        ("Left index pulp to palm distance 28 millimetres. Left index pulp to palm distance 30 millimetres.",
         ["pulp_to_palm_distance 28", "pulp_to_palm_distance 30"]),
        ("Left Phalen's positive. Left Phalen's negative.", ["phalen_test positive", "phalen_test negative"]),
        ("No swelling of the right hand. Right index PIP swollen.", ["swelling absent", "swelling present"]),
        ("Right elbow fixed flexion deformity of forty degrees. Right elbow flexion thirty degrees.",
         ["fixed_flexion_deformity 40", "elbow_flexion 30"]),
        ("Right elbow lacks fifty degrees of extension. Right elbow flexion thirty degrees.",
         ["elbow_extension -50", "elbow_flexion 30"]),
        ("Right elbow range ten to ninety degrees. Right elbow flexion one hundred and thirty degrees.",
         ["elbow_flexion 130", "range_of_motion None"]),
        ("Right elbow range ten to ninety degrees. Right elbow fixed flexion deformity of forty degrees.",
         ["fixed_flexion_deformity 40", "range_of_motion None"]),
        ("Right wrist flexion active seventy degrees. Right wrist flexion passive fifty degrees.",
         ["wrist_flexion 70", "wrist_flexion 50"]),
        (JOINTS + "Total active motion three hundred degrees.",
         ["total_active_motion 300", "mcp_flexion 80", "pip_flexion 90", "dip_flexion 60"]),
        (JOINTS + STRAIGHT + "Total active motion one hundred and fifty degrees.",
         ["total_active_motion 150", "mcp_flexion 80", "pip_flexion 90", "dip_flexion 60"]),
        ("Right thumb DIP joint tender.", ["tenderness present"]),
        ("Right thumb PIP flexion fifty degrees.", ["pip_flexion 50"]),
        ("Right index IP joint tender.", ["tenderness present"]),
    ],
)  # fmt: skip
def test_what_cannot_all_be_true_is_flagged_on_every_field_concerned(said: str, fields: list[str]) -> None:
    found = doubted(said)
    assert sorted(found) == sorted(fields)
    assert all('"' in message and message.endswith(".") for message in found.values())


@pytest.mark.parametrize(
    "said",
    [
        "Left wrist swollen. No swelling of the right wrist.",
        "Left wrist flexion seventy degrees actively, eighty passively.",
        "Right wrist flexion active seventy five degrees. Right wrist flexion passive seventy degrees.",  # error of measurement
        "Left grip strength 20 kilograms. Left grip strength 44 pounds.",
        "Right elbow range ten to one hundred and thirty degrees. Right elbow flexion one hundred and thirty degrees.",
        "Right elbow fixed flexion deformity of twenty degrees. Right elbow flexion one hundred degrees.",
        JOINTS + "Total active motion two hundred and thirty degrees.",
        JOINTS + "Total active motion two hundred degrees.",  # a loss of extension may not have been mentioned
        JOINTS + "Right index PIP lacks thirty degrees of extension. Total active motion two hundred degrees.",
        "Left grip strength 20 kilograms, 22 kilograms, 24 kilograms, mean 22 kilograms.",
        "Right index swollen. No swelling of the right middle finger.",
        "Right index FDP intact. Right thumb FPL intact.",
    ],
)
def test_truthful_readings_are_left_alone(said: str) -> None:
    assert doubted(said) == {}


def test_a_mean_that_its_trials_do_not_give_is_doubted() -> None:
    found = doubted("Left grip strength 20 kilograms, 22 kilograms, 24 kilograms, mean 30 kilograms.")
    assert list(found) == ["grip_strength 30"]
    assert "(22)" in found["grip_strength 30"]


def test_of_five_pips_only_the_thumbs_is_doubted() -> None:
    said = "Right thumb, index, middle, ring and little PIP joints tender."
    fields = draft_from_text(said).fields
    assert [(f.digit, f.joint) for f in fields if any(g.code is FlagCode.contradiction for g in f.flags)] == [("thumb", "pip")]
    assert len(fields) == 5


def test_a_thumb_has_no_tendon_of_the_fingers() -> None:
    (message,) = doubted("Right thumb flexor digitorum profundus intact.").values()
    assert message.startswith("The thumb has no flexor digitorum profundus: ")
