"""Words without punctuation: where a statement ends and the next begins, and lists without their commas."""

from __future__ import annotations

import pytest
from spoken import facts


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        (
            "no swelling bruising or deformity of the right wrist left wrist no swelling",
            [
                "swelling right wrist absent",
                "bruising right wrist absent",
                "deformity right wrist absent",
                "swelling left wrist absent",
            ],
        ),
        ("consent obtained on the right there are no scars", ["consent present", "scar right absent"]),
        (
            "she reports numbness in the right hand look no scars on the right",
            ["reported_numbness right present", "scar right absent"],
        ),
        (
            "right wrist extension seventy flexion seventy no sixty five",
            ["wrist_extension right wrist 70 deg", "wrist_flexion right wrist 65 deg"],
        ),
        (
            "grip strength right thirty nine kilos left thirty seven kilos radial pulses present bilaterally",
            [
                "grip_strength right 39 kg",
                "grip_strength left 37 kg",
                "radial_pulse right radial_artery normal",
                "radial_pulse left radial_artery normal",
            ],
        ),
    ],
)
def test_statements_are_parted_without_punctuation(said: str, expected: list[str]) -> None:
    assert facts(said) == expected
