"""What the pocketsphinx wheel brings beside its acoustic model: a pronunciation dictionary and everyday English."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from dictation.lexicon.vocabulary import Stock
from dictation.sounds import stock_dictionary

WORDS = 4000  # everyday words taken up, the likeliest first
PAIRED = 1000  # of these, so many have their pairs taken up
LEAST_PAIR = 1e-3  # a rarer pair is left to its words alone
LOG_BASE = 1.0001  # in which pocketsphinx gives its probabilities


def stock() -> Stock:
    """Return what the wheel brings; the probabilities are read only when asked for (a few seconds)."""
    return Stock(_pronunciations(), _everyday)


@lru_cache(maxsize=1)
def _pronunciations() -> dict[str, tuple[str, ...]]:
    path = stock_dictionary()
    found: dict[str, list[str]] = {}
    for line in path.read_text(encoding="utf-8").splitlines() if path else []:
        word, _, phones = line.partition(" ")
        found.setdefault(word.split("(")[0], []).append(phones.strip())
    return {word: tuple(said) for word, said in found.items()}


def _everyday() -> tuple[Mapping[str, float], Mapping[tuple[str, str], float]]:
    from pocketsphinx import Config, LogMath, NGramModel, get_model_path

    model = NGramModel(Config(), LogMath(LOG_BASE), f"{get_model_path()}/en-us/en-us.lm.bin")
    ranked = sorted(((model.prob([word]), word) for word in _pronunciations() if _plain(word)), reverse=True)[:WORDS]
    words = {word: LOG_BASE**score for score, word in ranked}
    likely = [word for _, word in ranked[:PAIRED]]
    pairs = {}
    for first in likely:
        for second in likely:
            probability = LOG_BASE ** model.prob([second, first])  # the model wants the nearest word first
            if probability > LEAST_PAIR:
                pairs[first, second] = probability
    return words, pairs


def _plain(word: str) -> bool:
    return word.replace("'", "").isalpha() and (len(word) > 1 or word in "ai")
