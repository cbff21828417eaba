"""The coefficients of field confidence, fitted: ``python -m tests.benchmarks.fit_confidence DUMP [DUMP ...]``

DUMP: what bench_hearing --set tuning --dump wrote. The drafts are made anew from both readings of each segment, so that what
is fitted is what the program as it stands would draft. Logistic regression with a light ridge; prints what dictation/
confidence.py holds, and the expected calibration error on the same fields, which flatters.
"""

from __future__ import annotations

import argparse
import json
import pickle
from collections.abc import Iterator
from dataclasses import astuple, fields
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dictation.audio import RATE_HZ, Segment
from dictation.confidence import Support, support
from dictation.lexicon.loading import load_lexicon
from dictation.pipeline import draft
from dictation.recognition.agreement import is_talk, probability, weigh
from dictation.recognition.sphinx import FRAMES_PER_S, PAUSE_S
from dictation.record import Source
from dictation.sounds import Sounds
from dictation.transcript import Transcript, Unread, Word, joined
from tests.benchmarks.reliability import expected_calibration_error
from tests.scoring import score

RIDGE = 0.3
SOURCE = Source(
    name="", sha256="", duration_s=1.0, recogniser="embedded", model=None, program_version="", lexicon_version=""
)  # fmt: skip


def heard_again(readings: list[tuple[Any, ...]], sounds: Sounds) -> Transcript:
    """Return the transcript of a recording from its readings, weighed by the program as it stands."""
    parts = []
    for start, length, _, heard, loop in readings:
        sure = [probability(e) for e in weigh(heard, loop, sounds.distance)]
        if is_talk(heard, sure):
            segment = Segment(start, start + length / RATE_HZ)
            parts.append(Transcript((), unread=(Unread(segment.start, segment.end, " ".join(w.text for w in heard), "talk"),)))
            continue
        words = tuple(
            Word(w.text, start + w.start / FRAMES_PER_S, start + w.end / FRAMES_PER_S, round(p, 3))
            for w, p in zip(heard, sure, strict=True)
        )
        breaks = {i for i, w in enumerate(heard) if i == 0 or w.start - heard[i - 1].end > PAUSE_S * FRAMES_PER_S}
        parts.append(Transcript(words, frozenset(breaks)))
    return joined(parts)


def judged(dumps: list[Path]) -> Iterator[tuple[Support, bool]]:
    """Give what speaks for each drafted field, and whether it is right."""
    lexicon = load_lexicon()
    sounds = Sounds(lexicon)
    for dump in dumps:
        for kept in pickle.loads(dump.read_bytes()):
            over_noise_db = float(np.median([reading[2] for reading in kept["readings"]])) if kept["readings"] else None
            heard = heard_again(kept["readings"], sounds)
            drafted = json.loads(draft(heard, SOURCE, lexicon).model_dump_json())
            result = score({"id": "", "fields": kept["item"]["fields"]}, drafted)
            wrong = {fault.drafted["id"] for fault in result.faults if fault.drafted is not None}
            for field in drafted["fields"]:
                begin, end = field["evidence"][0]["words"]
                sure = [w.probability for w in heard.words[begin:end] if w.probability is not None]
                if sure:
                    yield support(sure, [flag["level"] for flag in field["flags"]], over_noise_db), field["id"] not in wrong


def fitted(x: NDArray[np.float64], y: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Return bias and weights by Newton's method; the ridge leaves the bias free."""
    x = np.column_stack([np.ones(len(x)), x])
    ridge = np.diag([0.0, *[RIDGE] * (x.shape[1] - 1)])
    weights = np.zeros(x.shape[1])
    for _ in range(50):
        p = 1 / (1 + np.exp(-x @ weights))
        gradient = x.T @ (p - y) + ridge @ weights
        weights -= np.linalg.solve(x.T @ (x * (p * (1 - p))[:, None]) + ridge, gradient)
    return weights


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("dumps", nargs="+", type=Path)
    pairs = list(judged(parser.parse_args().dumps))
    x, y = np.array([astuple(s) for s, _ in pairs]), np.array([right for _, right in pairs])
    weights = fitted(x, y)
    sure = 1 / (1 + np.exp(-(weights[0] + x @ weights[1:])))
    print(f"{len(y)} fields of synthetic voices, {y.sum()} right.")
    print(f"BIAS = {weights[0]:.2f}")
    for one, weight in zip(fields(Support), weights[1:], strict=True):
        print(f"{one.name:8} {weight:.2f}")
    print(f"Expected calibration error on these: {expected_calibration_error(sure, y):.3f}")


if __name__ == "__main__":
    main()
