"""How far confidence means what it says, against an example worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from tests.benchmarks.reliability import SIZE, expected_calibration_error, reliability_svg

# Bins 0.9 to 1: four of 0.9, 0.9, 1 and 1, three right: |0.95 - 0.75| = 0.2, four of ten.
# Bin 0.5 to 0.6: four of 0.5, one right: |0.5 - 0.25| = 0.25, four of ten.
# Bin 0.1 to 0.2: one of 0.1, right: 0.9, one of ten. Bin 0 to 0.1: one of 0, wrong: 0.
SURE = np.array([0.9, 0.9, 1.0, 1.0, 0.5, 0.5, 0.5, 0.5, 0.1, 0.0])
RIGHT = np.array([1, 1, 1, 0, 1, 0, 0, 0, 1, 0], bool)
ERROR = 0.4 * 0.2 + 0.4 * 0.25 + 0.1 * 0.9


def test_the_error_is_the_gap_of_each_bin_weighted_by_how_many_it_holds() -> None:
    assert expected_calibration_error(SURE, RIGHT) == pytest.approx(ERROR) == pytest.approx(0.27)
    order = np.random.default_rng(1).permutation(len(SURE))
    assert expected_calibration_error(SURE[order], RIGHT[order]) == pytest.approx(ERROR)


def test_confidence_that_means_what_it_says_has_no_error_and_none_has_none() -> None:
    assert expected_calibration_error(np.full(10, 0.7), np.arange(10) < 7) == 0
    assert expected_calibration_error(np.zeros(0), np.zeros(0, bool)) == 0


def test_the_plot_has_a_dot_for_each_bin_where_its_confidence_and_its_share_right_meet() -> None:
    plot = reliability_svg(SURE, RIGHT, "invented")
    assert f"n = {len(SURE)}, expected calibration error 0.270" in plot
    assert plot.count("<circle") == 4
    side = SIZE - 90
    x, y = 45 + side * 0.95, SIZE - 45 - side * 0.75
    assert f'<circle cx="{x:.1f}" cy="{y:.1f}"' in plot
