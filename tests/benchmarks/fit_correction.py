"""The weights of dictation/correction/slots.py, fitted: ``python -m tests.benchmarks.fit_correction``.

Logistic regression on the tuning half of our own mishearings, against ordinary English and correct clinical text (tuning
files alone). A slot and a term are an example; right where the field made of it names the term that was said. The first
weight is then moved until corrections of text that was right stay within the bar.
"""

from __future__ import annotations

import argparse
from typing import Any

import numpy as np

from dictation.correction.correct import corrector_for
from dictation.correction.slots import NAMES
from dictation.lexicon.loading import load_lexicon
from dictation.transcript import read_text
from tests.benchmarks.bench_mishearings import clinical, misheard, ordinary, read_rows, transcript

RIDGE = 0.02
STEPS = 60
TEXT_WEIGHT = 3.0


def examples(*, loop: bool) -> tuple[Any, Any, Any, list[Any]]:
    """Return features, whether right, weights, and the sentence that each is of."""
    corrector = corrector_for(load_lexicon())
    found: list[tuple[tuple[float, ...], bool, float, Any]] = []
    for number, row in enumerate(read_rows("tuning")):
        if not misheard(row):
            continue
        heard = transcript(row, loop=loop)
        mine = list(corrector.slot_hits(heard))
        meant = [hit for hit in mine if row["term"] in hit.target.terms]
        best = min((hit.distance for hit in meant), default=2.0)
        for hit in mine:
            if row["term"] not in hit.target.terms:
                found.append((hit.features, False, 1.0, number))
            elif hit.distance <= best + 0.03:
                found.append((hit.features, True, 1.0, number))
    right = [transcript(row, loop=True) for row in read_rows("tuning", talk=True)]
    if not loop:
        right = [read_text(text) for text in (*ordinary(tuning=True), *clinical(tuning=True))]
    for heard in right:
        found += [(hit.features, False, TEXT_WEIGHT, None) for hit in corrector.slot_hits(heard)]
    x, y, w, of = zip(*found, strict=True)
    return np.array(x), np.array(y, float), np.array(w), list(of)


def fitted(x: Any, y: Any, w: Any) -> Any:
    """Return the weights: Newton's method with a ridge."""
    weights = np.zeros(x.shape[1])
    ridge = RIDGE * len(y) / 100 * np.eye(x.shape[1])
    ridge[0, 0] = 0.0
    for _ in range(STEPS):
        p = 1 / (1 + np.exp(-np.clip(x @ weights, -30, 30)))
        gradient = x.T @ (w * (y - p)) - ridge @ weights
        step = np.linalg.solve(x.T @ (x * (w * p * (1 - p))[:, None]) + ridge + 1e-9 * np.eye(len(weights)), gradient)
        weights += step
        if np.abs(step).max() < 1e-6:
            break
    return weights


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--only", choices=("TYPED", "SOUNDED"))
    only = asked.parse_args().only
    for loop, name in ((False, "TYPED"), (True, "SOUNDED")):
        if only not in (None, name):
            continue
        x, y, w, of = examples(loop=loop)
        weights = fitted(x, y, w)
        score = x @ weights
        print(f"{name}: {len(y)} examples, {int(y.sum())} right")
        print("    " + ", ".join(f"{value:.2f}" for value in weights))
        for label, value in zip(NAMES, weights, strict=False):
            print(f"    {label:36}{value:7.2f}")
        rows = {n for n in of if n is not None}
        for cut in (-2, -1.5, -1, -0.5, 0, 0.5, 1, 1.5, 2):
            best: dict[Any, tuple[float, float]] = {}
            for s, right, n in zip(score, y, of, strict=True):
                if n is not None and s > best.get(n, (cut, 0))[0]:
                    best[n] = (s, right)
            good = sum(right for _, right in best.values())
            false = sum(1 for s, n in zip(score, of, strict=True) if n is None and s > cut)
            print(f"    above {cut}: {good:.0f} right, {len(best) - good:.0f} wrong of {len(rows)}; {false} in correct text")


if __name__ == "__main__":
    main()
