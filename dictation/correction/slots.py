"""A whole term misheard from end to end, found where the words around it leave a slot for one.

"tender over the [try angular fabric are delicious]": none of the words inside is the trade's, and more of them were heard
than were said, but the stretch begins and ends where a term would, and from end to end it sounds like one. Such a stretch
may be longer than those judged word by word (judging.py), and its evidence is the length of what sounds alike.
Where the sound itself was also read by a loop of phones that knows no words, that reading is compared too: it does not
share the word recogniser's mistakes.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from dictation.correction.candidates import FARTHEST, Candidates
from dictation.correction.frames import edge, expected
from dictation.correction.heard import Heard
from dictation.correction.judging import akin
from dictation.lexicon.sound_index import ORDINALS, SMALL, SoundIndex, Target
from dictation.sounds import Sounds

LONGEST = 9  # heard words in a slot
FARTHEST_OF_ALL = 0.6  # of what was heard, where the loop's phones are near
DOUBT = -1.0  # score from which a term is not taken but asked about
NO_LOOP = 0.6  # distance taken where the loop read nothing
KEPT = 4  # terms weighed for a slot
BEHIND = 0.05  # a runner-up no further behind is kept
_COMMONEST = 600
_NEVER = 99_999
_TOLD = frozenset({"context", "reported", "plan"})  # what is told rather than found
NAMES = (
    "one", "distance", "weight", "weight off", "left edge", "right edge", "expected", "trade near", "telling near",
    "rare words", "commonest words", "words kept", "ahead of the next", "one word heard", "trade words lost",
    "no words of dictation", "expected on both sides", "no words of dictation around", "trade around", "term's rare words",
    "loop's distance", "loop's distance times weight", "loop nearer than to what was heard",
)  # fmt: skip
# Fitted by tests/benchmarks/fit_correction.py; the first weights are moved so that 0 is the cut.
TYPED: tuple[float, ...] = (
    -5.98, -2.52, 2.76, -1.55, 0.60, 0.20, 1.40, -0.59, -0.19, 0.16, 0.49, -1.03, 4.73, -2.24, -1.59, 0.99, -1.23, -2.21,
    0.15, 2.81,
)  # fmt: skip
SOUNDED: tuple[float, ...] = (
    -3.89, -1.72, 2.12, -0.65, 0.22, 0.83, 0.90, -0.43, -0.38, -0.24, -0.17, -0.07, 3.45, -1.63, -0.78, 1.10, -0.64, -1.34,
    -0.11, 1.86, -0.39, -0.56, 5.40,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Hit:
    """A slot and a term that may stand in it; behind: the nearest other term, where there is one."""

    start: int
    end: int
    target: Target
    distance: float
    behind: Target | None
    features: tuple[float, ...]

    @property
    def score(self) -> float:
        """The weighed evidence; above 0, the term is taken."""
        weights = SOUNDED if len(self.features) == len(SOUNDED) else TYPED
        return sum(w * f for w, f in zip(weights, self.features, strict=True))


@dataclass(frozen=True, slots=True)
class _Near:
    """A target, its distance to what was heard and to the loop's phones, and both together."""

    target: Target
    distance: float
    of_loop: float
    together: float


class Slots:
    """The whole forms of a lexicon, and the slots of heard words where one of them may stand."""

    def __init__(self, index: SoundIndex, candidates: Candidates, sounds: Sounds) -> None:
        self._index, self._candidates, self._sounds = index, candidates, sounds

    def hits(self, heard: Heard, loop: Loop | None) -> Iterator[Hit]:
        """Yield what may stand in each slot."""
        for start, end in heard.slots(LONGEST, sounded=loop is not None):
            said = tuple(phone for word in heard.words[start:end] for phone in (self._sounds.pronounce(word) or ((),))[0])
            read = loop.between(heard.spans[start][0], heard.spans[end - 1][1]) if loop else ()
            near = [found for found in self._near(said, read) if _may_stand(heard, start, end, found.target)]
            for place, found in enumerate(near[:KEPT]):
                behind = next((other for other in near[place + 1 :] if not other.target.terms & found.target.terms), None)
                ahead = behind.together - found.together if behind else 1.0
                features = self._features(heard, start, end, found, ahead)
                if loop:
                    nearer = self._sounds.distance(read, said) - found.of_loop if read else 0.0
                    weight = self._sounds.weight(found.target.said[0])
                    features = (*features, found.of_loop, found.of_loop * weight, nearer)
                rival = behind.target if behind and ahead <= BEHIND else None
                yield Hit(start, end, found.target, found.distance, rival, features)

    def _near(self, said: Sequence[str], read: Sequence[str]) -> list[_Near]:
        """Return targets near the words heard or near the loop's phones, the nearest to both first."""
        if not said:
            return []
        numbers = {number: distance for distance, number in self._candidates.near(said, FARTHEST)}
        for _, number in self._candidates.near(read, FARTHEST) if read else ():
            if number not in numbers:
                numbers[number] = self._distance(said, self._index.whole[number])
        found = []
        for number, distance in numbers.items():
            target = self._index.whole[number]
            of_loop = self._distance(read, target) if read else NO_LOOP
            if distance <= FARTHEST_OF_ALL:
                found.append(_Near(target, distance, of_loop, (distance + of_loop) / 2 if read else distance))
        return sorted(found, key=lambda near: near.together)

    def _distance(self, said: Sequence[str], target: Target) -> float:
        return min(self._sounds.distance(said, way) for way in target.said)

    def _features(self, heard: Heard, start: int, end: int, near: _Near, ahead: float) -> tuple[float, ...]:
        target, distance = near.target, near.distance
        stretch = heard.stretch(start, end, False)
        before, after = "".join(stretch.before[-1:]), "".join(stretch.after[:1])
        weight = self._sounds.weight(target.said[0])
        rank: Mapping[str, int] = self._index.rank
        n = end - start
        expects = expected(before, after, target.kinds)
        return (
            1.0,
            distance,
            min(weight, 12.0) / 4,
            distance * weight,
            edge(before),
            edge(after),
            expects,
            float(stretch.trade),
            float(stretch.telling),
            1.0 - stretch.plain(rank),
            sum(rank.get(word, _NEVER) < _COMMONEST for word in stretch.heard) / n,
            len(set(target.keys).intersection(stretch.heard)) / len(target.keys),
            min(0.2, ahead),
            float(n == 1),
            sum(heard.sure[i] == 2 and heard.keys[i] not in target.keys for i in range(start, end)) / n,
            sum(map(heard.doubtful, range(start, end))) / n,
            float(expects == 2),
            *heard.breath(start, end),
            1.0 - target.plain,
        )


def _may_stand(heard: Heard, start: int, end: int, target: Target) -> bool:
    """Tell whether a target says something else than was heard and loses no term heard."""
    keys = heard.keys[start:end]
    kept = set(target.keys)
    if "".join(keys) == "".join(target.keys) or kept <= set(keys):
        return False
    if [word for word in keys if word in ORDINALS] != [word for word in target.keys if word in ORDINALS]:
        return False
    if (all(map(str.isupper, target.words)) or target.kinds <= _TOLD) and not heard.breath(start, end)[1]:
        return False  # found in too much that is no examination: "eggs are", XR; "coast at", post-op
    formed = [heard.keys[i] for i in heard.formed.intersection(range(start, end))]
    return all(word in kept or word in SMALL or any(akin(word, other) for other in kept) for word in formed)


class Loop:
    """The reading of a loop of phones, by heard word. phones: (name, start, end) in order; words: (start, end) in seconds."""

    def __init__(self, phones: Sequence[tuple[str, float, float]], words: Sequence[tuple[float, float]]) -> None:
        self._phones, self._words = phones, words

    def between(self, first: int, end: int) -> tuple[str, ...]:
        """Return the phones whose middle lies within heard words first to end."""
        start_s, end_s = self._words[first][0], self._words[end - 1][1]
        return tuple(name for name, a, b in self._phones if start_s <= (a + b) / 2 < end_s)
