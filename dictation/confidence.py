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

CHECK_BELOW = 0.90
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


NEVER_CERTAIN = 0.005
"""No word counts as surer, or less sure, than this leaves."""


@dataclass(frozen=True, slots=True)
class Support:
    """What speaks for a field. words: mean log-odds of the words that decide it. breath: the same of all words but small ones
    that were said in one breath with it. doubts: its `check` flags from other causes than hearing, two at most. noise: from 0,
    the voice 20 dB over the noise or more, to 2, no louder than it.
    """

    words: float
    breath: float
    doubts: float
    noise: float


# tests/benchmarks/fit_confidence.py --all on 1,061 fields of 52 recordings, 835 right: clean, white 10 dB, fan 20 dB, babble
# 10 dB, reverberation, a robotic voice, talk; dictations new to the language model. On recordings left out of the fit
# the expected calibration error was 0.030. The breath says more than the words alone: what is misheard is misheard together.
# Nothing speaks for the weight of noise there beyond what the words lose in it; it is that of the fit before.
BIAS = 0.45
WEIGHTS = (0.13, 0.50, -1.90, -0.33)  # in the order of Support


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
    return Support(_mean_log_odds(deciding), _mean_log_odds(breath or deciding), min(MOST_DOUBTS, doubts), noise)


def heard_confidence(found: Support) -> float:
    """Return the confidence of a field from sound, LEAST to MOST."""
    x = BIAS + sum(weight * value for weight, value in zip(WEIGHTS, astuple(found), strict=True))
    return round(max(LEAST, min(MOST, 1 / (1 + math.exp(-x)))), 3)


def typed_confidence(levels: Sequence[str]) -> float:
    """Return the confidence of a field from typed text, by the levels of its flags."""
    return round(max(0.05, TYPED - sum(PENALTY[level] for level in levels)), 3)


def _known(heard: Transcript, indices: Sequence[int]) -> list[float]:
    return [p for k in indices if (p := heard.words[k].probability) is not None]


def _mean_log_odds(probabilities: Sequence[float]) -> float:
    bounded = (min(1 - NEVER_CERTAIN, max(NEVER_CERTAIN, p)) for p in probabilities)
    return sum(math.log(p / (1 - p)) for p in bounded) / len(probabilities)


def _breath(heard: Transcript, begin: int, end: int) -> tuple[int, int]:
    """From the last pause before the words to the first after them."""
    first = max((k for k in heard.breaks if k <= begin), default=0)
    return first, min((k for k in heard.breaks if k >= end), default=len(heard.words))
