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
_NEVER_LAST = frozenset({"the", "a", "an", "of", "and", "or", "is", "are", "was"})  # a misheard term hardly ends so
_OFTEN = 100  # a plain word in so many forms is the trade's own
_NO_FORM = 1_000_000
_COMMON = 5000  # a single word commoner than this may be plain English although a form has it


class Heard:
    """Heard words as one pass of correction sees them.

    keys: as compared; sure: 0 not the lexicon's, 1 a plain word that is a form of it, 2 surely the trade's.
    """

    def __init__(self, words: Sequence[CorrectedWord], breaks: frozenset[int], index: SoundIndex, longest_form: int) -> None:
        self.words = [bare(word.text) for word in words]
        self.spans = [word.from_ for word in words]
        self.keys = [key(word.text) for word in words]
        self._known = index.known
        self._rank, self._said_around = index.rank, index.said_around
        self._starts = {i for i, word in enumerate(words) if word.from_[0] in breaks}
        self._starts |= {i + 1 for i, word in enumerate(words) if _STOP.search(word.text)}
        self._forms: list[tuple[int, int]] = []  # where spoken forms stand, in order
        self._longest = longest_form
        self.formed: set[int] = set()  # words of the trade within them
        self.sure = self._mark(index, longest_form)
        self._never = [not word or word in NEVER_BY_SOUND or word[0].isdigit() for word in self.keys]
        self._fixed = [
            mark > 1 or never for mark, never in zip(self.sure, self._never, strict=True)
        ]  # fmt: skip

    def _mark(self, index: SoundIndex, longest: int) -> list[int]:
        least = [_OFTEN if word in index.rank else 1 for word in self.keys]
        least = [_NO_FORM if word in SMALL else n for word, n in zip(self.keys, least, strict=True)]
        sure = [2 * (index.known.get(word, 0) >= n) for word, n in zip(self.keys, least, strict=True)]
        for start in range(len(self.keys)):
            for end in range(min(len(self.keys), start + longest), start, -1):
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
        no letter spelled on its own, a beginning and an end where a term may, and something near of an examination.
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
                if not sounded and self._lone_letter(at):
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

    def _lone_letter(self, at: int) -> bool:
        return len(self.keys[at]) == 1 and self.keys[at] not in "ai"

    def _opens(self, start: int) -> bool:
        return start == 0 or start in self._starts or edge(self.keys[start - 1]) > 0 or self.sure[start - 1] == 2

    def _closes(self, end: int) -> bool:
        return end == len(self.keys) or end in self._starts or edge(self.keys[end]) > 0 or self.sure[end] == 2

    def _spoken_of(self, start: int, end: int) -> bool:
        low, high = self._ends(start, end)
        around = [*range(low, start), *range(end, high)]
        return any(self.sure[i] == 2 or telling(self.keys[i]) or edge(self.keys[i]) == 1 for i in around)

    def cut(self, start: int, end: int) -> bool:
        """Tell whether a stretch would cut a spoken form of several words in two, as in carpal tunnel."""
        first = bisect_left(self._forms, (start - self._longest, 0))
        near = self._forms[first : bisect_left(self._forms, (end, 0))]
        return any(a < start < b or a < end < b for a, b in near if not start <= a <= b <= end)

    def _ends(self, start: int, end: int) -> tuple[int, int]:
        low, high = start, end
        while low > 0 and low not in self._starts and start - low < _NEAR:
            low -= 1
        while high < len(self.keys) and high not in self._starts and high - end < _NEAR:
            high += 1
        return low, high

    def hopeful(self, start: int, end: int) -> bool:
        """Tell, cheaply, whether a stretch could be a mishearing at all: a rare word in it, or the trade
        beside it."""
        heard = self.keys[start:end]
        if any(len(word) == 1 and word not in "ai" for word in heard):
            return False  # letters spelled one by one are as said
        if heard[-1] in _NEVER_LAST or all(word in self._said_around for word in heard):
            return False
        if all(word in self._rank for word in heard):
            low, high = self._ends(start, end)
            around = [*range(low, start), *range(end, high)]
            if any(self.sure[i] == 2 or telling(self.keys[i]) for i in around):
                return True
            beside = self.keys[max(low, start - 1) : start] + self.keys[end : min(high, end + 1)]
            return any(word in self._known and word not in SMALL for word in beside)
        return True

    def stretch(self, start: int, end: int, unknown: bool) -> Stretch:
        """Return a stretch with its surroundings."""
        low, high = self._ends(start, end)
        around = [*range(low, start), *range(end, high)]
        return Stretch(
            tuple(self.keys[start:end]),
            tuple(self.keys[low:start]),
            tuple(self.keys[end:high]),
            min(3, sum(self.sure[i] == 2 for i in around)),
            min(2, sum(telling(self.keys[i]) for i in around)),
            unknown,
            any(self.sure[start:end]),
        )
