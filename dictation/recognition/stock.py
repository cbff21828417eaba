"""What the pocketsphinx wheel brings beside its acoustic model: a pronunciation dictionary and everyday English.

The dictionary is searched where it lies. Everyday English is a table made from the wheel's language model once
(everyday.tsv; tests/benchmarks/make_everyday.py): asking that model for a million pairs takes seconds.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

from dictation.lexicon.vocabulary import Stock
from dictation.sounds import stock_pronunciations

EVERYDAY = Path(__file__).with_name("everyday.tsv")


class _Dictionary:
    def get(self, word: str, /) -> tuple[str, ...] | None:
        return tuple(" ".join(said) for said in stock_pronunciations(word)) or None


def stock() -> Stock:
    """Return what the wheel brings; the probabilities are read only when asked for."""
    return Stock(_Dictionary(), _everyday)


@lru_cache(maxsize=1)
def _everyday() -> tuple[Mapping[str, float], Mapping[str, Mapping[str, float]]]:
    """Return word -> probability, and first word -> second word -> probability after the first."""
    rows = [line.split("\t") for line in EVERYDAY.read_text(encoding="utf-8").splitlines()]
    names = [row[0] for row in rows]
    power = {f"{n / 100:.2f}": 10 ** (-n / 100) for n in range(1000)}
    words = {row[0]: power[row[1]] for row in rows}
    pairs = {}
    for row in rows:
        if len(row) > 2:
            following = (pair.split(":") for pair in row[2].split(" "))
            pairs[row[0]] = {names[int(after)]: power[said] for after, said in following}
    return words, pairs
