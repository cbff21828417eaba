"""The coefficients of the two readings' agreement, fitted: ``python -m tests.benchmarks.fit_agreement DUMP [DUMP ...]``

DUMP: what bench_hearing --set tuning --dump wrote. Each word heard is right where it stands in an alignment of least distance
with what was said in that recording, talk as much as dictation; its evidence is worked out anew from the readings of its
segment. Logistic regression with a light ridge. Prints counts, what dictation/recognition/agreement.py holds, and how good the
probabilities are on recordings left out: log-loss, and ranking (area under the ROC curve). Beside them, on the same words, the
coefficients that ship, and the recogniser's own posterior alone. --without CONDITION leaves one out.
"""

from __future__ import annotations

import argparse
import pickle
from collections.abc import Iterator, Sequence
from dataclasses import astuple, dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np
from rapidfuzz.distance import Levenshtein

from dictation.lexicon.loading import load_lexicon
from dictation.recognition.agreement import Evidence, probability, weigh
from dictation.sounds import Sounds
from tests.benchmarks.bench_hearing import TALK
from tests.benchmarks.logistic import Bools, Floats, fitted, held_out, log_loss, ranking, sureness
from tests.benchmarks.reliability import expected_calibration_error
from tests.scoring import plain_words

SIGNS = np.array([1, -1, -1, 1, 1, 1, 1, 1])


@dataclass(frozen=True, slots=True)
class Judged:
    """One word heard: what is known of it, and whether it was said."""

    evidence: Evidence
    said: bool
    recording: int
    condition: str


def judged(dumps: Sequence[Path], without: Sequence[str] = ()) -> Iterator[Judged]:
    """Give every word heard."""
    sounds = Sounds(load_lexicon())
    kept = (one for dump in dumps for one in pickle.loads(dump.read_bytes()))
    for number, one in enumerate(one for one in kept if one["item"]["condition"] not in without):
        evidence = [e for *_, heard, loop in one["readings"] for e in weigh(heard, loop, sounds.distance)]
        said = were_said([word.text for *_, heard, _ in one["readings"] for word in heard], one["item"]["text"])
        yield from (Judged(e, s, number, one["item"]["condition"]) for e, s in zip(evidence, said, strict=True))


def were_said(heard: Sequence[str], text: str) -> list[bool]:
    """Tell of each word heard whether it stands in the text, in one alignment of least distance.

    >>> were_said(["no", "scar", "Tinel's"], "No scars, Tinel's positive.")
    [True, False, True]
    """
    pieces = [(plain, i) for i, word in enumerate(heard) for plain in plain_words(word)]
    wrong = set(range(len(heard))) - {i for _, i in pieces}
    for edit in Levenshtein.opcodes([plain for plain, _ in pieces], plain_words(text)):
        if edit.tag != "equal":
            wrong |= {i for _, i in pieces[edit.src_start : edit.src_end]}
    return [i not in wrong for i in range(len(heard))]


def quality(name: str, sure: Floats, said: Bools) -> str:
    """One line on probabilities."""
    error = expected_calibration_error(sure, said)
    return f"{name:34} {log_loss(sure, said):8.3f} {ranking(sure, said):8.3f} {error:11.3f}"


def _counts(name: str, rows: Sequence[Any]) -> str:
    return f"{name:20} {len({row.recording for row in rows}):10} {len(rows):6} {sum(row.said for row in rows):6}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("dumps", nargs="+", type=Path)
    parser.add_argument("--without", nargs="*", default=[], metavar="CONDITION")
    asked = parser.parse_args()
    rows = list(judged(asked.dumps, asked.without))
    print(f"Words heard in synthetic voices.\n{'condition':20} {'recordings':>10} {'words':>6} {'said':>6}")
    for condition in dict.fromkeys(row.condition for row in rows):
        print(_counts(condition, [row for row in rows if row.condition == condition]))
    print(_counts("all of these", rows))
    x, y = np.array([astuple(row.evidence) for row in rows], float), np.array([row.said for row in rows])
    weights = fitted(x, y, SIGNS)
    print(f"BIAS = {weights[0]:.2f}")
    for one, weight in zip(fields(Evidence), weights[1:], strict=True):
        print(f"{one.name:16} {weight:.3f}")
    shipped = np.array([probability(row.evidence) for row in rows])
    left_out = held_out(x, y, np.array([row.recording for row in rows]), SIGNS)
    dictated = np.array([row.condition != TALK for row in rows])
    print(f"{'':34} log-loss  ranking  calibration")
    for name, which in (("all", np.ones(len(rows), bool)), ("dictation", dictated), ("talk", ~dictated)):
        if which.any() and 0 < y[which].mean() < 1:
            print(quality(f"{name}: fitted, which flatters", sureness(weights, x)[which], y[which]))
            print(quality(f"{name}: recordings left out", left_out[which], y[which]))
            print(quality(f"{name}: the coefficients that ship", shipped[which], y[which]))
            print(quality(f"{name}: posterior alone", x[which, 0], y[which]))
            print(quality(f"{name}: how many were said alone", np.full(which.sum(), y[which].mean()), y[which]))


if __name__ == "__main__":
    main()
