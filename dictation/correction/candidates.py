"""What a stretch of heard words may have been: the lexicon's targets that sound near it, nearest first.

A rough comparison (rapidfuzz, over strings with one letter for each class of phones) finds the few worth the
fine one (phones.py), so that thousands of targets stay fast.
"""

from __future__ import annotations

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


class Candidates:
    """The targets of one sound index, arranged by how long they sound."""

    def __init__(self, targets: Sequence[Target]) -> None:
        self.targets = tuple(targets)
        self.weights = tuple(_phones.weight(_phones.numbers(target.said[0])) for target in self.targets)
        self._said: list[tuple[int, tuple[int, ...], float]] = []
        by_length: dict[int, list[int]] = {}
        for number, target in enumerate(self.targets):
            for said in target.said:
                phones = _phones.numbers(said)
                by_length.setdefault(len(phones), []).append(len(self._said))
                self._said.append((number, phones, _phones.weight(phones)))
        self._rough: dict[int, dict[int, str]] = {}  # number of phones heard -> what may be near it
        for length in range(1, max(by_length, default=0) + 1):
            slack = max(1, round(_SLACK * length))
            near = (at for n in range(length - slack, length + slack + 1) for at in by_length.get(n, ()))
            self._rough[length] = {at: _rough(self._said[at][1]) for at in near}
        self._memory: dict[tuple[int, ...], tuple[tuple[float, int], ...]] = {}

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

        choices = self._rough.get(len(phones))
        if not choices:
            return ()
        weight = _phones.weight(phones)
        found = process.extract(
            _rough(phones), choices, scorer=Levenshtein.normalized_similarity, limit=_FEW, score_cutoff=_ROUGH
        )
        best: dict[int, float] = {}
        for _, _, at in found:
            number, other, heavy = self._said[at]
            longest = max(weight, heavy)
            distance = _phones.cost(phones, other, most * longest) / longest
            if distance <= most and distance < best.get(number, 2.0):
                best[number] = distance
        return tuple(sorted((distance, number) for number, distance in best.items()))


def _rough(phones: Sequence[int]) -> str:
    return "".join(_CLASS[phone] for phone in phones)
