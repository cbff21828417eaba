"""A place between a finding and the name of a test or movement: whose it is."""

from __future__ import annotations

import pytest
from spoken import facts


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            "left thumb tender at the cmc joint grind test positive",
            ["tenderness left thumb cmc present", "cmc_grind_test left thumb cmc positive"],
        ),
        (
            "right wrist tender over the ecu synergy test negative",
            ["tenderness right extensor_carpi_ulnaris present", "ecu_synergy_test right negative"],
        ),
        (
            "swelling of the right elbow flexion ninety",
            ["swelling right elbow present", "elbow_flexion right elbow 90 deg"],
        ),
    ],
)
def test_a_place_that_a_finding_needs_is_not_swallowed_by_the_name_of_a_test(text: str, expected: list[str]) -> None:
    assert facts(text) == expected


@pytest.mark.parametrize(
    "text",
    ["The CMC grind test on the left is positive.", "On the left, CMC grind test positive.", "CMC grind test positive left."],
)
def test_without_a_finding_before_it_the_name_stays_whole(text: str) -> None:
    assert facts(text) == ["cmc_grind_test left thumb cmc positive"]


def test_a_mark_between_them_leaves_each_its_own() -> None:
    assert facts("Right wrist tender over the ulnar head. ECU synergy test negative.") == [
        "tenderness right ulnar_head present",
        "ecu_synergy_test right negative",
    ]
