"""Logistic regression with a light ridge, for coefficients that ship; and how good its probabilities are."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.stats import rankdata

RIDGE = 0.3
FOLDS = 5
NEVER_CERTAIN = 1e-6
"""One thing held for certain and wrong must not count without end."""

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


def fitted(x: Floats, y: Bools, signs: NDArray[np.int64]) -> Floats:
    """Return bias and weights, those that come out with the wrong sign held at nothing, the worst first.

    signs: which way each value may count, 1 or -1; one that happens to go the other way on these recordings teaches nothing.
    """
    held = np.zeros(x.shape[1], bool)
    while True:
        weights = _fitted(np.where(held, 0.0, x), y)
        wrong = weights[1:] * signs
        if wrong.min() >= 0:
            return weights
        held[wrong.argmin()] = True


def _fitted(x: Floats, y: Bools) -> Floats:
    """Newton's method; the ridge leaves the bias free, and a value that is always 0 a weight of 0."""
    x = np.column_stack([np.ones(len(x)), x])
    ridge = np.diag([0.0, *[RIDGE] * (x.shape[1] - 1)])
    weights = np.zeros(x.shape[1])
    for _ in range(50):
        p = 1 / (1 + np.exp(-x @ weights))
        gradient = x.T @ (p - y) + ridge @ weights
        weights -= np.linalg.solve(x.T @ (x * (p * (1 - p))[:, None]) + ridge, gradient)
    return weights


def sureness(weights: Floats, x: Floats) -> Floats:
    """Return the probability of each row, from bias and weights."""
    return np.asarray(1 / (1 + np.exp(-(weights[0] + x @ weights[1:]))))


def held_out(x: Floats, y: Bools, recordings: NDArray[np.int64], signs: NDArray[np.int64]) -> Floats:
    """Return the probability of each row by a fit on the other recordings, a fifth of them left out at a time."""
    sure = np.zeros(len(y))
    for fold in range(FOLDS):
        out = recordings % FOLDS == fold
        if out.any():
            sure[out] = sureness(fitted(x[~out], y[~out], signs), x[out])
    return sure


def log_loss(sure: Floats, right: Bools) -> float:
    """Return the mean of -log of the probability given to what was the case: 0 at best, 0.693 for always a half.

    >>> round(log_loss(np.array([0.5, 0.5]), np.array([True, False])), 3)
    0.693
    """
    given = np.clip(np.where(right, sure, 1 - sure), NEVER_CERTAIN, 1)
    return float(-np.log(given).mean())


def ranking(sure: Floats, right: Bools) -> float:
    """Return how often one that is right is surer than one that is wrong, equal ones half: the area under the ROC curve.

    >>> ranking(np.array([0.9, 0.4, 0.4, 0.1]), np.array([True, True, False, False]))
    0.875
    """
    ranks, n = rankdata(sure), int(right.sum())
    return float((ranks[right].sum() - n * (n + 1) / 2) / (n * (len(right) - n)))
