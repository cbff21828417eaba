"""A field's confidence: how likely it is to be right, from how surely its words were heard and what doubts it carries.

A logistic curve fitted offline on fields drafted from synthetic voices, right or wrong by their expected fields
(tests/benchmarks/fit_confidence.py, which prints the coefficients below). It was fitted to the embedded recogniser's word
probabilities alone: for Whisper, whose probabilities mean something else, it orders fields and is no measured share of right
ones. It says nothing yet about people.
Imports deciding, record and transcript.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import astuple, dataclass

from dictation.deciding import SMALL, deciding_words, plain
from dictation.record import FlagCode, RecordField
from dictation.transcript import Transcript

CHECK_BELOW = 0.92
"""The one threshold: a field from sound less sure than this asks to be checked. Chosen for silent errors first, glances
second, on our synthetic voices (tests/benchmarks)."""
TYPED = 0.97
"""Base for typed text, where no word was heard; not fitted."""
PENALTY = {"check": 0.25, "info": 0.02}
"""What each flag takes off it."""
LEAST, MOST = 0.02, 0.98
OF_HEARING = frozenset({FlagCode.low_recognition})
"""Flags that follow from the probabilities themselves, and so count as no further doubt."""
MOST_DOUBTS = 2


@dataclass(frozen=True, slots=True)
class Support:
    """What speaks for a field. least, mean: probabilities of the words that decide it, 0 to 1. breath: mean probability of all
    words but small ones that were said in one breath with it. doubts: its `check` flags from other causes than hearing, two at
    most. noise: from 0, the voice 20 dB over the noise or more, to 2, no louder than it.
    """

    least: float
    mean: float
    breath: float
    doubts: float
    noise: float


# On 1,051 fields of 43 recordings, 907 right: clean, fan at 20 dB, reverberation and telephone; four voices, dictations that
# the language model has not seen. On recordings left out of the fit the expected calibration error was 0.053. Too few of these
# were noisy to say anything of noise: its weight is that of an earlier fit to 110 recordings.
BIAS = -0.07
WEIGHTS = (1.36, 1.59, 0.21, -1.41, -0.11)  # in the order of Support


def support(f: RecordField, heard: Transcript, over_noise_db: float | None = None) -> Support | None:
    """Return what speaks for a field; None where its words carry no probability, as in typed text.

    over_noise_db: how far the voice stands over the noise of its recording; None where that is not known.
    """
    begin, end = f.evidence[0].words if f.evidence else (0, 0)
    deciding = _known(heard, deciding_words(f, heard)) or _known(heard, range(begin, end))
    if not deciding:
        return None
    doubts = sum(flag.level == "check" and flag.code not in OF_HEARING for flag in f.flags)
    noise = 0.0 if over_noise_db is None else max(0.0, min(2.0, (20.0 - over_noise_db) / 10))
    breath = _known(heard, [k for k in range(*_breath(heard, begin, end)) if plain(heard.words[k].said) not in SMALL])
    return Support(min(deciding), _mean(deciding), _mean(breath or deciding), min(MOST_DOUBTS, doubts), noise)


def heard_confidence(found: Support) -> float:
    """Return the confidence of a field from sound, LEAST to MOST."""
    x = BIAS + sum(weight * value for weight, value in zip(WEIGHTS, astuple(found), strict=True))
    return round(max(LEAST, min(MOST, 1 / (1 + math.exp(-x)))), 3)


def typed_confidence(levels: Sequence[str]) -> float:
    """Return the confidence of a field from typed text, by the levels of its flags."""
    return round(max(0.05, TYPED - sum(PENALTY[level] for level in levels)), 3)


def _known(heard: Transcript, indices: Sequence[int]) -> list[float]:
    return [p for k in indices if (p := heard.words[k].probability) is not None]


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values)


def _breath(heard: Transcript, begin: int, end: int) -> tuple[int, int]:
    """From the last pause before the words to the first after them."""
    first = max((k for k in heard.breaks if k <= begin), default=0)
    return first, min((k for k in heard.breaks if k >= end), default=len(heard.words))
