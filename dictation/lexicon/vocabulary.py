"""What the embedded recogniser knows: a pronunciation dictionary and a trigram language model, compiled from the lexicon.

A pure function of the lexicon, kept by its content (compiled.py). The language model is a mixture: phrases of dictation
and ordinary talk, so that talk is heard as talk.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from dictation.lexicon.compiled import content_key, kept_files, uncollected
from dictation.lexicon.dictated_text import dictated_sentences, talk_sentences, whole_sentences
from dictation.lexicon.entries import Lexicon
from dictation.lexicon.spelling import is_abbreviation, spelled_out
from dictation.lexicon.trigram import Bigrams, Model, arpa

# Shares in the language model, chosen on tuning sounds; the rest is dictation strung together from shapes.
WHOLE_WEIGHT = 0.70  # whole sentences of dictation
TALK_WEIGHT = 0.08  # ordinary talk; with less of both, talk is heard as findings
EVERYDAY_WEIGHT = 0.07  # everyday English
DICTIONARY, MODEL = "words.dict", "language.lm"
Pronounce = Callable[[str], Iterable[Iterable[str]]]


class Said(Protocol):
    """Words -> phone strings."""

    def get(self, word: str, /) -> tuple[str, ...] | None:
        """Return the ways a word is said, None for one not there."""


@dataclass(frozen=True, slots=True)
class Stock:
    """What the wheel of the acoustic model brings: words -> phone strings; everyday() gives the probabilities of everyday
    words and of pairs of them (first word -> second word given the first), from its own language model."""

    pronunciations: Said
    everyday: Callable[[], tuple[Mapping[str, float], Mapping[str, Mapping[str, float]]]]


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """Paths of the compiled files. dictionary: CMU format. model: ARPA trigram."""

    dictionary: Path
    model: Path


def compile_vocabulary(lexicon: Lexicon, pronounce: Pronounce, stock: Stock, folder: Path | None = None) -> Vocabulary:
    """Return the compiled vocabulary, from the cache folder where it is already there.

    pronounce: a word's phones where neither the lexicon nor stock has it. folder: default the lexicon's own cache folder,
    else the user's; where it cannot be written, compiles into a temporary one.
    """

    def make() -> dict[str, str]:
        with uncollected():
            dictionary, model = compiled_texts(lexicon, pronounce, stock)
        return {DICTIONARY: dictionary, MODEL: model}

    key = content_key(lexicon.checksum, lexicon.personal_sha256)
    files = kept_files(folder or lexicon.cache or cache_folder(), key, "vocabulary", make)
    return Vocabulary(files[DICTIONARY], files[MODEL])


def cache_folder() -> Path:
    """Return the user's own folder for things that can be made again."""
    from platformdirs import user_cache_dir

    return Path(user_cache_dir("hand-examination-dictation", appauthor=False))


def compiled_texts(lexicon: Lexicon, pronounce: Pronounce, stock: Stock) -> tuple[str, str]:
    """Return the text of the dictionary and of the language model."""
    dictated = list(dictated_sentences(lexicon))
    whole, talk = list(whole_sentences(lexicon)), list(talk_sentences(lexicon))
    everyday, pairs = stock.everyday()
    words = frozenset(everyday).union(word for words in (*dictated, *whole, *talk) for word in words)
    own = given_pronunciations(lexicon)
    said = {word: pronunciations(word, own, stock.pronunciations, pronounce) for word in words}
    words = frozenset(word for word in words if said[word])
    texts = ([s for s in text if all(word in words for word in s)] for text in (dictated, whole, talk))
    dictation_model, whole_model, talk_model = (Model(text, words) for text in texts)
    lines = []
    for word in sorted(words):
        for i, phones in enumerate(said[word]):
            lines.append(f"{word}{f'({i + 1})' if i else ''} {phones}")
    shares: list[tuple[float, Model | Bigrams]] = [(WHOLE_WEIGHT if whole else 0.0, whole_model)]
    shares.append((TALK_WEIGHT if talk else 0.0, talk_model))
    if everyday:
        shares.append((EVERYDAY_WEIGHT, Bigrams(everyday, pairs)))
    model = arpa([(1 - sum(share for share, _ in shares), dictation_model), *shares], words)
    return "\n".join([*lines, ""]), model


def given_pronunciations(lexicon: Lexicon) -> dict[str, tuple[str, ...]]:
    """Return word -> phone strings as the lexicon gives them: its own list first, then those of entries."""
    own: dict[str, tuple[str, ...]] = dict(lexicon.pronunciations)
    for term in lexicon.terms():
        for word, said in term.pronunciations.items():
            own[word] = tuple(dict.fromkeys((*own.get(word, ()), *said)))
    return own


def pronunciations(word: str, own: Mapping[str, tuple[str, ...]], stock: Said, pronounce: Pronounce) -> tuple[str, ...]:
    """Return a word's phone strings, likeliest first: the lexicon's own, else the stock dictionary's, else by rule.

    An abbreviation is said letter by letter unless the lexicon says otherwise.
    """
    if is_abbreviation(word):
        if word in own:
            return own[word]
        if word.endswith("s") and word[:-1] in own:
            return tuple(f"{phones} Z" for phones in own[word[:-1]])
        return (spelled_out(word),)
    if word in own:
        # "dip" the word is not said "D I P": that is "DIP", a word of its own here.
        whole = tuple(phones for phones in own[word] if phones != _letter_by_letter(word))
        return whole or own[word]
    return stock.get(word) or tuple(dict.fromkeys(" ".join(phones) for phones in pronounce(word) if phones))


def _letter_by_letter(word: str) -> str | None:
    return spelled_out(word.upper()) if len(word) > 1 and word.isascii() and word.isalnum() else None
