"""Heard words as one pass of correction sees them: what is surely right, what may change, what is around."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterator, Sequence

from dictation.correction.frames import edge, telling
from dictation.correction.judging import Stretch
from dictation.lexicon.sound_index import NEVER_BY_SOUND, ORDINALS, SMALL, SoundIndex, key
from dictation.sounds import bare
from dictation.transcript import CorrectedWord

_STOP = re.compile(r"[.,;:!?)]$")
_NEAR = 3  # words on either side that count as surroundings
_BREATH = 8  # words on either side that tell what is being spoken of
_NEVER_LAST = frozenset({"the", "a", "an", "of", "and", "or", "is", "are", "was"})  # a misheard term hardly ends so
_OFTEN = 100  # a plain word in so many forms is the trade's own
_NO_FORM = 1_000_000
_COMMON = 5000  # a single word commoner than this may be plain English although a form has it


class Heard:
    """Heard words as one pass of correction sees them.

    keys: as compared; sure: 0 not the lexicon's, 1 a plain word that is a form of it, 2 surely the trade's.
    """

    def __init__(self, words: Sequence[CorrectedWord], breaks: frozenset[int], index: SoundIndex) -> None:
        self.words = [bare(word.text) for word in words]
        self.spans = [word.from_ for word in words]
        self.keys = [key(word.text) for word in words]
        self._known = index.known
        self._rank, self._said_around = index.rank, index.said_around
        self._starts = {i for i, word in enumerate(words) if word.from_[0] in breaks}
        self._starts |= {i + 1 for i, word in enumerate(words) if _STOP.search(word.text)}
        self._forms: list[tuple[int, int]] = []  # where spoken forms stand, in order
        self._longest = index.longest
        self.formed: set[int] = set()  # words of the trade within them
        self.sure = self._mark(index)
        self._never = [not word or word in NEVER_BY_SOUND or word[0].isdigit() for word in self.keys]
        self._fixed = [
            mark > 1 or never for mark, never in zip(self.sure, self._never, strict=True)
        ]  # fmt: skip

    def _mark(self, index: SoundIndex) -> list[int]:
        least = [_OFTEN if word in index.rank else 1 for word in self.keys]
        least = [_NO_FORM if word in SMALL else n for word, n in zip(self.keys, least, strict=True)]
        sure = [2 * (index.known.get(word, 0) >= n) for word, n in zip(self.keys, least, strict=True)]
        for start in range(len(self.keys)):
            for end in range(min(len(self.keys), start + index.longest), start, -1):
                if " ".join(self.keys[start:end]) in index.forms:
                    self._forms.append((start, end))
                    for i in range(start, end):
                        trade = end - start > 1 or self._rank.get(self.keys[i], _COMMON) >= _COMMON
                        sure[i] = max(sure[i], 2 if trade else 1)
                        if trade:
                            self.formed.add(i)
                    break
        return sure

    def stretches(self, longest: int, *, loose: bool = False) -> Iterator[tuple[int, int]]:
        """Return (start, end) of stretches within one breath; loose: only of words that may be changed by
        sound."""
        for start in range(len(self.keys)):
            for end in range(start + 1, min(len(self.keys), start + longest) + 1):
                if (end - 1 > start and end - 1 in self._starts) or (loose and self._fixed[end - 1]):
                    break
                yield start, end

    def slots(self, longest: int, *, sounded: bool) -> Iterator[tuple[int, int]]:
        """Return (start, end) of stretches within one breath that begin or end where a term may, and hold a word that no
        spoken form covers and none that is never changed by sound.

        Where the sound was not read a second time (sounded), there must be more to it: a word that is no word of dictation,
        a beginning and an end where a term may, and something near of an examination.
        """
        n = len(self.keys)
        for start in range(n):
            opens = self._opens(start)
            if not (opens or sounded):
                continue
            doubt = False
            for end in range(start + 1, min(n, start + longest) + 1):
                at = end - 1
                kept = self.keys[at] in ORDINALS  # written only where heard, see slots.py
                if (self._never[at] and not kept) or (at > start and at in self._starts):
                    break
                if not sounded and self._spelled(at):
                    break
                doubt = doubt or (at not in self.formed and self.keys[at] not in SMALL if sounded else self.doubtful(at))
                if not doubt or self.cut(start, end):
                    continue
                if (opens or self._closes(end)) if sounded else (self._closes(end) and self._spoken_of(start, end)):
                    yield start, end

    def doubtful(self, at: int) -> bool:
        """Tell whether a word is neither surely the trade's nor one of dictation."""
        word = self.keys[at]
        return self.sure[at] < 2 and word not in self._said_around and word not in SMALL and not self._never[at]

    def _spelled(self, at: int) -> bool:
        """Tell whether a word is one of letters spelled one by one, which are as said; a letter alone may be misheard."""
        beside = (*self.keys[at - 1 : at], *self.keys[at + 1 : at + 2])
        return len(self.keys[at]) == 1 and any(len(word) == 1 for word in beside)

    def _opens(self, start: int) -> bool:
        return start == 0 or start in self._starts or edge(self.keys[start - 1]) > 0 or self.sure[start - 1] == 2

    def _closes(self, end: int) -> bool:
        return end == len(self.keys) or end in self._starts or edge(self.keys[end]) > 0 or self.sure[end] == 2

    def breath(self, start: int, end: int) -> tuple[float, float]:
        """Return, of the words around in one breath, the share that are no words of dictation, and the trade's share."""
        around = self._around(start, end, _BREATH)
        doubtful = sum(map(self.doubtful, around))
        return doubtful / max(1, len(around)), len(self.formed.intersection(around)) / max(1, len(around))

    def _spoken_of(self, start: int, end: int) -> bool:
        near = self._around(start, end)
        return any(self.sure[i] == 2 or telling(self.keys[i]) or edge(self.keys[i]) == 1 for i in near)

    def cut(self, start: int, end: int) -> bool:
        """Tell whether a stretch would cut a spoken form of several words in two, as in carpal tunnel."""
        first = bisect_left(self._forms, (start - self._longest, 0))
        near = self._forms[first : bisect_left(self._forms, (end, 0))]
        return any(a < start < b or a < end < b for a, b in near if not start <= a <= b <= end)

    def _ends(self, start: int, end: int, most: int = _NEAR) -> tuple[int, int]:
        low, high = start, end
        while low > 0 and low not in self._starts and start - low < most:
            low -= 1
        while high < len(self.keys) and high not in self._starts and high - end < most:
            high += 1
        return low, high

    def _around(self, start: int, end: int, most: int = _NEAR) -> list[int]:
        low, high = self._ends(start, end, most)
        return [*range(low, start), *range(end, high)]

    def hopeful(self, start: int, end: int) -> bool:
        """Tell, cheaply, whether a stretch could be a mishearing at all: a rare word in it, or the trade
        beside it."""
        heard = self.keys[start:end]
        if any(len(word) == 1 and word not in "ai" for word in heard):
            return False  # letters spelled one by one are as said
        if heard[-1] in _NEVER_LAST or all(word in self._said_around for word in heard):
            return False
        if all(word in self._rank for word in heard):
            if any(self.sure[i] == 2 or telling(self.keys[i]) for i in self._around(start, end)):
                return True
            low, high = self._ends(start, end)
            beside = self.keys[max(low, start - 1) : start] + self.keys[end : min(high, end + 1)]
            return any(word in self._known and word not in SMALL for word in beside)
        return True

    def stretch(self, start: int, end: int, unknown: bool) -> Stretch:
        """Return a stretch with its surroundings."""
        low, high = self._ends(start, end)
        around = self._around(start, end)
        return Stretch(
            tuple(self.keys[start:end]),
            tuple(self.keys[low:start]),
            tuple(self.keys[end:high]),
            min(3, sum(self.sure[i] == 2 for i in around)),
            min(2, sum(telling(self.keys[i]) for i in around)),
            unknown,
            any(self.sure[start:end]),
        )
