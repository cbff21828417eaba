"""The weights of dictation/extraction/pauses.tsv, fitted: ``python -m tests.benchmarks.fit_pauses [--without FILE ...]``.

Multinomial logistic regression with a ridge, on the marks of our own punctuated cases (never the blind ones) and of the
invented dictations of punctuated.txt. Every gap between two stretches is an example: no mark, comma, colon or full stop.
Prints how often the likeliest mark is the written one. --without leaves files out, so that they can be measured unseen.
"""

from __future__ import annotations

import argparse
import random
import re
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
from scipy.optimize import minimize
from scipy.sparse import csr_matrix

from dictation.extraction import pauses
from dictation.extraction.extract import read_terms
from dictation.extraction.tokens import Token
from dictation.lexicon.loading import load_lexicon
from dictation.lexicon.shipped import lexicon_folder
from dictation.transcript import CorrectedTranscript, CorrectedWord, read_text
from tests.benchmarks.bench_text import CASES, FILES, bare
from tests.scoring import read_cases

TABLE = Path(pauses.__file__).parent / "pauses.tsv"
RIDGE = 2.0
SEEN_AT_LEAST = 3
LEAST = 0.05
"""Features met less often are left out, and so are those whose weights come to less than this."""
LEFT_OUT = ("blind", "sixth")
"""How the names of the files end that measure the marks and are never fitted to."""
STRUNG, SEED = 12, 1
"""So many sentences are strung together, in an order drawn with this seed."""
WRITTEN = {",": 1, ":": 2, ".": 3, ";": 3, "?": 3, "!": 3}


def texts(without: set[str]) -> list[str]:
    """Return the punctuated texts: those that end with a stop or hold one."""
    found = [
        case["text"]
        for file in FILES
        if not file.stem.endswith(LEFT_OUT) and file.stem not in without
        for case in read_cases(file)
    ]
    own = CASES.parent / "benchmarks" / "punctuated.txt"
    if own.exists() and own.stem not in without:
        found += [line for line in own.read_text(encoding="utf-8").splitlines() if line.strip() and line[0] != "#"]
    found = [t for t in found if any(word[-1] in WRITTEN for word in t.split())]
    return [*found, *_strung(found)]


def _strung(found: list[str]) -> list[str]:
    """The sentences of all texts, and of talk, strung together anew: what ends one says little of what begins the next."""
    talk = lexicon_folder().joinpath("conversation/clinic.txt").read_text(encoding="utf-8").splitlines()
    sentences = [line for line in talk if line and line[0] != "#"]
    for text in found:
        sentences += [s for s in re.split(r"(?<=[.?!;])\s+", text) if s]
    random.Random(SEED).shuffle(sentences)
    return [" ".join(sentences[i : i + STRUNG]) for i in range(0, len(sentences), STRUNG)]


def examples(found: list[str]) -> tuple[list[list[str]], list[int]]:
    """Return the features of every gap, and the mark written there."""
    lexicon, rows, marks = load_lexicon(), [], []
    parts = {c.id: c.part for c in lexicon.concepts.values()}
    for text in found:
        words = [w for w in text.split() if bare(w)]
        heard = read_text(" ".join(bare(w) for w in words))
        written = [WRITTEN.get(w[-1], 0) for w in words for _ in bare(w).split()]
        corrected = CorrectedTranscript(heard, tuple(CorrectedWord(w.said, (i, i + 1)) for i, w in enumerate(heard.words)))
        tokens, mentions, numbers = read_terms(corrected, lexicon)
        stretches, cues = pauses.stretches(tokens, mentions, numbers, parts), pauses.leading_cues(mentions)
        so_far = pauses.Since()
        for k in range(1, len(stretches)):
            so_far.say(stretches[k - 1].sort)
            rows.append(list(pauses.features(stretches, k, so_far, tokens, cues)))
            mark = _mark(tokens, stretches[k - 1].end - 1, written)
            marks.append(mark)
            if mark:
                so_far.mark(("", *pauses.MARKS)[mark])
    return rows, marks


def _mark(tokens: list[Token], at: int, written: list[int]) -> int:
    """The mark after a token: none inside a word."""
    inside = at + 1 < len(tokens) and tokens[at + 1].word == tokens[at].word
    return 0 if inside else written[tokens[at].word]


def fitted(rows: list[list[str]], marks: list[int]) -> tuple[list[str], Any]:
    """Return the features kept and their weights, one column a mark."""
    seen = Counter(f for row in rows for f in row)
    names = sorted(f for f, n in seen.items() if n >= SEEN_AT_LEAST)
    at = {f: i for i, f in enumerate(names)}
    columns = [[at[f] for f in row if f in at] for row in rows]
    x = csr_matrix(
        (np.ones(sum(map(len, columns))), np.concatenate(columns), np.cumsum([0, *map(len, columns)])),
        shape=(len(rows), len(names)),
    )
    y = np.eye(4)[marks][:, 1:]

    def loss(flat: Any) -> tuple[float, Any]:
        w = flat.reshape(len(names), 3)
        scores = np.hstack([np.zeros((len(rows), 1)), x @ w])
        top = scores.max(axis=1, keepdims=True)
        logs = scores - top - np.log(np.exp(scores - top).sum(axis=1, keepdims=True))
        gradient = x.T @ (np.exp(logs[:, 1:]) - y) + RIDGE * w
        return float(-logs[np.arange(len(rows)), marks].sum() + RIDGE / 2 * (w**2).sum()), gradient.ravel()

    best = minimize(loss, np.zeros(len(names) * 3), jac=True, method="L-BFGS-B", options={"maxiter": 400})
    w = best.x.reshape(len(names), 3)
    guessed = np.hstack([np.zeros((len(rows), 1)), x @ w]).argmax(axis=1)
    right = (guessed == marks).mean()
    print(f"{len(rows)} gaps, {sum(map(bool, marks))} marks; the likeliest is the written one in {right:.3f}")
    return names, w


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--without", nargs="*", default=[], metavar="FILE")
    rows, marks = examples(texts(set(asked.parse_args().without)))
    names, w = fitted(rows, marks)
    lines = ["# Weights of a comma, a colon and a full stop, fitted by python -m tests.benchmarks.fit_pauses; see pauses.py."]
    lines += [
        f"{name}\t" + "\t".join(f"{v:.2f}" for v in row)
        for name, row in zip(names, w, strict=True)
        if np.abs(row).max() >= LEAST
    ]
    TABLE.write_text("\n".join(lines) + "\n", encoding="utf-8")
    print(f"{len(lines) - 1} weights in {TABLE.name}")


if __name__ == "__main__":
    main()
