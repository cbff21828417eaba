"""The table of dictation/letters.py, learnt and judged: ``python -m tests.benchmarks.fit_letters [--write]``.

Letters and phones of the CMU Pronouncing Dictionary (as it ships in pocketsphinx) are aligned by expectation maximisation
with the best path alone: a letter stands for no, one or two phones. Then each letter's surroundings, grown in the fixed
order of letters.py, take the phones they mostly stand for; a longer context is kept where it puts enough letters right that
the shorter ones get wrong. Every fifteenth word or so, chosen by a checksum, is kept out of all of it and judged by.
The table that is written is the one that was judged: the words kept out stay out.
"""

from __future__ import annotations

import argparse
import math
import re
import zlib
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path

import dictation.letters as letters
from dictation.sounds import stock_dictionary

Phones = tuple[str, ...]
Pair = tuple[str, Phones]  # a letter and what it stands for
PART = 15  # one word in so many is kept out
ROUNDS = 4
ALIGNED = 4  # one word in so many is aligned to learn how to align
LEAST = 3  # letters that a longer context must put right
LONGEST = 2  # phones of a letter


def words() -> dict[str, list[Phones]]:
    """Return every plain word of the stock dictionary with the ways it is said, the first the commonest."""
    path = stock_dictionary()
    assert path is not None, "pocketsphinx is not installed"
    found: dict[str, list[Phones]] = defaultdict(list)
    for line in path.read_text(encoding="utf-8").splitlines():
        word, _, said = line.partition(" ")
        word = word.partition("(")[0]
        if re.fullmatch("[a-z]{2,}", word):
            found[word].append(tuple(said.split()))
    return dict(found)


def kept_out(word: str) -> bool:
    """Tell whether a word is judged by rather than learnt from."""
    return zlib.crc32(word.encode()) % PART == 0


def aligned(word: str, said: Phones, cost: Mapping[Pair, float]) -> list[Phones] | None:
    """Return what each letter stands for on the cheapest path; None where there are too many phones for the letters."""
    far = 1e9
    best = [[far] * (len(said) + 1) for _ in range(len(word) + 1)]
    taken = [[0] * (len(said) + 1) for _ in range(len(word) + 1)]
    best[0][0] = 0.0
    for i, letter in enumerate(word):
        for j, so_far in enumerate(best[i]):
            if so_far >= far:
                continue
            for n in range(min(LONGEST, len(said) - j) + 1):
                total = so_far + cost.get((letter, said[j : j + n]), 12.0 + 3.0 * n)
                if total < best[i + 1][j + n]:
                    best[i + 1][j + n], taken[i + 1][j + n] = total, n
    if best[-1][-1] >= far:
        return None
    out: list[Phones] = []
    j = len(said)
    for i in range(len(word), 0, -1):
        n = taken[i][j]
        out.append(said[j - n : j])
        j -= n
    return out[::-1]


def alignment(some: Sequence[tuple[str, Phones]]) -> dict[Pair, float]:
    """Return what it costs that a letter stands for some phones, as learnt from words and how they are said."""
    together: Counter[tuple[str, str]] = Counter()
    alone: Counter[str] = Counter()
    for word, said in some:  # to begin with: letters and phones at the same place in the word
        for i, letter in enumerate(word):
            at = i * len(said) // len(word)
            together[letter, said[at]] += 1
            alone[letter] += 1
    cost: dict[Pair, float] = {(a, (p,)): -math.log(n / alone[a]) for (a, p), n in together.items()}
    cost |= {(a, ()): 3.0 for a in alone}
    for _ in range(ROUNDS):
        counts: Counter[Pair] = Counter()
        for word, said in some:
            counts.update(zip(word, aligned(word, said, cost) or (), strict=False))
        total: Counter[str] = Counter()
        for (letter, _), n in counts.items():
            total[letter] += n
        cost = {pair: -math.log(n / total[pair[0]]) for pair, n in counts.items()}
    return cost


def contexts(word: str) -> Iterator[list[str]]:
    """Yield for each letter its surroundings, the shortest first, as letters.py grows them."""
    padded = f"{letters.EDGE}{word}{letters.EDGE}"
    for at in range(len(letters.EDGE), len(letters.EDGE) + len(word)):
        grown = [padded[at]]
        for offset in letters.ORDER:
            grown.append(grown[-1] + padded[at + offset])
        yield grown


def table(learnt: Iterable[tuple[str, list[Phones]]], least: int) -> dict[str, Phones]:
    """Return context -> phones from words and what each of their letters stands for."""
    seen: list[dict[str, Counter[Phones]]] = [defaultdict(Counter) for _ in range(len(letters.ORDER) + 1)]
    for word, said in learnt:
        for grown, phones in zip(contexts(word), said, strict=True):
            for length, context in enumerate(grown):
                seen[length][context][phones] += 1
    out: dict[str, Phones] = {}
    for length, level in enumerate(seen):
        for context, counts in level.items():
            phones, right = min(counts.items(), key=lambda item: (-item[1], item[0]))
            known = next((out[context[:n]] for n in range(length, 0, -1) if context[:n] in out), None)
            if known is None or right - counts[known] >= least:
                out[context] = phones
    return out


def judged(found: Mapping[str, Phones], out: Mapping[str, list[Phones]]) -> tuple[int, int, int]:
    """Return words wholly right (in one of the ways they are said), phones wrong, and phones said."""
    right = wrong = total = 0
    for word, ways in out.items():
        said = letters.sound_out(word, found)
        way, errors = min(((way, distance(said, way)) for way in ways), key=lambda pair: pair[1])
        right += not errors
        wrong += errors
        total += len(way)
    return right, wrong, total


def distance(a: Phones, b: Phones) -> int:
    """Return how many phones must be changed, added or left out."""
    from rapidfuzz.distance import Levenshtein

    return int(Levenshtein.distance(a, b))


def written(found: Mapping[str, Phones]) -> str:
    """Return a table as letters.tsv holds it."""
    return "".join(f"{context}\t{' '.join(phones)}\n" for context, phones in sorted(found.items()))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true", help="write dictation/letters.tsv")
    asked = parser.parse_args()
    every = words()
    learnt = [(word, ways[0]) for word, ways in every.items() if not kept_out(word)]
    out = {word: ways for word, ways in every.items() if kept_out(word)}
    cost = alignment(learnt[::ALIGNED])
    pairs = [(word, path) for word, said in learnt if (path := aligned(word, said, cost)) is not None]
    found = table(pairs, LEAST)
    right, wrong, total = judged(found, out)
    print(f"learnt from {len(pairs)} words, {len(found)} contexts, judged on {len(out)} words kept out:")
    print(f"  whole words right {100 * right / len(out):.1f} in 100, phones wrong {100 * wrong / total:.1f} in 100 said")
    place = Path(letters.__file__).with_suffix(".tsv")
    same = place.read_text(encoding="utf-8") == written(found)
    print(f"  {place.name} is {'this table' if same else 'another table'}")
    if asked.write:
        place.write_text(written(found), encoding="utf-8")


if __name__ == "__main__":
    main()
