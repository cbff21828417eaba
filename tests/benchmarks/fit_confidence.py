"""The coefficients of field confidence, fitted: ``python -m tests.benchmarks.fit_confidence DUMP [DUMP ...]``

DUMP: what bench_hearing --set tuning --dump wrote. The drafts are made anew from the readings of each segment, so that what
is fitted is what the program as it stands would draft. Logistic regression with a light ridge; prints what dictation/
confidence.py holds, the expected calibration error on the same fields and on recordings left out, and what each threshold
would mark.
"""

from __future__ import annotations

import argparse
import json
import pickle
from collections.abc import Iterator
from dataclasses import astuple, dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np

from dictation import hardly_heard
from dictation.audio import RATE_HZ, Segment
from dictation.confidence import OF_HEARING, Support, support
from dictation.lexicon.loading import load_lexicon
from dictation.pipeline import draft
from dictation.recognition.agreement import is_talk, probability, weigh
from dictation.recognition.sphinx import FRAMES_PER_S, PAUSE_S
from dictation.record import Source
from dictation.sounds import Sounds
from dictation.transcript import Transcript, Unread, Word, joined
from tests.benchmarks.logistic import fitted, held_out, sureness
from tests.benchmarks.reliability import expected_calibration_error
from tests.scoring import score

SIGNS = np.array([1, 1, -1, -1])
THRESHOLDS = (0.5, 0.7, 0.8, 0.85, 0.88, 0.9, 0.91, 0.92, 0.94)
SOURCE = Source(
    name="", sha256="", duration_s=1.0, recogniser="embedded", model=None, program_version="", lexicon_version=""
)  # fmt: skip


def heard_again(readings: list[tuple[Any, ...]], sounds: Sounds) -> Transcript:
    """Return the transcript of a recording from its readings, weighed by the program as it stands."""
    parts = []
    for start, length, heard, loop in readings:
        sure = [probability(e) for e in weigh(heard, loop, sounds.distance)]
        if is_talk(heard, sure):
            segment = Segment(start, start + length / RATE_HZ)
            parts.append(Transcript((), unread=(Unread(segment.start, segment.end, " ".join(w.text for w in heard), "talk"),)))
            continue
        words = tuple(
            Word(w.text, start + w.start / FRAMES_PER_S, start + w.end / FRAMES_PER_S, round(p, 3), w.rival)
            for w, p in zip(heard, sure, strict=True)
        )
        breaks = {i for i, w in enumerate(heard) if i == 0 or w.start - heard[i - 1].end > PAUSE_S * FRAMES_PER_S}
        parts.append(Transcript(words, frozenset(breaks)))
    return joined(parts)


@dataclass(frozen=True, slots=True)
class Judged:
    """One drafted field: what speaks for it, whether it is right, whether it is marked for another reason than its sureness."""

    support: Support
    right: bool
    marked: bool
    recording: int
    condition: str


def judged(dumps: list[Path]) -> Iterator[Judged]:
    """Give every drafted field that has word probabilities."""
    lexicon = load_lexicon()
    sounds = Sounds(lexicon)
    for number, kept in enumerate(one for dump in dumps for one in pickle.loads(dump.read_bytes())):
        heard = heard_again(kept["readings"], sounds)
        record = draft(heard, SOURCE, lexicon)
        result = score({"id": "", "fields": kept["item"]["fields"]}, json.loads(record.model_dump_json()))
        wrong = {fault.drafted["id"] for fault in result.faults if fault.drafted is not None}
        for field in record.fields:
            found = support(field, heard, kept["over_noise_db"])
            if found is not None:
                marked = any(flag.level == "check" and flag.code not in OF_HEARING for flag in field.flags)
                yield Judged(found, field.id not in wrong, marked, number, kept["item"]["condition"])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("dumps", nargs="+", type=Path)
    parser.add_argument("--all", action="store_true", help="statements that were hardly heard too, which drafts leave out")
    asked = parser.parse_args()
    if asked.all:
        hardly_heard.LEAST_HEARD = hardly_heard.WELL_HEARD = 0.0
    rows = list(judged(asked.dumps))
    x, y = np.array([astuple(row.support) for row in rows], float), np.array([row.right for row in rows])
    weights = fitted(x, y, SIGNS)
    print(f"{len(y)} fields of synthetic voices in {len({row.recording for row in rows})} recordings, {y.sum()} right.")
    print(f"BIAS = {weights[0]:.2f}")
    for one, weight in zip(fields(Support), weights[1:], strict=True):
        print(f"{one.name:8} {weight:.2f}")
    sure = held_out(x, y, np.array([row.recording for row in rows]), SIGNS)
    print(f"Expected calibration error: {expected_calibration_error(sureness(weights, x), y):.3f} on these, which flatters; "
          f"{expected_calibration_error(sure, y):.3f} on recordings left out.")  # fmt: skip
    marked, clean = np.array([row.marked for row in rows]), np.array([row.condition == "clean" for row in rows])
    print("threshold: right fields marked, clean and all; wrong ones not marked, clean and all (recordings left out)")
    for least in THRESHOLDS:
        asks = marked | (sure < least)
        print(
            f"{least:9.2f}: {np.mean(asks[y & clean]):.3f} {np.mean(asks[y]):.3f}; "
            f"{np.sum(~asks & ~y & clean)} of {np.sum(clean)}, {np.sum(~asks & ~y)} of {len(y)}"
        )


if __name__ == "__main__":
    main()
