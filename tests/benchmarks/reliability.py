"""How far confidence means what it says: expected calibration error, and a reliability plot as SVG text."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

BINS = 10
SIZE, EDGE = 400, 45  # of the plot, in pixels


def _bins(sure: NDArray[np.float64], right: NDArray[np.bool_]) -> Iterator[tuple[float, float, int]]:
    """Give mean confidence, share right and count of each bin that holds any."""
    which = np.minimum((sure * BINS).astype(int), BINS - 1)
    for i in range(BINS):
        held = which == i
        if held.any():
            yield float(sure[held].mean()), float(right[held].mean()), int(held.sum())


def expected_calibration_error(sure: NDArray[np.float64], right: NDArray[np.bool_]) -> float:
    """Return the mean gap between confidence and share right, weighted by count, over ten equal bins.

    Source: Naeini, Cooper and Hauskrecht 2015, "Obtaining well calibrated probabilities using Bayesian binning".

    >>> expected_calibration_error(np.array([0.95, 0.95, 0.45, 0.45]), np.array([True, True, True, False]))
    0.05
    """
    total = sum(n for _, _, n in _bins(sure, right))
    return round(sum(n * abs(mean - share) for mean, share, n in _bins(sure, right)) / total, 6) if total else 0.0


def reliability_svg(sure: NDArray[np.float64], right: NDArray[np.bool_], title: str) -> str:
    """Return the plot: confidence across, share right upwards, a dot a bin with its area by count, the diagonal dashed."""
    side = SIZE - 2 * EDGE

    def x(value: float) -> float:
        return EDGE + side * value

    def y(value: float) -> float:
        return SIZE - EDGE - side * value

    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{SIZE}" height="{SIZE}" font-family="sans-serif" font-size="11">',
        f'<rect width="{SIZE}" height="{SIZE}" fill="white"/>',
        f'<text x="{SIZE / 2}" y="20" text-anchor="middle">{title}: n = {len(sure)}, '
        f"expected calibration error {expected_calibration_error(sure, right):.3f}</text>",
        f'<rect x="{EDGE}" y="{EDGE}" width="{side}" height="{side}" fill="none" stroke="black"/>',
        f'<line x1="{x(0)}" y1="{y(0)}" x2="{x(1)}" y2="{y(1)}" stroke="grey" stroke-dasharray="4"/>',
        f'<text x="{SIZE / 2}" y="{SIZE - 8}" text-anchor="middle">confidence</text>',
        f'<text x="14" y="{SIZE / 2}" text-anchor="middle" transform="rotate(-90 14 {SIZE / 2})">share right</text>',
    ]
    for tick in (0.0, 0.5, 1.0):
        parts.append(f'<text x="{x(tick)}" y="{SIZE - EDGE + 15}" text-anchor="middle">{tick:g}</text>')
        parts.append(f'<text x="{EDGE - 6}" y="{y(tick) + 4}" text-anchor="end">{tick:g}</text>')
    for mean, share, n in _bins(sure, right):
        radius = 3 + 20 * (n / len(sure)) ** 0.5
        parts.append(f'<circle cx="{x(mean):.1f}" cy="{y(share):.1f}" r="{radius:.1f}" fill="steelblue" opacity="0.7"/>')
        parts.append(f'<text x="{x(mean):.1f}" y="{y(share) - radius - 3:.1f}" text-anchor="middle">{n}</text>')
    return "\n".join([*parts, "</svg>", ""])
