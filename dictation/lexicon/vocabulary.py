"""What the embedded recogniser knows: a pronunciation dictionary and a trigram language model, compiled from the lexicon.

A pure function of the lexicon, kept in a folder that only its owner can read, named by the content of the lexicon and of
the code that compiles it, and put in place by one rename. The language model is a mixture: phrases of dictation and
ordinary talk, so that talk is heard as talk.
"""

from __future__ import annotations

import hashlib
import shutil
import tempfile
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from dictation.lexicon.dictated_text import dictated_sentences, talk_sentences
from dictation.lexicon.entries import Lexicon
from dictation.lexicon.spelling import is_abbreviation, spelled_out
from dictation.lexicon.trigram import Bigrams, Model, arpa

TALK_WEIGHT = 0.2  # share of clinic talk in the language model; both shares chosen on tuning sounds
EVERYDAY_WEIGHT = 0.15  # share of everyday English
KEPT = 3  # compiled vocabularies kept in the folder
Pronounce = Callable[[str], Iterable[Iterable[str]]]


@dataclass(frozen=True, slots=True)
class Stock:
    """What the wheel of the acoustic model brings: words -> phone strings; everyday() gives the probabilities of everyday
    words and of pairs of them (second word given the first), from its own language model."""

    pronunciations: Mapping[str, tuple[str, ...]]
    everyday: Callable[[], tuple[Mapping[str, float], Mapping[tuple[str, str], float]]]


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """Paths of the compiled files. dictionary: CMU format. model: ARPA trigram."""

    dictionary: Path
    model: Path


def compile_vocabulary(lexicon: Lexicon, pronounce: Pronounce, stock: Stock, folder: Path | None = None) -> Vocabulary:
    """Return the compiled vocabulary, from folder where it is already there.

    pronounce: a word's phones where neither the lexicon nor stock has it. folder: default the user's cache folder; where
    it cannot be written, compiles into a temporary one.
    """
    folder = folder or cache_folder()
    name = f"vocabulary-{_key(lexicon)}"
    place = folder / name
    if not _complete(place):
        try:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            place = _put(lexicon, pronounce, stock, folder, name)
        except OSError:
            place = _put(lexicon, pronounce, stock, Path(tempfile.mkdtemp(prefix="dictation-")), name)
    return Vocabulary(place / "words.dict", place / "language.lm")


def cache_folder() -> Path:
    """Return the user's own folder for things that can be made again."""
    from platformdirs import user_cache_dir

    return Path(user_cache_dir("hand-examination-dictation", appauthor=False))


def _key(lexicon: Lexicon) -> str:
    digest = hashlib.sha256(f"{lexicon.checksum} {lexicon.personal_sha256}".encode())
    here = Path(__file__).parent
    code = [*sorted(here.glob("*.py")), *(here.parent / name for name in ("sounds.py", "letters.py"))]
    for path in code:
        digest.update(path.read_bytes() if path.is_file() else b"")
    return digest.hexdigest()[:24]


def _complete(place: Path) -> bool:
    return (place / "words.dict").is_file() and (place / "language.lm").is_file()


def _put(lexicon: Lexicon, pronounce: Pronounce, stock: Stock, folder: Path, name: str) -> Path:
    made = Path(tempfile.mkdtemp(prefix=".making-", dir=folder))  # owner-only, as mkdtemp makes them
    try:
        dictionary, model = compiled_texts(lexicon, pronounce, stock)
        (made / "words.dict").write_text(dictionary, encoding="utf-8")
        (made / "language.lm").write_text(model, encoding="utf-8")
        try:
            made.rename(folder / name)
        except OSError:
            if not _complete(folder / name):  # else another process was quicker, with the same content
                raise
    finally:
        shutil.rmtree(made, ignore_errors=True)
    _forget_old(folder)
    return folder / name


def _forget_old(folder: Path) -> None:
    kept = sorted(folder.glob("vocabulary-*"), key=lambda path: path.stat().st_mtime, reverse=True)
    for path in kept[KEPT:]:
        shutil.rmtree(path, ignore_errors=True)


def compiled_texts(lexicon: Lexicon, pronounce: Pronounce, stock: Stock) -> tuple[str, str]:
    """Return the text of the dictionary and of the language model."""
    dictated = list(dictated_sentences(lexicon))
    talk = list(talk_sentences(lexicon))
    everyday, pairs = stock.everyday()
    words = frozenset(everyday).union(word for words in (*dictated, *talk) for word in words)
    own = given_pronunciations(lexicon)
    said = {word: pronunciations(word, own, stock.pronunciations, pronounce) for word in words}
    words = frozenset(word for word in words if said[word])
    sentences = ([s for s in text if all(word in words for word in s)] for text in (dictated, talk))
    dictation_model, talk_model = (Model(text, words) for text in sentences)
    lines = []
    for word in sorted(words):
        for i, phones in enumerate(said[word]):
            lines.append(f"{word}{f'({i + 1})' if i else ''} {phones}")
    shares: list[tuple[float, Model | Bigrams]] = [(TALK_WEIGHT if talk else 0.0, talk_model)]
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


def pronunciations(
    word: str, own: Mapping[str, tuple[str, ...]], stock: Mapping[str, tuple[str, ...]], pronounce: Pronounce
) -> tuple[str, ...]:
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
