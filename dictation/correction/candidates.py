"""What a stretch of heard words may have been: the lexicon's targets that sound near it, nearest first.

A rough comparison (rapidfuzz, over strings with one letter for each class of phones) finds the few worth the
fine one (phones.py), so that thousands of targets stay fast.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence

from dictation import phones as _phones
from dictation.lexicon.sound_index import Target

_CLASSES = (
    "P B", "T D", "K G", "M N NG", "F V TH DH", "S Z SH ZH CH JH", "L W", "R", "HH", "Y",
    "IY IH EY EH AE AY", "AA AO OW UH UW AW OY", "AH ER",
)  # fmt: skip
_LETTER = {phone: letter for letter, group in zip("ptknfslrhyioa", _CLASSES, strict=True) for phone in group.split()}
_CLASS = "".join(_LETTER[phone] for phone in _phones.PHONES)
_ROUGH = 0.45  # least likeness of class strings
_FEW = 16  # candidates compared finely
_SLACK = 0.3  # of the phones heard, how many more or fewer a target may have
_REMEMBERED = 50_000


def rough_strings(targets: Sequence[Target]) -> tuple[str, str, str]:
    """Return every pronunciation of every target, the shortest first, as three lines of text.

    The lines: numbers of targets; which of its ways of saying it; its phones as classes.
    """
    found = [
        (number, way, _rough(_phones.numbers(said)))
        for number, target in enumerate(targets)
        for way, said in enumerate(target.said)
    ]
    found.sort(key=lambda one: len(one[2]))
    numbers, ways, classes = zip(*found, strict=True) if found else ((), (), ())
    return " ".join(map(str, numbers)), " ".join(map(str, ways)), " ".join(classes)


class Candidates:
    """The targets of one sound index, arranged by how long they sound; rough: their rough_strings."""

    def __init__(self, targets: Sequence[Target], rough: tuple[str, str, str]) -> None:
        self.targets = targets
        self._numbers, self._ways, self._classes = (line.split() for line in rough)
        self._longest = len(self._classes[-1]) if self._classes else 0
        self._choices: dict[int, dict[int, str]] = {}  # number of phones heard -> what may be near it
        self._memory: dict[tuple[int, ...], tuple[tuple[float, int], ...]] = {}

    def weight(self, number: int) -> float:
        """Return what a target's phones weigh, as it is said most often."""
        return _phones.weight(_phones.numbers(self.targets[number].said[0]))

    def _near_length(self, length: int) -> dict[int, str]:
        if length not in self._choices:
            slack = max(1, round(_SLACK * length))
            start = bisect_left(self._classes, length - slack, key=len)
            end = bisect_right(self._classes, length + slack, key=len)
            self._choices[length] = dict(enumerate(self._classes[start:end], start))
        return self._choices[length]

    def near(self, said: Sequence[str], most: float) -> tuple[tuple[float, int], ...]:
        """Return (distance, number of target) of targets at most so far off, nearest first; distance 0 to
        1."""
        phones = _phones.numbers(said)
        if phones not in self._memory:
            if len(self._memory) >= _REMEMBERED:
                self._memory.clear()
            self._memory[phones] = self._near(phones, most)
        return self._memory[phones]

    def _near(self, phones: tuple[int, ...], most: float) -> tuple[tuple[float, int], ...]:
        from rapidfuzz import process
        from rapidfuzz.distance import Levenshtein

        choices = self._near_length(len(phones)) if 0 < len(phones) <= self._longest else None
        if not choices:
            return ()
        weight = _phones.weight(phones)
        found = process.extract(
            _rough(phones), choices, scorer=Levenshtein.normalized_similarity, limit=_FEW, score_cutoff=_ROUGH
        )
        best: dict[int, float] = {}
        for _, _, at in found:
            number = int(self._numbers[at])
            other = _phones.numbers(self.targets[number].said[int(self._ways[at])])
            longest = max(weight, _phones.weight(other))
            distance = _phones.cost(phones, other, most * longest) / longest
            if distance <= most and distance < best.get(number, 2.0):
                best[number] = distance
        return tuple(sorted((distance, number) for number, distance in best.items()))


def _rough(phones: Sequence[int]) -> str:
    return "".join(_CLASS[phone] for phone in phones)
