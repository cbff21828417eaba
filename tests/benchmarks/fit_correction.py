"""The weights of dictation/correction/slots.py, fitted: ``python -m tests.benchmarks.fit_correction``.

Logistic regression on the tuning half of our own mishearings, against ordinary English and correct clinical text (tuning
files alone), as written and as the recogniser heard it. A slot and a term are an example; right where the term is the one
that was said. What each cut would give is printed from weights fitted without the terms and the texts they are tried on; the
first weight is then moved so that 0 is the lowest cut at which corrections of text that was right stay well within the bar.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
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
PARTS = 6


@dataclass(frozen=True, slots=True)
class Example:
    """A slot and a term; of: the sentence it is of; part: terms and texts of one part are tried together."""

    features: tuple[float, ...]
    right: bool
    kind: str  # misheard, or text that was right: ordinary, clinical, heard
    of: int
    part: int


def examples(*, loop: bool) -> tuple[list[Example], int]:
    """Return the examples and how many sentences have their term misheard."""
    corrector = corrector_for(load_lexicon())
    rows = [row for row in read_rows("tuning") if misheard(row)]
    terms = sorted({row["term"] for row in rows})
    found = []
    for of, row in enumerate(rows):
        part = terms.index(row["term"]) % PARTS
        mine = list(corrector.slot_hits(transcript(row, loop=loop)))
        best = min((hit.distance for hit in mine if row["term"] in hit.target.terms), default=2.0)
        for hit in mine:
            right = row["term"] in hit.target.terms
            if not right or hit.distance <= best + 0.03:
                found.append(Example(hit.features, right, "misheard", of, part))
    texts = [("heard", transcript(row, loop=loop)) for row in read_rows("tuning", talk=True)]
    if not loop:
        texts += [("ordinary", read_text(text)) for text in ordinary(tuning=True)]
        texts += [("clinical", read_text(text)) for text in clinical(tuning=True)]
    for of, (kind, heard) in enumerate(texts, len(rows)):
        found += [Example(hit.features, False, kind, of, of % PARTS) for hit in corrector.slot_hits(heard)]
    return found, len(rows)


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


def tried(found: Sequence[Example]) -> Any:
    """Return the score of each example by weights fitted without its part, and the weights fitted to all."""
    x, y = np.array([e.features for e in found]), np.array([float(e.right) for e in found])
    w = np.array([1.0 if e.kind == "misheard" else TEXT_WEIGHT for e in found])
    part = np.array([e.part for e in found])
    score = np.zeros(len(y))
    for n in range(PARTS):
        score[part == n] = x[part == n] @ fitted(x[part != n], y[part != n], w[part != n])
    return score, fitted(x, y, w)


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--only", choices=("TYPED", "SOUNDED"))
    only = asked.parse_args().only
    for loop, name in ((False, "TYPED"), (True, "SOUNDED")):
        if only not in (None, name):
            continue
        found, sentences = examples(loop=loop)
        score, weights = tried(found)
        print(f"{name}: {len(found)} examples, {sum(e.right for e in found)} right")
        print("    " + ", ".join(f"{value:.2f}" for value in weights))
        for label, value in zip(NAMES, weights, strict=False):
            print(f"    {label:36}{value:7.2f}")
        for cut in np.arange(-3, 1.1, 0.25):
            best: list[bool] = []
            false: Counter[str] = Counter(ordinary=0, clinical=0, heard=0)
            for _, some in groupby(sorted(zip(score, found, strict=True), key=lambda pair: pair[1].of), key=lambda p: p[1].of):
                top, example = max(some, key=lambda pair: pair[0])
                if top > cut and example.kind == "misheard":
                    best.append(example.right)
                elif top > cut:
                    false[example.kind] += 1
            good = sum(best)
            texts = ", ".join(f"{n} {kind}" for kind, n in false.items())
            print(f"    above {cut:5.2f}: {good} right, {len(best) - good} wrong of {sentences}; texts changed: {texts}")


if __name__ == "__main__":
    main()
