"""Whether a stretch of heard words is a misheard term: sound, words and surroundings weighed together.

The weights were fitted by logistic regression on one half of our own mishearings (terms spoken by synthetic
voices, read by the stock recogniser) against ordinary English and correct clinical text; the other half was
kept for the figures.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from math import exp

from dictation.correction.frames import expected
from dictation.lexicon.sound_index import SMALL, Target

NAMES = (
    "one", "distance", "distance of a whole form", "weight", "form completed", "neighbour fits", "whole form",
    "expected", "trade near", "telling near", "rare words", "unknown word", "plain target", "commonest words",
    "short target", "fewer or more words", "very near", "very near and whole", "phones off",
)  # fmt: skip
# The first weight is shifted so that a score above 0 means a likelihood above one in three: a wrong guess is shown
# to the clinician with what was heard, a missed one is lost speech.
WEIGHTS: tuple[float, ...] = (
    -3.26, -3.43, -3.79, 2.91, 3.19, 1.83, -0.14, 1.5, -0.38, 0.72, 0.37, -1.99, -0.86, -1.07,
    -0.26, 0.64, 1.93, 1.09, -0.91,
)  # fmt: skip
_COMMONEST = 600
_VERY_NEAR = 0.08
_NEVER = 99_999
_KIN = 5  # letters in common at the start: another form of the same word, not a mishearing of it


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of heard words and what stands around it, within the same breath.

    heard: words as compared; before, after: up to three words on either side; trade: how many words near it
    are surely the trade's (0 to 3); telling: how many speak of an examination (0 to 2); unknown: a word
    neither dictionary has; meant: one of its words is itself a spoken form, changed only to complete another.
    """

    heard: tuple[str, ...]
    before: tuple[str, ...]
    after: tuple[str, ...]
    trade: int
    telling: int
    unknown: bool
    meant: bool

    def plain(self, rank: Mapping[str, int]) -> float:
        """Return the share of its words that are plain English."""
        return sum(word in rank for word in self.heard) / len(self.heard)

    def framed(self, kinds: Collection[str], rank: Mapping[str, int]) -> bool:
        """Tell whether anything around it speaks of an examination; for plain English, of just such a term."""
        if self.plain(rank) == 1:
            return bool(self.telling or expected("".join(self.before[-1:]), "".join(self.after[:1]), kinds))
        beside = {*self.before[-1:], *self.after[:1]}
        return bool(self.telling or self.trade or self.unknown or beside - SMALL)


def features(
    stretch: Stretch, target: Target, weight: float, distance: float, rank: Mapping[str, int]
) -> tuple[float, ...] | None:
    """Return what speaks for and against, in the order of NAMES; None where nothing around speaks for it.

    weight: what the target's phones weigh (phones.weight).
    """
    completed = neighbour = False
    before, after = stretch.before, stretch.after
    for left, right in target.around:
        fits = (bool(left) and before[-1:] == left[-1:], bool(right) and after[:1] == right[:1])
        completed |= before[len(before) - len(left) :] == left and after[: len(right)] == right
        neighbour |= (fits[0] and left[-1] not in SMALL) or (fits[1] and right[0] not in SMALL)
    keys = target.keys
    if not (completed or neighbour or target.terms) or _same(stretch.heard, keys):
        return None
    if not (completed or neighbour or stretch.framed(target.kinds, rank)):
        return None
    if not completed and (stretch.meant or (len(keys) == 1 and keys[0] in rank)):
        return None  # one plain word for another: only where it completes a form
    return (
        1.0,
        distance,
        distance * (not completed and not neighbour),
        min(weight, 8.0) / 4,
        float(completed),
        float(neighbour and not completed),
        float(bool(target.terms)),
        expected("".join(before[-1:]), "".join(after[:1]), target.kinds),
        float(stretch.trade),
        float(stretch.telling),
        1.0 - stretch.plain(rank),
        float(stretch.unknown),
        target.plain,
        sum(rank.get(word, _NEVER) < _COMMONEST for word in stretch.heard) / len(stretch.heard),
        float(weight < 2.6),
        float(abs(len(keys) - len(stretch.heard))),
        exp(-distance / _VERY_NEAR),
        exp(-distance / _VERY_NEAR) * bool(target.terms),
        distance * weight,
    )


def _same(heard: Sequence[str], keys: Sequence[str]) -> bool:
    """Tell whether what was heard already says it, or shares so much of it that a shorter stretch is the
    one to judge."""
    if heard[0] == keys[0] or heard[-1] == keys[-1] or set(keys) <= set(heard):
        return True
    return len(keys) == 1 and any(akin(word, keys[0]) for word in heard)


def akin(word: str, other: str) -> bool:
    """Tell whether two words, as compared, look like forms of one: "reverse", "reversed"."""
    return len(word) >= _KIN and word[:_KIN] == other[:_KIN]
