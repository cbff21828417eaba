"""Two readings of the same sound compared: how far each word can be trusted.

The word recogniser only knows its vocabulary and finds it in anything. Against that stand a second reading by a loop of
phones that knows no words, and what the first reading itself left undecided. Each word's evidence is weighed into one
probability; words over which the readings do not agree come out low. Pure functions on plain values; imports no recogniser.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import astuple, dataclass

# tests/benchmarks/fit_agreement.py on 5,364 words of 36 recordings of the tuning set, 4,418 of them said: dictations and talk
# in synthetic voices, without white noise and babble. On recordings left out the log-loss is 0.268 and they rank at 0.914 (the
# recogniser's posterior alone 0.470 and 0.852). One weight for each value of Evidence, in order.
BIAS = 1.07
WEIGHTS = (1.74, -0.60, -1.56, 0.025, 0.044, 0.26, 0.90, 1.69)
ORDINARY_TALK = 0.55
"""An utterance whose words are trusted less than this on average is left unread: of the tuning set two in five of talk, one in
twelve in a tiled room, none clean or in a fan's noise."""
FEW_PHONES, MANY_PHONES = 1, 10  # longer words are no surer still

Distance = Callable[[Sequence[str], Sequence[str]], float]


@dataclass(frozen=True, slots=True)
class Phone:
    """One phone of the loop. Frames of 10 ms, end excluded."""

    name: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class HeardWord:
    """One word of the word recogniser. phones: as its dictionary has this word. start, end: as for Phone.

    posterior: the recogniser's own, 0 to 1, among the rivals it kept. language: weighted log-probability in its context.
    rival: what it may have been instead (rivals.py); no evidence by itself. agreed: share of the readings at other speeds that
    have it too (speeds.py).
    """

    text: str
    phones: tuple[str, ...]
    start: int
    end: int
    posterior: float
    language: float
    rival: str | None = None
    agreed: float = 1.0


@dataclass(frozen=True, slots=True)
class Evidence:
    """What is known of one word.

    distance: of its phones and the loop's in the same span, 0 same to 1 unlike. around_…: mean with its neighbours.
    phones: how many it has. agreed: see HeardWord. around_agreed: as for distance.
    """

    posterior: float
    distance: float
    around_distance: float
    language: float
    around_language: float
    phones: float
    agreed: float
    around_agreed: float


def weigh(words: Sequence[HeardWord], loop: Sequence[Phone], distance: Distance) -> list[Evidence]:
    """Return the evidence for each word of one utterance."""
    distances = [distance(word.phones, phones_between(loop, word.start, word.end)) for word in words]
    languages = [word.language for word in words]
    agreed = [word.agreed for word in words]
    return [
        Evidence(
            word.posterior, distances[i], _around(distances, i), languages[i], _around(languages, i),
            min(MANY_PHONES, max(FEW_PHONES, len(word.phones))),
            agreed[i], _around(agreed, i),
        )
        for i, word in enumerate(words)
    ]  # fmt: skip


def _around(values: Sequence[float], i: int) -> float:
    near = values[max(0, i - 1) : i + 2]
    return sum(near) / len(near)


def phones_between(loop: Sequence[Phone], start: float, end: float) -> tuple[str, ...]:
    """Return the loop's phones with their middle between two frames: two readings put edges a few frames apart."""
    return tuple(p.name for p in loop if p.name.isalpha() and p.name != "SIL" and start <= (p.start + p.end) / 2 < end)


def probability(evidence: Evidence) -> float:
    """Return the probability, 0 to 1, that the word was said."""
    x = BIAS + sum(weight * value for weight, value in zip(WEIGHTS, astuple(evidence), strict=True))
    return 1 / (1 + math.exp(-max(-30.0, min(30.0, x))))


def is_talk(words: Sequence[HeardWord], probabilities: Sequence[float]) -> bool:
    """Tell whether an utterance is better left unread: its words, weighted by length, are not to be trusted."""
    frames = [w.end - w.start for w in words]
    total = sum(frames)
    return total > 0 and sum(p * n for p, n in zip(probabilities, frames, strict=True)) / total < ORDINARY_TALK
