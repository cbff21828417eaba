"""Words as phones, and how far apart two strings of phones sound.

Phones are ARPABET without stress. A word's pronunciations come from the lexicon, else from the stock
dictionary in the pocketsphinx wheel (the CMU Pronouncing Dictionary, read here as a text file; the decoder is
never imported), else by rule: possessives and plurals from their stem, abbreviations letter by letter, the
rest by letter-to-sound (see letters.py).
"""

from __future__ import annotations

import importlib.util
import re
import unicodedata
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from functools import cached_property, lru_cache
from pathlib import Path
from typing import TypeVar

from dictation import phones as _phones
from dictation.letters import sound_out
from dictation.lexicon.compiled import compiled
from dictation.lexicon.entries import Lexicon

Pronunciation = tuple[str, ...]
_EVERY = 8192  # bytes of the stock dictionary between words that are noted
REMEMBERED = 20_000  # words
_NAMES = {
    "a": "EY", "b": "B IY", "c": "S IY", "d": "D IY", "e": "IY", "f": "EH F", "g": "JH IY", "h": "EY CH",
    "i": "AY", "j": "JH EY", "k": "K EY", "l": "EH L", "m": "EH M", "n": "EH N", "o": "OW", "p": "P IY",
    "q": "K Y UW", "r": "AA R", "s": "EH S", "t": "T IY", "u": "Y UW", "v": "V IY", "w": "D AH B AH L Y UW",
    "x": "EH K S", "y": "W AY", "z": "Z EH D", "0": "Z IH R OW", "1": "W AH N", "2": "T UW", "3": "TH R IY",
    "4": "F AO R", "5": "F AY V", "6": "S IH K S", "7": "S EH V AH N", "8": "EY T", "9": "N AY N",
}  # fmt: skip
_HISSING = {"S", "Z", "SH", "ZH", "CH", "JH"}
_VOICELESS = {"P", "T", "K", "F", "TH"}
T = TypeVar("T")


@lru_cache(maxsize=20_000)
def bare(word: str) -> str:
    """Return a word for looking up: lower case, straight apostrophe, no punctuation around it.

    >>> bare("“Tinel’s,")
    "tinel's"
    """
    word = unicodedata.normalize("NFC", word).replace("’", "'").lower()
    word = re.sub(r"^[^\w']+|[^\w']+$", "", word)
    return word[1:-1] if len(word) > 2 and word[0] == word[-1] == "'" else word


def stock_dictionary() -> Path | None:
    """Return the stock dictionary's path inside the installed pocketsphinx, without importing it; None if
    absent."""
    spec = importlib.util.find_spec("pocketsphinx")
    for folder in (spec.submodule_search_locations or []) if spec else []:
        path = Path(folder) / "model" / "en-us" / "cmudict-en-us.dict"
        if path.is_file():
            return path
    return None


class _Stock:
    """The stock dictionary as one block of bytes whose words are sorted: every so many bytes one word is noted, and between
    two of them a word is searched for, so that almost nothing is parsed."""

    def __init__(self, path: Path | None) -> None:
        self._text = text = b"\n" + path.read_bytes() if path else b""
        starts = [text.find(b"\n", at) for at in range(0, max(0, len(text) - _EVERY), _EVERY)]
        self._starts = [*dict.fromkeys(starts), len(text)]
        self._heads = [self._head(at + 1) for at in self._starts[:-1]]

    def __getitem__(self, word: str) -> tuple[Pronunciation, ...]:
        key, text = word.encode(), self._text
        block = bisect_left(self._heads, key)  # the first block that begins with this word, or one after it
        low, end = self._starts[max(0, block - 1)], self._starts[min(block + 1, len(self._starts) - 1)]
        found = []
        for mark in (b" ", b"("):  # "word P HH", then "word(2) P HH"
            at = text.find(b"\n" + key + mark, low, end)
            while at >= 0:
                low = text.find(b"\n", at + 1)
                found.append(tuple(text[at + 1 : low if low >= 0 else len(text)].partition(b" ")[2].decode().split()))
                at = low if mark == b"(" and text.startswith(b"\n" + key + mark, low) else -1
        return tuple(dict.fromkeys(found))

    def _head(self, at: int) -> bytes:
        return self._text[at : at + 100].partition(b" ")[0].partition(b"(")[0]


@lru_cache(maxsize=1)
def _stock() -> _Stock:
    return _Stock(stock_dictionary())


def stock_pronunciations(word: str) -> tuple[Pronunciation, ...]:
    """Return the ways a lower-case word is said by the stock dictionary; () for one that is not in it."""
    return _stock()[word] if word else ()


class Sounds:
    """Pronunciations under one lexicon, and distances between them."""

    def __init__(self, lexicon: Lexicon) -> None:
        self._lexicon = lexicon
        self._cache: dict[str, tuple[Pronunciation, ...]] = {}
        self._known: dict[str, bool] = {}

    @cached_property
    def _own(self) -> Mapping[str, tuple[Pronunciation, ...]]:
        """Words whose pronunciation the lexicon gives."""
        own: dict[str, tuple[Pronunciation, ...]] = {}
        for source in (self._lexicon.pronunciations, *(term.pronunciations for term in self._lexicon.terms())):
            for word, said in source.items():
                key = bare(word)
                own[key] = tuple(dict.fromkeys((*own.get(key, ()), *(tuple(s.split()) for s in said))))
        return own

    @cached_property
    def _spelled(self) -> frozenset[str]:
        """Abbreviations, in lower case: words in capitals in the lexicon's forms."""
        return compiled(
            self._lexicon,
            "abbreviations",
            lambda: "\n".join(_abbreviations(self._lexicon)),
            lambda text: frozenset(text.split("\n")),
        )

    def pronounce(self, word: str) -> tuple[Pronunciation, ...]:
        """Return the ways a word is said, likeliest first; () for a word with neither letters nor digits."""
        key = bare(word)
        found = self._cache.get(key)
        if found is None:
            found = _remember(self._cache, key, self._pronounce(key))
        return found

    def known(self, word: str) -> bool:
        """Tell whether the lexicon or the stock dictionary holds the word itself."""
        word = bare(word)
        found = self._known.get(word)
        if found is None:
            found = _remember(self._known, word, word in self._own or bool(_stock()[word]))
        return found

    def distance(self, a: Sequence[str], b: Sequence[str], most: float = float("inf")) -> float:
        """Return the sound distance of two phone strings: 0 the same, 1 unlike; 1 as soon as it must pass most.
        Raises KeyError for an unknown phone."""
        x, y = _phones.numbers(a), _phones.numbers(b)
        longest = max(_phones.weight(x), _phones.weight(y))
        return min(1.0, _phones.cost(x, y, most * longest) / longest) if longest else 0.0

    def weight(self, said: Sequence[str]) -> float:
        """Return how much sound a phone string holds: what it costs to lose all of it."""
        return _phones.weight(_phones.numbers(said))

    def align(self, a: Sequence[str], b: Sequence[str]) -> list[tuple[int | None, int | None]]:
        """Return positions of phones that answer each other, in order; None where a phone has no partner."""
        return _phones.align(_phones.numbers(a), _phones.numbers(b))

    def _pronounce(self, word: str) -> tuple[Pronunciation, ...]:
        found = self._written(word)
        if found:
            return found
        if not re.search(r"\w", word):
            return ()
        parts = [part for part in re.split(r"[^\w']+|_", word) if part]
        if len(parts) > 1:
            return (tuple(phone for part in parts for phone in (self.pronounce(part) or ((),))[0]),)
        stem = re.fullmatch(r"(.{2,}?)(?:'s|s'|'|s)", word)
        if stem and (self._written(stem[1]) or word.endswith("'s")):
            return tuple((*said, *_ending(said)) for said in self.pronounce(stem[1]))
        plain = "".join(c for c in unicodedata.normalize("NFD", word) if not unicodedata.combining(c))
        plain = plain.replace("æ", "ae").replace("œ", "oe").replace("'", "")
        if bare(plain) != word:
            return self.pronounce(plain)
        if any(c.isdigit() for c in word) or not re.search(r"[aeiouy]", word):
            return (_spell(word),)
        return (sound_out(word),)

    def _written(self, word: str) -> tuple[Pronunciation, ...]:
        if word in self._own:
            return self._own[word]
        stock = _stock()[word] if word else ()
        if word not in self._spelled:
            return stock
        as_a_word = stock if len(word) > 2 and re.search(r"[aeiou]", word) else ()  # GRIT, but CT is not "court"
        return (_spell(word), *as_a_word)


def _abbreviations(lexicon: Lexicon) -> list[str]:
    found = {
        word.lower()
        for term in lexicon.terms()
        for form in term.spoken
        if not form.text.islower()
        for word in re.findall(r"\b[A-Z0-9]{2,6}\b", form.text)
    }
    return sorted(found)


def _remember(memory: dict[str, T], key: str, value: T) -> T:
    """Keep a value, forgetting all others where there are too many: a process may live through hundreds of dictations."""
    if len(memory) >= REMEMBERED:
        memory.clear()
    memory[key] = value
    return value


def _spell(word: str) -> Pronunciation:
    return tuple(phone for letter in word for phone in _NAMES.get(letter, "").split())


def _ending(said: Pronunciation) -> Pronunciation:
    if not said:
        return ()
    if said[-1] in _HISSING:
        return ("IH", "Z")
    return ("S",) if said[-1] in _VOICELESS else ("Z",)
