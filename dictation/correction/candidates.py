"""What a stretch of heard words may have been: the lexicon's targets that sound near it, nearest first.

An index of pairs of phones finds the few worth comparing: each phone is taken as its class (lips, ridge, front vowel ...),
and a target shares as many pairs of neighbouring classes with what was heard as it sounds alike. Those few are then
aligned phone by phone, all at once (phones.costs), so that thousands of targets stay fast.
"""

from __future__ import annotations

import json
from base64 import b64decode, b64encode
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from dictation import phones as _phones
from dictation.lexicon.sound_index import Target

if TYPE_CHECKING:
    from numpy.typing import NDArray

_CLASSES = (
    "P B", "T D", "K G", "M N NG", "F V TH DH", "S Z SH ZH CH JH", "L W", "R", "HH", "Y",
    "IY IH EY EH AE AY", "AA AO OW UH UW AW OY", "AH ER",
)  # fmt: skip
_CLASS = {phone: number for number, group in enumerate(_CLASSES, 1) for phone in group.split()}
_OF_PHONE = tuple(_CLASS[phone] for phone in _phones.PHONES)
_EDGE = 0  # before the first phone and after the last
_BASE = len(_CLASSES) + 1
_PAIRS = 2 * _BASE * _BASE  # neighbours, then neighbours but one
_FEWER, _MORE = 0.65, 1.5  # of the phones heard, how many a target may have
_REMEMBERED = 4_000
FARTHEST = 0.45  # distance past which nothing is taken for a mishearing


def compile_candidates(targets: Sequence[Target]) -> str:
    """Return the index of every way in which targets are said, as one line of text.

    In it: the ways in order of their class strings, the shortest first; for each its phones, how many, the target and the
    class string it is of; for each class string its length; for each pair of classes the class strings that hold it.
    """
    import numpy as np

    ways = sorted(
        (len(said), _classes(said), number, said)
        for number, target in enumerate(targets)
        for said in map(_phones.numbers, target.said)
    )
    strings = list(dict.fromkeys(classes for _, classes, _, _ in ways))
    place = {classes: at for at, classes in enumerate(strings)}
    pairs, of = _pairs([code for classes in strings for code in (_EDGE, *classes, _EDGE)], [len(s) + 2 for s in strings])
    both = np.sort(pairs * len(strings) + of)  # np.unique takes twice as long
    held = np.divmod(both[np.diff(both, prepend=-1) > 0], max(1, len(strings)))
    arrays = (
        [phone for *_, said in ways for phone in said],
        [len(said) for *_, said in ways],
        [number for *_, number, _ in ways],
        [place[classes] for _, classes, _, _ in ways],
        [len(classes) for classes in strings],
        np.bincount(held[0], minlength=_PAIRS),
        held[1],
    )
    return json.dumps([_packed(np.asarray(array, dtype=np.int64)) for array in arrays])


class Candidates:
    """The targets of one sound index; text: from compile_candidates; few: class strings whose targets are compared finely."""

    def __init__(self, targets: Sequence[Target], text: str, few: int) -> None:
        import numpy as np

        self.targets, self._few = targets, few
        phones, lengths, self._numbers, of, self._lengths, held, self._holding = map(_unpacked, json.loads(text))
        self._ends = np.cumsum(lengths)
        self._phones, self._ways = np.append(phones, 0), lengths
        self._first = np.searchsorted(of, np.arange(len(self._lengths) + 1))
        self._held = np.append(0, np.cumsum(held))
        self._memory: dict[tuple[int, ...], tuple[tuple[float, int], ...]] = {}

    def weight(self, number: int) -> float:
        """Return what a target's phones weigh, as it is said most often."""
        return _phones.weight(_phones.numbers(self.targets[number].said[0]))

    def near(self, said: Sequence[str], most: float) -> tuple[tuple[float, int], ...]:
        """Return (distance, number of target) of targets at most so far off, nearest first; distance 0 to
        1."""
        phones = _phones.numbers(said)
        if phones not in self._memory:
            if len(self._memory) >= _REMEMBERED:
                self._memory.clear()
            self._memory[phones] = self._near(phones)
        return tuple(found for found in self._memory[phones] if found[0] <= most)

    def _near(self, phones: tuple[int, ...]) -> tuple[tuple[float, int], ...]:
        import numpy as np

        strings = self._alike(phones)
        if not len(strings):
            return ()
        number = self._first[strings + 1] - self._first[strings]
        ways = np.arange(number.sum()) + np.repeat(self._first[strings] - (np.cumsum(number) - number), number)
        lengths = self._ways[ways]
        column = np.arange(lengths.max())
        at = (self._ends[ways] - lengths)[:, None] + column
        others = self._phones[np.where(column < lengths[:, None], at, len(self._phones) - 1)]
        best: dict[int, float] = {}
        for number, distance in zip(self._numbers[ways].tolist(), _phones.distances(phones, others, lengths), strict=True):
            if distance <= FARTHEST and distance < best.get(number, 2.0):
                best[number] = distance
        return tuple(sorted((distance, number) for number, distance in best.items()))

    def _alike(self, phones: tuple[int, ...]) -> NDArray[Any]:
        """Return the class strings that share most pairs of classes with some phones, most first."""
        import numpy as np

        pairs, _ = _pairs([_EDGE, *_classes(phones), _EDGE], [len(phones) + 2])
        held = [self._holding[self._held[pair] : self._held[pair + 1]] for pair in np.unique(pairs)]
        first, end = np.searchsorted(self._lengths, (_FEWER * len(phones), _MORE * len(phones) + 1))
        shared = np.bincount(np.concatenate(held), minlength=len(self._lengths))[first:end]
        unlike = -shared / (self._lengths[first:end] + len(phones))
        few = np.argpartition(unlike, self._few)[: self._few] if len(unlike) > self._few else np.arange(len(unlike))
        found: NDArray[Any] = first + np.sort(few[unlike[few] < 0])
        return found


def _classes(phones: Sequence[int]) -> tuple[int, ...]:
    return tuple(_OF_PHONE[phone] for phone in phones)


def _pairs(codes: Sequence[int], lengths: Sequence[int]) -> tuple[NDArray[Any], NDArray[Any]]:
    """Return the pairs of classes in strings that follow each other, as numbers, and the string each is in."""
    import numpy as np

    code, of = np.asarray(codes, dtype=np.int64), np.repeat(np.arange(len(lengths)), lengths)
    found = []
    for gap in (1, 2):
        same = of[gap:] == of[:-gap]
        pair = (gap - 1) * _BASE * _BASE + code[:-gap] * _BASE + code[gap:]
        found.append((pair[same], of[gap:][same]))
    return np.concatenate([pair for pair, _ in found]), np.concatenate([string for _, string in found])


def _packed(array: NDArray[Any]) -> list[str]:
    kind = next(kind for kind, most in (("<u1", 2**8), ("<u2", 2**16), ("<u4", 2**32)) if not len(array) or array.max() < most)
    return [kind, b64encode(array.astype(kind).tobytes()).decode()]


def _unpacked(packed: tuple[str, str]) -> NDArray[Any]:
    import numpy as np

    kind, text = packed
    return np.frombuffer(b64decode(text), dtype=kind).astype(np.int64)
