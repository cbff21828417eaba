"""The lexicon's words as they sound: what a misheard stretch of words may have been.

A pure function of the lexicon and of a way to pronounce words. A target is a spoken form or a stretch within
one, with the words that stand before and after it in that form: "Phalen's" before "test", "radial" before
"deviation".
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import chain, islice, product
from typing import overload

from dictation.lexicon.entries import Lexicon

Pronounce = Callable[[str], tuple[tuple[str, ...], ...]]
LONGEST = 4  # words in a target
_VARIANTS = 6  # pronunciations kept of one target
_FEWEST_PHONES = 4
# Rank of plain English from which a word is worth writing by sound: on its own, and within a longer form.
_RARE, _RARE_WITHIN = 3000, 1000
_KEEP_CAPITALS = re.compile(r"[A-Z0-9]{2,}s?")


@lru_cache(maxsize=20_000)
def key(word: str) -> str:
    """Return a word as it is compared: lower case, no punctuation around it, no possessive, no plural s.

    >>> key("(Tinel’s,"), key("nodes"), key("is")
    ('tinel', 'node', 'is')
    """
    word = re.sub(r"^[^\w']+|[^\w']+$", "", word.replace("’", "'").lower())
    return re.sub(r"('s|s'|(?<!s)s)$", "", word) if len(word) > 4 else word


# Sides, numbers and words of yes and no are never written by sound: a wrong guess would turn a finding round.
_NEVER = (
    "left right both bilateral bilaterally either neither no not nil none non never without denies negative "
    "positive absent present normal abnormal intact zero oh one two three four five six seven eight nine ten "
    "eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen twenty thirty forty "
    "fifty sixty seventy eighty ninety hundred half plus minus first second third fourth fifth correction "
    "sorry scratch"
)
NEVER_BY_SOUND = frozenset(map(key, _NEVER.split()))
_ARTICLES_AND_LINKS = "a an the of to in on at and or for with by is are his her my your it"
SMALL = frozenset(_ARTICLES_AND_LINKS.split())
ORDINALS = frozenset({"first", "second", "third", "fourth", "fifth"})  # in a term as a whole they are kept where heard


@dataclass(slots=True)
class Target:
    """A stretch of words the lexicon knows.

    words: as written. terms: ids of those with this very form, empty for a stretch within a form. within: ids
    of all terms it occurs in, kinds: theirs. around: the words before and after it in each form it is a
    stretch of. said: its pronunciations as phones. keys: its words as compared; plain: the share of them that
    is plain English.
    """

    words: tuple[str, ...]
    terms: set[str] = field(default_factory=set)
    within: set[str] = field(default_factory=set)
    kinds: set[str] = field(default_factory=set)
    around: set[tuple[tuple[str, ...], tuple[str, ...]]] = field(default_factory=set)
    said: tuple[tuple[str, ...], ...] = ()
    keys: tuple[str, ...] = ()
    plain: float = 0.0

    @property
    def text(self) -> str:
        """The words with spaces between."""
        return " ".join(self.words)


@dataclass(frozen=True)
class SoundIndex:
    """All targets, and what is known of words.

    targets: stretches of up to four words; whole: spoken forms from end to end, of any length. known: word of a spoken
    form, as compared by key() -> in how many forms it stands. forms: spoken forms, their words as compared with a space
    between; longest: words in the longest. said_around: words of the language around the terms, as compared. rank: how
    common an ordinary English word is, 0 the commonest; a word that is not there is no plain word.
    """

    targets: Sequence[Target]
    whole: Sequence[Target]
    known: Mapping[str, int]
    forms: frozenset[str]
    said_around: frozenset[str]
    rank: Mapping[str, int]
    longest: int


def compile_sound_index(lexicon: Lexicon, pronounce: Pronounce, rank: Mapping[str, int]) -> SoundIndex:
    """Return the index of a lexicon. pronounce gives the ways a word is said; rank orders plain English
    words."""
    forms: set[str] = set()
    longest = 0
    targets: dict[tuple[str, ...], Target] = {}
    whole: dict[tuple[str, ...], Target] = {}
    known: Counter[str] = Counter()
    for term in lexicon.terms():
        kind = getattr(term, "kind", "structure")
        for form in term.spoken:
            words = tuple(_written(word) for word in form.text.replace("/", " ").split() if key(word))
            keys = tuple(key(word) for word in words)
            forms.add(" ".join(keys))
            longest = max(longest, len(keys))
            known.update(set(keys))
            if keys and not form.observed and "status" not in form.sets and _worth(_without_ordinals(keys), rank, whole=True):
                entire = whole.setdefault(keys, Target(words))
                entire.kinds.add(kind)
                entire.terms.add(term.id)
                entire.within.add(term.id)
            for start, end in _stretches(len(words)):
                if not _worth(keys[start:end], rank, whole=(start, end) == (0, len(words))):
                    continue
                target = targets.get(keys[start:end])
                if target is None:
                    target = targets[keys[start:end]] = Target(words[start:end])
                target.kinds.add(kind)
                target.within.add(term.id)
                if (start, end) == (0, len(words)):
                    target.terms.add(term.id)
                elif not SMALL.issuperset((*keys[:start], *keys[end:])):
                    target.around.add((keys[:start], keys[end:]))
    opposites = {word for word in known if word[:2] in {"un", "in"} and word[2:] in known}
    opposites |= {word[2:] for word in opposites}
    kept, kept_whole = (
        [
            target
            for keys, target in some.items()
            if not opposites.intersection(keys) and _pronounced(target, keys, pronounce, rank) >= fewest
        ]
        for some, fewest in ((targets, _FEWEST_PHONES), (whole, _FEWEST_PHONES + 1))
    )
    around = {
        key(word)
        for text in (
            *(f for sense in lexicon.language.values() for fs in sense.values() for f in fs),
            *lexicon.phrases,
        )
        for word in re.findall(r"[^\W\d_][\w']*", text)
    }
    return SoundIndex(tuple(kept), tuple(kept_whole), known, frozenset(forms), frozenset(around), rank, longest)


def _pronounced(target: Target, keys: tuple[str, ...], pronounce: Pronounce, rank: Mapping[str, int]) -> int:
    """Fill in how a target is said; return the fewest phones it is said with."""
    ways = islice(product(*(pronounce(word) or ((),) for word in target.words)), _VARIANTS)
    target.said = tuple(dict.fromkeys(tuple(chain.from_iterable(way)) for way in ways))
    target.keys, target.plain = keys, sum(word in rank for word in keys) / len(keys)
    return min(map(len, target.said))


def pack(index: SoundIndex) -> list[str]:
    """Return an index as lines of text: one for the words, one for each target."""
    words = [len(index.targets), index.known, sorted(index.forms), sorted(index.said_around), index.rank, index.longest]
    return [json.dumps(words, ensure_ascii=False), *map(_packed, index.targets), *map(_packed, index.whole)]


def unpack(lines: Sequence[str]) -> SoundIndex:
    """Return the index that was packed; a target is read when it is asked for."""
    number, known, forms, around, rank, longest = json.loads(lines[0])
    targets, whole = _Targets(lines[1 : number + 1]), _Targets(lines[number + 1 :])
    return SoundIndex(targets, whole, known, frozenset(forms), frozenset(around), rank, longest)


def _packed(target: Target) -> str:
    around = sorted((" ".join(before), " ".join(after)) for before, after in target.around)
    said = [" ".join(way) for way in target.said]
    sets = (sorted(ids) for ids in (target.terms, target.within, target.kinds))
    values = [target.words, *sets, around, said, target.keys, target.plain]
    return json.dumps(values, ensure_ascii=False, separators=(",", ":"))


class _Targets(Sequence[Target]):
    """Targets kept as lines until they are asked for: of thousands, a dictation comes near a few."""

    def __init__(self, lines: Sequence[str]) -> None:
        self._lines = lines
        self._read: dict[int, Target] = {}

    def __len__(self) -> int:
        return len(self._lines)

    @overload
    def __getitem__(self, at: int) -> Target: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[Target]: ...
    def __getitem__(self, at: int | slice) -> Target | Sequence[Target]:
        if isinstance(at, slice):
            return [self[i] for i in range(*at.indices(len(self)))]
        if at not in self._read:
            words, terms, within, kinds, around, said, keys, plain = json.loads(self._lines[at])
            self._read[at] = Target(
                tuple(words), set(terms), set(within), set(kinds),
                {(tuple(before.split()), tuple(after.split())) for before, after in around},
                tuple(tuple(way.split()) for way in said), tuple(keys), plain,
            )  # fmt: skip
        return self._read[at]


def _written(word: str) -> str:
    word = word.replace("’", "'").strip("(),;:")
    return word if _KEEP_CAPITALS.fullmatch(word) else word.lower()


def _stretches(n: int) -> list[tuple[int, int]]:
    return [(a, b) for a in range(n) for b in range(a + 1, min(n, a + LONGEST) + 1)]


@lru_cache(maxsize=20_000)
def _decides(word: str) -> bool:
    return word in NEVER_BY_SOUND or word.startswith("non") or any(c.isdigit() for c in word)


def _without_ordinals(keys: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(word for word in keys if word not in ORDINALS)


def _worth(keys: tuple[str, ...], rank: Mapping[str, int], *, whole: bool) -> bool:
    """Tell whether a stretch may be written by sound: some word of it is of the trade, none decides yes or
    no."""
    if any(map(_decides, keys)):
        return False
    if not keys or keys[0] in SMALL or keys[-1] in SMALL:
        return False
    least = _RARE if whole else _RARE_WITHIN
    return max(rank.get(word, _RARE) for word in keys) >= least
