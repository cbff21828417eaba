"""What a number means: signs, units, grades, plausible ranges.

Signs are choices 5 and 6 of DEVELOPERS.md, "Modelling choices". From outside: the MRC scale (Medical Research Council, Aids
to the Examination of the Peripheral Nervous System, HMSO 1976), the normal ranges of the American Academy of Orthopaedic
Surgeons (Joint Motion: Method of Measuring and Recording, 1965), both quoted from memory, and the pound (NIST SP 811).
"""

from __future__ import annotations

import pytest
from spoken import draft, facts, flags

from dictation.lexicon.entries import Lexicon
from dictation.units import in_unit

SIGNS = [
    ("Right wrist extension sixty degrees.", "wrist_extension right wrist 60 deg", []),
    ("Right elbow extension minus ten degrees.", "elbow_extension right elbow -10 deg", []),
    ("Right elbow lacks twenty degrees of extension.", "elbow_extension right elbow -20 deg", []),
    ("Right elbow is fifteen degrees short of full extension.", "elbow_extension right elbow -15 deg", []),
    ("Right index PIP lacks fifteen degrees of extension actively.", "pip_extension right index pip -15 deg active", []),
    ("Right elbow extension ten degrees beyond neutral.", "elbow_extension right elbow 10 deg", []),
    ("Right elbow extension zero degrees.", "elbow_extension right elbow 0 deg", []),
    ("Right wrist extension neutral.", "wrist_extension right wrist 0 deg", []),
    ("Right elbow extension twenty degrees.", "elbow_extension right elbow 20 deg", ["direction_unclear check"]),
    ("Right index MCP extension twenty degrees.", "mcp_extension right index mcp 20 deg", ["direction_unclear check"]),
    ("Right wrist flexion twenty degrees short of full.", "wrist_flexion right wrist 20 deg", ["direction_unclear check"]),
    ("Right elbow flexion minus ten to one hundred and thirty degrees.", "elbow_flexion right elbow -10..130 deg", []),
    ("Right index MCP ten degrees of hyperextension to ninety degrees of flexion.",
     "range_of_motion right index mcp -10..90 deg", []),
    ("Right elbow hyperextension of ten degrees.", "hyperextension right elbow present 10 deg", []),
    ("Right index PIP fixed flexion deformity of twenty degrees.",
     "fixed_flexion_deformity right index pip present 20 deg", []),
    ("Right index PIP fixed flexion deformity minus twenty degrees.",
     "fixed_flexion_deformity right index pip present 20 deg", []),
]  # fmt: skip


@pytest.mark.parametrize(("said", "expected", "doubts"), SIGNS)
def test_signs(said: str, expected: str, doubts: list[str]) -> None:
    assert (facts(said), flags(said)) == ([expected], doubts)


def test_an_extension_lag_keeps_its_joint() -> None:
    said = "Right index PIP extension lag of fifteen degrees."
    assert facts(said) == ["extension_lag right index pip present 15 deg"]


def test_what_cannot_be_extended_beyond_asks_to_be_checked() -> None:
    (field,) = draft("Right elbow cannot extend beyond twenty degrees.").fields
    assert field.value == -20 or field.checked()


@pytest.mark.parametrize(
    ("said", "value", "unit", "doubts"),
    [
        ("Right grip strength forty two pounds.", 42, "[lb_av]", []),
        ("Right grip strength 20 kilograms.", 20, "kg", []),
        ("Right grip strength 20.", 20, "kg", ["unit_assumed check"]),
        ("Right wrist flexion 60.", 60, "deg", ["unit_assumed info"]),
        ("Pulp to palm distance on the right ring finger 25 millimetres.", 25, "mm", []),
        ("Pulp to palm distance on the right ring finger 2.5 centimetres.", 2.5, "cm", []),
    ],
)
def test_the_unit_said_is_kept_and_an_unsaid_one_is_told(said: str, value: float, unit: str, doubts: list[str]) -> None:
    (field,) = draft(said).fields
    assert (field.value, field.unit, flags(said)) == (value, unit, doubts)


@pytest.mark.parametrize(
    ("said", "inside"),
    [
        ("Right grip strength 100 kilograms.", True),
        ("Right grip strength 101 kilograms.", False),
        ("Right grip strength 220 pounds.", True),  # 99.79 kg
        ("Right grip strength 221 pounds.", False),  # 100.24 kg
        ("Pulp to palm distance on the right ring finger 120 millimetres.", True),
        ("Pulp to palm distance on the right ring finger 121 millimetres.", False),
    ],
)
def test_a_value_in_another_unit_is_converted_before_the_range_check(said: str, inside: bool) -> None:
    assert ("out_of_range check" not in flags(said)) is inside


def test_the_pound_is_the_international_avoirdupois_pound() -> None:
    """1 lb = 0.453 592 37 kg exactly: NIST Special Publication 811, appendix B."""
    assert in_unit(1.0, "[lb_av]", "kg") == 0.45359237
    assert in_unit(1.0, "kg", "kg") == in_unit(1.0, None, "kg") == 1.0


MRC = {
    "zero": (0, None), "one": (1, None), "two": (2, None), "three": (3, None), "four minus": (4, "-"), "four": (4, None),
    "four plus": (4, "+"), "five": (5, None),
}  # fmt: skip
"""The grades as published: 0 no contraction, 1 flicker or trace, 2 active movement with gravity eliminated, 3 against
gravity, 4 against gravity and resistance, with 4-, 4 and 4+ for slight, moderate and strong resistance, 5 normal power.
"""


@pytest.mark.parametrize("grade", MRC)
@pytest.mark.parametrize("muscle", ["wrist extension", "elbow flexion", "FPL", "first dorsal interosseous"])
@pytest.mark.parametrize("ending", ["out of five", "", "over five"])
def test_every_published_mrc_grade_is_read_without_a_doubt(grade: str, muscle: str, ending: str) -> None:
    said = f"Right {muscle} power {grade} {ending}".strip() + "."
    (field,) = draft(said).fields
    assert (field.value, field.grade_sign, field.unit, field.status) == (*MRC[grade], "{score}", None)
    assert flags(said) == []


@pytest.mark.parametrize(
    ("said", "doubt"),
    [
        ("Right elbow flexion power 6/5.", "out_of_range check"),
        ("Right elbow flexion power four out of ten.", "number_unclear check"),
    ],
)
def test_what_is_no_mrc_grade_asks_to_be_checked(said: str, doubt: str) -> None:
    assert doubt in flags(said)


def test_full_power_has_no_grade() -> None:
    assert facts("Right wrist flexion power full.") == ["wrist_flexion_power right wrist normal"]


def test_plausible_power_is_the_mrc_scale(lexicon: Lexicon) -> None:
    scales = {c.plausible for c in lexicon.concepts.values() if c.kind == "power"}
    assert scales == {(0.0, 5.0)}


AAOS = {
    "elbow flexion": 150, "forearm pronation": 80, "forearm supination": 80, "wrist extension": 70, "wrist flexion": 80,
    "wrist radial deviation": 20, "wrist ulnar deviation": 30, "index MCP flexion": 90, "index PIP flexion": 100,
    "index DIP flexion": 90, "thumb IP flexion": 80, "thumb MCP flexion": 50,
}  # fmt: skip


@pytest.mark.parametrize("movement", AAOS)
@pytest.mark.parametrize("side", ["right", "left"])
def test_a_published_normal_range_is_read_and_never_out_of_range(movement: str, side: str) -> None:
    said = f"{side} {movement} {AAOS[movement]} degrees."
    (field,) = draft(said).fields
    assert (field.value, field.unit, field.side) == (AAOS[movement], "deg", side)
    assert field.concept.endswith(movement.rsplit(" ", 1)[-1])
    assert flags(said) == []


@pytest.mark.parametrize("movement", AAOS)
def test_three_times_the_normal_range_is_out_of_range(movement: str) -> None:
    assert "out_of_range check" in flags(f"right {movement} {3 * AAOS[movement]} degrees.")


def test_a_comparator_is_kept_beside_the_value() -> None:
    assert facts("Capillary refill in the right index finger is less than two seconds.") == [
        "capillary_refill_time right index <2 s"
    ]


def test_a_run_of_weights_is_trials_in_order() -> None:
    said = "Grip strength. On the right, thirty one, thirty three and thirty two kilograms."
    assert [(f.value, f.trial, f.unit) for f in draft(said).fields] == [(31, 1, "kg"), (33, 2, "kg"), (32, 3, "kg")]
