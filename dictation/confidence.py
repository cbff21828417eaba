"""A field's confidence: how likely it is to be right, from how surely its words were heard and what doubts it carries.

A logistic curve fitted offline on fields drafted from synthetic voices, right or wrong by their expected fields
(tests/benchmarks/fit_confidence.py, which prints the coefficients below). It says nothing yet about people.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import astuple, dataclass

TYPED = 0.97
"""Base for typed text, where no word was heard; not fitted."""
PENALTY = {"check": 0.25, "info": 0.02}
"""What each flag takes off it."""
LEAST, MOST = 0.02, 0.98


@dataclass(frozen=True, slots=True)
class Support:
    """What speaks for a field. least, mean: probabilities of the words it rests on. doubts: its flags, one of
    level info counting a tenth; three at most. noise: from 0, the voice 20 dB over the noise or more, to 2, no louder than it.
    """

    least: float
    mean: float
    doubts: float
    noise: float


BIAS = 0.37
WEIGHTS = (1.52, 0.95, -0.59, -1.16)  # in the order of Support


def support(probabilities: Sequence[float], levels: Sequence[str], over_noise_db: float | None = None) -> Support:
    """Return what speaks for a field heard with these word probabilities (not empty) and flagged at these levels.

    over_noise_db: how far the voice stands over the noise of its recording; None where that is not known.
    """
    doubts = sum(1.0 if level == "check" else 0.1 for level in levels)
    noise = 0.0 if over_noise_db is None else max(0.0, min(2.0, (20.0 - over_noise_db) / 10))
    return Support(min(probabilities), sum(probabilities) / len(probabilities), min(3.0, doubts), noise)


def heard_confidence(found: Support) -> float:
    """Return the confidence of a field from sound, LEAST to MOST."""
    x = BIAS + sum(weight * value for weight, value in zip(WEIGHTS, astuple(found), strict=True))
    return round(max(LEAST, min(MOST, 1 / (1 + math.exp(-x)))), 3)


def typed_confidence(levels: Sequence[str]) -> float:
    """Return the confidence of a field from typed text."""
    return round(max(0.05, TYPED - sum(PENALTY[level] for level in levels)), 3)
