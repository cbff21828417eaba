"""A language model read as a decoder reads it, from its ARPA file."""

from __future__ import annotations

import math

Table = dict[tuple[str, ...], tuple[float, float]]


def read_arpa(text: str) -> Table:
    """Return n-gram -> (log10 probability, log10 backoff)."""
    found: Table = {}
    length = 0
    for line in text.splitlines():
        parts = line.split(" ")
        if line.startswith("\\"):
            length = int(line[1]) if line.endswith("-grams:") else 0
        elif length and len(parts) > length:
            found[tuple(parts[1 : 1 + length])] = (
                float(parts[0]),
                float(parts[1 + length]) if len(parts) > 1 + length else 0.0,
            )
    return found


def from_arpa(table: Table, context: tuple[str, ...], word: str) -> float:
    """The probability as a decoder works it out: the listed n-gram, else backing off."""
    if (*context, word) in table:
        return 10 ** table[(*context, word)][0]
    assert context, word
    return 10 ** table.get(context, (0.0, 0.0))[1] * from_arpa(table, context[1:], word)


def log_probability(table: Table, sentence: str) -> float:
    """Return how likely a sentence is, as a natural logarithm."""
    words = ["<s>", *sentence.split(), "</s>"]
    return sum(math.log(from_arpa(table, tuple(words[max(0, i - 2) : i]), words[i])) for i in range(1, len(words)))
