"""Girth, volume, web span and pulp to palm against the other side; a total active motion said as one number.

Arithmetic on invented values. Grades: ASSH as summarised 2012 (above 75 percent Good) and the degree bands of a hand-surgery
reference (220 and more Excellent), reference values 3.1.
"""

from __future__ import annotations

from typing import Any

import pytest
from measurement.building import confirmed, digit

from dictation.measurement.movements import movements
from dictation.measurement.over_time import Visit, over_time
from dictation.measurement.result import Measure
from dictation.measurement.sizes import sizes_against_other_side
from dictation.measurement.total_active_motion import said_totals

Given = tuple[str, dict[str, Any]]


def _size(concept: str, value: float, unit: str, side: str = "right", **keys: Any) -> Given:
    return concept, {"value": value, "unit": unit, "side": side, **keys}


def _compared(*given: Given) -> list[Measure]:
    return list(sizes_against_other_side(confirmed(*given)))


@pytest.mark.parametrize(
    ("right", "left", "text", "side", "value"),
    [
        (_size("hand_volume", 500, "mL"), _size("hand_volume", 400, "mL", "left"),
         "Hand volume: 100 mL less on the left, 80 percent of the right", "left", 100),
        (_size("first_web_span", 6, "cm"), _size("first_web_span", 9, "cm", "left"),
         "First web span: 3 cm less on the right, 66.7 percent of the left", "right", 3),
        (_size("pulp_to_palm_distance", 20, "mm", digit="ring"), _size("pulp_to_palm_distance", 1, "cm", "left", digit="ring"),
         "Pulp to palm: 10 mm less on the left, 50 percent of the right", "left", 10),
        (_size("limb_circumference", 25, "cm"), _size("limb_circumference", 25, "cm", "left"),
         "Circumference: the same on both sides", None, 0),
    ],
)  # fmt: skip
def test_one_side_against_the_other(right: Given, left: Given, text: str, side: str | None, value: float) -> None:
    (measure,) = _compared(right, left)
    assert (measure.text, measure.side, measure.value) == (text, side, value)


@pytest.mark.parametrize(
    "key",
    [{"qualifier": "five centimetres below the elbow"}, {"digit": "ring"}, {"structure": "forearm"}, {"occasion": "after"},
     {"comparator": "<"}],
)  # fmt: skip
def test_only_like_is_compared(key: dict[str, Any]) -> None:
    assert _compared(_size("limb_circumference", 25, "cm"), _size("limb_circumference", 24, "cm", "left", **key)) == []


def test_a_size_said_twice_is_not_compared() -> None:
    right = _size("hand_volume", 500, "mL")
    assert _compared(right, right, _size("hand_volume", 400, "mL", "left")) == []


@pytest.mark.parametrize(
    ("concept", "unit", "first", "second", "followed"),
    [
        ("grip_strength", "kg", "with the dynamometer", "with the bulb", False),
        ("grip_strength", "kg", "second handle", "third handle", False),
        ("grip_strength", "kg", "with the dynamometer", "with the dynamometer", True),
        ("grip_strength", "kg", "painful", None, True),  # no word of how it was measured
        ("limb_circumference", "cm", "ten above the elbow", "five below the elbow", False),
        ("limb_circumference", "cm", "ten above the elbow", "ten above the elbow", True),
    ],
)
def test_over_time_the_device_and_the_level_said_must_agree(
    concept: str, unit: str, first: str | None, second: str | None, followed: bool
) -> None:
    visits = [
        Visit(at, "A", tuple(confirmed((concept, {"value": 20.0, "unit": unit, "qualifier": said}))))
        for at, said in (("2026-01-01", first), ("2026-02-01", second))
    ]
    assert bool(over_time(visits)) is followed


def _said(value: float, name: str | None = "index", *more: Given) -> list[Measure]:
    fields = confirmed(("total_active_motion", {"digit": name, "value": value, "unit": "deg"}), *more)
    return list(said_totals(fields, movements(fields)))


@pytest.mark.parametrize(
    ("value", "digit_", "percent", "assh", "bands"),
    [
        (260, "index", "100", "Excellent", "Excellent"),
        (220, "index", "84.6", "Good", "Excellent"),
        (195, "index", "75", "Fair", "Good"),
        (196, "index", "75.4", "Good", "Good"),
        (120, "index", "46.2", "Poor", "Poor"),
        (119, "thumb", "85", "Good", "Excellent"),
        (97, "thumb", "69.3", "Fair", "Fair"),
    ],
)
def test_a_total_said_as_one_number_is_graded_by_both_bandings(
    value: float, digit_: str, percent: str, assh: str, bands: str
) -> None:
    (measure,) = _said(value, digit_)
    assert f"{value:g}°, {percent} percent of" in measure.text
    assert f"{assh} by percent, {bands} by the degree bands" in measure.text


def test_a_total_of_no_named_digit_has_no_grade() -> None:
    assert _said(220, None) == []


def test_a_total_said_beside_its_joints_is_compared_not_replaced() -> None:
    joints = digit({"mcp": 80, "pip": 90, "dip": 50}, {"mcp": 0, "pip": 10, "dip": 0})  # 210
    (measure,) = _said(220, "index", *joints)
    assert measure.value == 220
    assert "The joints add up to 210°." in measure.notes
    (alike,) = _said(210, "index", *joints)
    assert not any("add up" in note for note in alike.notes)
