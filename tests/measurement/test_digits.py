"""Digits: TAM-1 to TAM-6, STR-1 to STR-5, lag against contracture, KAP-1.

Sources: ASSH total active motion as summarised 2012; bands of a hand-surgery reference; Strickland & Glogovac 1980 as
tabulated in Tang 2013, adjusted 1985 quoted from memory; Kapandji 1986. Worked examples are arithmetic on those rows.
"""

from __future__ import annotations

import pytest
from measurement.building import confirmed, degrees, digit

from dictation.measurement.extension_lag import extension_lags
from dictation.measurement.movements import movements
from dictation.measurement.opposition import opposition_scores
from dictation.measurement.strickland import strickland, strickland_results
from dictation.measurement.total_active_motion import assh_grade, degree_grade, total_motions


def _joints(*values: float) -> dict[str, float]:
    return dict(zip(("mcp", "pip", "dip"), values, strict=True))


@pytest.mark.parametrize(
    ("flexion", "deficit", "total", "percent", "assh", "bands"),
    [
        ((80, 95, 60), (0, 10, 5), 220, "84.6", "Good", "Excellent"),  # TAM-1
        ((85, 110, 65), (0, 0, 0), 260, "100", "Excellent", "Excellent"),  # TAM-2
        ((70, 60, 30), (0, 20, 10), 130, "50", "Poor", "Fair"),  # TAM-3, with a boundary note
        ((75, 80, 45), (0, 5, 0), 195, "75", "Fair", "Good"),  # TAM-4
    ],
)
def test_tam(flexion: tuple[float, ...], deficit: tuple[float, ...], total: float, percent: str, assh: str, bands: str) -> None:
    moved = movements(confirmed(*digit(_joints(*flexion), _joints(*deficit))))
    (measure,) = total_motions(moved)
    assert measure.value == total
    assert f"{percent} percent of 260°; {assh} by percent, {bands} by the degree bands" in measure.text
    assert any("Exactly" in note for note in measure.notes) is (percent in ("50", "75"))


def test_tam_5_against_the_other_hand() -> None:
    right = digit(_joints(80, 95, 60), _joints(0, 10, 5))
    left = digit(_joints(90, 100, 54), _joints(0, 0, 0), side="left")
    measure = next(m for m in total_motions(movements(confirmed(*right, *left))) if m.side == "right")
    assert "90.2 percent of the left, Good if that side is uninjured" in measure.text


def test_tam_6_thumb() -> None:
    thumb = digit({"mcp": 50, "ip": 70}, {"mcp": 0, "ip": 10}, digit="thumb")
    (measure,) = total_motions(movements(confirmed(*thumb)))
    assert measure.value == 110
    assert "78.6 percent of 140°" in measure.text
    assert "Good by the degree bands" in measure.text


def test_a_joint_not_measured_is_named_and_nothing_is_assumed_straight() -> None:
    (measure,) = total_motions(movements(confirmed(*digit(_joints(80, 95, 60), {"pip": 10}))))
    assert measure.value is None
    assert measure.text == "Total active motion not worked out: MCP extension, DIP extension not measured"


def test_mode_not_stated_gives_no_total() -> None:
    assert list(total_motions(movements(confirmed(*digit(_joints(80, 95, 60), _joints(0, 10, 5), mode=None))))) == []


def test_passive_has_a_total_and_no_grade() -> None:
    (measure,) = total_motions(movements(confirmed(*digit(_joints(80, 95, 60), _joints(0, 10, 5), mode="passive"))))
    assert measure.kind == "total_passive_motion"
    assert "Good" not in measure.text


@pytest.mark.parametrize(
    ("percent", "grade"),
    [(100, "Excellent"), (99.9, "Good"), (75.1, "Good"), (75, "Fair"), (50.1, "Fair"), (50, "Poor"), (49.9, "Poor")],
)
def test_assh_bands_from_both_sides(percent: float, grade: str) -> None:
    assert assh_grade(percent)[0] == grade


@pytest.mark.parametrize(
    ("total", "finger", "thumb"),
    [(220, "Excellent", "Excellent"), (219, "Good", "Excellent"), (180, "Good", "Excellent"), (179, "Fair", "Excellent"),
     (129, "Poor", "Excellent"), (118, "Poor", "Good"), (97, "Poor", "Fair"), (69, "Poor", "Poor")],
)  # fmt: skip
def test_degree_bands_from_both_sides(total: float, finger: str, thumb: str) -> None:
    assert (degree_grade(total, "ring"), degree_grade(total, "thumb")) == (finger, thumb)


@pytest.mark.parametrize(
    ("flexion", "deficit", "percent", "original", "adjusted"),
    [
        ((90, 50), (10, 5), 71.4, "Good", "Good"),  # STR-1
        ((95, 60), (10, 5), 80.0, "Good", "Excellent"),  # STR-2
        ((60, 30), (20, 10), 34.3, "Poor", "Fair"),  # STR-3
        ((80, 35), (15, 10), 51.4, "Fair", "Good"),  # STR-5
    ],
)
def test_strickland(
    flexion: tuple[float, float], deficit: tuple[float, float], percent: float, original: str, adjusted: str
) -> None:
    both = digit(dict(zip(("pip", "dip"), flexion, strict=True)), dict(zip(("pip", "dip"), deficit, strict=True)))
    (measure,) = strickland_results(movements(confirmed(*both)))
    assert measure.value == pytest.approx(percent, abs=0.05)
    assert f"{original} (original), {adjusted} (adjusted)" in measure.text


def test_str_4_percent_is_the_rule_and_the_degree_band_is_said() -> None:
    percent, original, adjusted, note = strickland(149)
    assert (round(percent, 1), original, adjusted) == (85.1, "Excellent", "Excellent")
    assert note == "By the degree bands of the original it is Good."
    assert strickland(150)[3] == "Exactly 150° is in no degree band of the original."


def test_lag_against_contracture() -> None:
    pip = [degrees("pip_extension", value, mode=mode, digit="ring") for value, mode in ((-35, "active"), (-10, "passive"))]
    (measure,) = extension_lags(movements(confirmed(*pip)))
    assert measure.value == 25
    assert measure.text == (
        "PIP extension: active 35° short of straight, passive 10° short of straight; lag 25°, contracture 10°"
    )


def test_more_active_than_passive_is_said() -> None:
    pip = [degrees("pip_extension", value, mode=mode, digit="ring") for value, mode in ((0, "active"), (-10, "passive"))]
    (measure,) = extension_lags(movements(confirmed(*pip)))
    assert measure.value == 0
    assert "misheard" in measure.notes[0]


def test_kap_1() -> None:
    (measure,) = opposition_scores(confirmed(("kapandji_score", {"value": 8.0, "unit": "{score}"})))
    assert measure.text == "Kapandji 8: PIP crease of the little finger"
    assert len(measure.notes) == 2
