"""Grip and pinch: GRIP-1 to GRIP-6 on Mathiowetz 1985, Dodds 2014 and Petersen 1989; percentiles against scipy.

Worked examples are arithmetic on those tables; the least change that matters is Bohannon 2019 (abstract).
"""

from __future__ import annotations

import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from measurement.building import confirmed
from scipy import stats

from dictation.measurement.result import Patient
from dictation.measurement.strength import (
    KG_PER_LB,
    against_norm,
    against_other_hand,
    best_grip,
    percentile,
    strengths,
    trial_means,
)
from dictation.measurement.tables import strength_norm


def _grip(value: float, side: str = "right", unit: str = "kg", **keys: Any) -> tuple[str, dict[str, Any]]:
    return "grip_strength", {"part": "power", "value": float(value), "unit": unit, "side": side, **keys}


@pytest.mark.parametrize(
    ("pounds", "side", "patient", "z", "percent", "kg"),
    [
        (95, "right", Patient(42, "male"), -1.05, "81.3", 43.1),  # GRIP-1
        (30, "left", Patient(67, "female"), -1.34, "73.2", 13.6),  # GRIP-2
    ],
)
def test_grip_against_the_norm(pounds: float, side: str, patient: Patient, z: float, percent: str, kg: float) -> None:
    (measure,) = against_norm(strengths(confirmed(_grip(pounds, side, "[lb_av]"))), patient)
    assert measure.value == pytest.approx(z, abs=0.005)
    assert f"{percent} percent of the mean" in measure.text
    assert pounds * KG_PER_LB == pytest.approx(kg, abs=0.05)


def test_grip_3_between_the_centiles_interpolated_by_age() -> None:
    (measure,) = best_grip(strengths(confirmed(_grip(41), _grip(38, "left"))), Patient(52, "male"))
    assert measure.text == "Best grip of either hand 41 kg, between the 25th (40.6 kg) and the 50th centile (47.6 kg)"


@pytest.mark.parametrize(
    ("dominant", "said"),
    [
        ("right", "right 80 percent of the left; 72.7 percent of the 33 kg that the ten percent rule expects"),
        ("left", "right 80 percent of the left"),
        (None, "right 80 percent of the left"),
    ],
)
def test_grip_4_the_dominance_rule(dominant: Any, said: str) -> None:
    (measure,) = against_other_hand(strengths(confirmed(_grip(24), _grip(30, "left"))), dominant)
    assert measure.text == f"Grip: {said}"
    assert measure.notes


def test_hands_of_the_same_strength_are_neither_s_deficit() -> None:
    """Plain arithmetic; by the ten percent rule (Petersen et al. 1989) it is the dominant one's."""
    (measure,) = against_other_hand(strengths(confirmed(_grip(30), _grip(30, "left"))), None)
    assert (measure.side, measure.value, measure.text) == (None, 100, "Grip: both hands the same")
    (measure,) = against_other_hand(strengths(confirmed(_grip(30), _grip(30, "left"))), "right")
    assert "90.9 percent of the 33 kg" in measure.text


def test_grip_5_one_definition() -> None:
    (measure,) = against_other_hand(strengths(confirmed(_grip(30), _grip(20, "left"))), "right")
    assert "73.3 percent of the 27.3 kg" in measure.text


def test_mean_of_three_and_a_high_variation() -> None:
    trials = [_grip(value, trial=n) for n, value in enumerate((20, 30, 25), 1)]
    (measure,) = trial_means(strengths(confirmed(*trials)))
    assert measure.value == 25
    assert "coefficient of variation 20 percent" in measure.text  # SD 5 of n - 1
    assert "proves none of them" in measure.notes[0]


def test_a_spoken_mean_beside_its_trials_is_compared_not_averaged() -> None:
    trials = [_grip(value, trial=n) for n, value in enumerate((28, 30, 29), 1)]
    (measure,) = trial_means(strengths(confirmed(*trials, _grip(35, trial="mean"))))
    assert measure.value == 29
    assert measure.notes == ("The mean said was 35 kg.",)


@pytest.mark.parametrize("patient", [Patient(), Patient(40), Patient(None, "male")])
def test_without_age_or_sex_it_says_so(patient: Patient) -> None:
    (measure,) = against_norm(strengths(confirmed(_grip(30))), patient)
    assert measure.value is None
    assert "not given" in measure.text


@pytest.mark.parametrize(("age", "found"), [(19, False), (20, True), (24.9, True), (25, True), (80, True)])
def test_ages_of_the_norm(age: float, found: bool) -> None:
    assert (strength_norm("grip_strength", "male", age, "right") is not None) is found


@pytest.mark.parametrize(
    ("concept", "age", "side", "mean", "standing"),
    [  # men, Mathiowetz 1985: grip and tip from reprints, key from memory
        ("grip_strength", 24.9, "right", 121.0, "verified"),
        ("grip_strength", 25, "left", 110.5, "verified"),
        ("tip_pinch_strength", 30, "right", 17.4, "verified"),
        ("key_pinch_strength", 30, "right", 26.4, "published"),
        ("tripod_pinch_strength", 30, "right", 24.7, "published"),
    ],
)
def test_rows_of_the_norm(concept: str, age: float, side: Any, mean: float, standing: str) -> None:
    row = strength_norm(concept, "male", age, side)
    assert row is not None
    assert (row[0], row[2].standing) == (mean, standing)


@pytest.mark.parametrize("z", [-3.1, -1.05, 0.0, 0.5, 2.33])
def test_percentiles_agree_with_scipy(z: float) -> None:
    assert percentile(z) == pytest.approx(100 * float(stats.norm.cdf(z)), abs=1e-9)


@given(st.lists(st.floats(5, 60), min_size=2, max_size=5))
def test_mean_and_variation_agree_with_scipy(trials: list[float]) -> None:
    (measure,) = trial_means(strengths(confirmed(*[_grip(value, trial=n) for n, value in enumerate(trials, 1)])))
    assert measure.value == pytest.approx(stats.tmean(trials))
    said = re.search(r"coefficient of variation ([\d.]+) percent", measure.text)
    assert said is not None
    assert float(said[1]) == pytest.approx(100 * stats.variation(trials, ddof=1), abs=0.051)


def test_less_than_and_units_unknown_are_left_out() -> None:
    assert strengths(confirmed(_grip(30, comparator="<"), _grip(30, unit="{score}"))) == []
