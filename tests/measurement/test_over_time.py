"""The same reference on several dates: only like against like, nothing filled in. ERR-4 and GRIP-6; invented values."""

from __future__ import annotations

from typing import Any

import pytest
from measurement.building import confirmed, degrees

from dictation.measurement.over_time import Visit, over_time


def _visits(*given: tuple[str, str, list[tuple[str, dict[str, Any]]]]) -> list[Visit]:
    return [Visit(at, examiner, tuple(confirmed(*fields))) for at, examiner, fields in given]


@pytest.mark.parametrize(
    ("examiner", "said"),
    [
        ("B", "6 more, within measurement error, another examiner"),  # ERR-4
        ("A", "6 more, over the working rule of 5°, within the published 12 to 30°"),
    ],
)
def test_a_change_is_read_by_the_error_and_the_examiner(examiner: str, said: str) -> None:
    visits = _visits(
        ("2026-03-01", "A", [degrees("wrist_extension", 50)]), ("2026-06-01", examiner, [degrees("wrist_extension", 56)])
    )
    (series,) = over_time(visits)
    assert [point.value for point in series.points] == [50, 56]
    assert series.points[1].changed == said


@pytest.mark.parametrize(("now", "said"), [(24, "below"), (25, "within"), (26.6, "above")])
def test_grip_6_is_read_by_the_least_change_that_matters(now: float, said: str) -> None:
    grip = [("grip_strength", {"part": "power", "value": value, "unit": "kg"}) for value in (20.0, float(now))]
    (series,) = over_time(_visits(("2026-01-01", "A", [grip[0]]), ("2026-02-01", "A", [grip[1]])))
    assert f", {said} the 5 to 6.5 kg" in series.points[1].changed


@pytest.mark.parametrize(
    "key", [{"mode": "passive"}, {"side": "left"}, {"occasion": "after block"}, {"position": "elbow straight"}]
)
def test_only_like_with_like(key: dict[str, Any]) -> None:
    visits = _visits(
        ("2026-01-01", "A", [degrees("wrist_flexion", 50)]), ("2026-02-01", "A", [degrees("wrist_flexion", 60, **key)])
    )
    assert over_time(visits) == []


def test_dates_come_in_order_and_a_date_without_the_value_has_none() -> None:
    visits = _visits(
        ("2026-03-01", "A", [degrees("wrist_flexion", 60)]),
        ("2026-02-01", "A", [degrees("wrist_extension", 40)]),
        ("2026-01-01", "A", [degrees("wrist_flexion", 50)]),
    )
    (series,) = over_time(visits)
    assert [(point.at, point.value) for point in series.points] == [("2026-01-01", 50), ("2026-03-01", 60)]


def test_pounds_and_kilograms_are_one_series() -> None:
    grip = [("grip_strength", {"part": "power", "value": v, "unit": u}) for v, u in ((20.0, "kg"), (60.0, "[lb_av]"))]
    (series,) = over_time(_visits(("2026-01-01", "A", [grip[0]]), ("2026-02-01", "A", [grip[1]])))
    assert series.unit == "kg"
    assert series.points[1].value == pytest.approx(27.2, abs=0.05)


def test_a_value_said_twice_at_one_date_is_left_out() -> None:
    twice = [degrees("wrist_flexion", 50), degrees("wrist_flexion", 55)]
    assert over_time(_visits(("2026-01-01", "A", twice), ("2026-02-01", "A", [degrees("wrist_flexion", 60)]))) == []


@pytest.mark.parametrize(
    ("concept", "unit"),
    [("limb_circumference", "cm"), ("hand_volume", "mL"), ("first_web_span", "cm"), ("pulp_to_palm_distance", "cm")],
)
def test_the_therapists_other_measures_are_followed_too(concept: str, unit: str) -> None:
    fields = [(concept, {"value": value, "unit": unit}) for value in (20.0, 19.0)]
    (series,) = over_time(_visits(("2026-01-01", "A", [fields[0]]), ("2026-02-01", "A", [fields[1]])))
    assert series.points[1].changed == "1 less"
