"""A trigram language model: interpolated Kneser-Ney, mixed from several texts, written in the ARPA format.

Source: Chen and Goodman 1999, "An empirical study of smoothing techniques for language modeling" (section 3, absolute
discounts estimated from counts of counts); the mixture is the usual linear one, each text's model weighted.
Pure functions; imports nothing of ours.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence

START, END = "<s>", "</s>"
Bigram = tuple[str, str]
Trigram = tuple[str, str, str]


class Model:
    """One text's model. Probabilities of words after up to two words before; every word of vocabulary has some."""

    def __init__(self, sentences: Iterable[Sequence[str]], vocabulary: frozenset[str]) -> None:
        self.trigrams: Counter[Trigram] = Counter()
        opening: Counter[Bigram] = Counter()
        for words in sentences:
            if words:
                line = (START, *words, END)
                opening[line[0], line[1]] += 1
                self.trigrams.update(zip(line, line[1:], line[2:], strict=False))
        # Below the top, a word counts by how many different words it follows; nothing stands before a sentence's start.
        self.bigrams: Counter[Bigram] = Counter((v, w) for _, v, w in self.trigrams)
        self.bigrams.update(opening)
        self.unigrams: Counter[str] = Counter(w for _, w in self.bigrams)
        self._d3, self._d2, self._d1 = (_discount(c.values()) for c in (self.trigrams, self.bigrams, self.unigrams))
        self._pair_total: Counter[Bigram] = Counter()
        self._pair_kinds: Counter[Bigram] = Counter()
        for (u, v, _), count in self.trigrams.items():
            self._pair_total[u, v] += count
            self._pair_kinds[u, v] += 1
        self._word_total: Counter[str] = Counter()
        self._word_kinds: Counter[str] = Counter()
        for (v, _), count in self.bigrams.items():
            self._word_total[v] += count
            self._word_kinds[v] += 1
        total = sum(self.unigrams.values())
        self._unseen = self._d1 * len(self.unigrams) / total / (len(vocabulary) + 1) if total else 1 / (len(vocabulary) + 1)
        self._one = {w: max(c - self._d1, 0) / total for w, c in self.unigrams.items()}

    def one(self, w: str) -> float:
        """Return the probability of a word by itself."""
        return self._one.get(w, 0.0) + self._unseen

    def two(self, v: str, w: str) -> float:
        """Return the probability of w after v."""
        total = self._word_total.get(v)
        if not total:
            return self.one(w)
        seen = max(self.bigrams.get((v, w), 0) - self._d2, 0.0)
        return (seen + self._d2 * self._word_kinds[v] * self.one(w)) / total

    def three(self, u: str, v: str, w: str) -> float:
        """Return the probability of w after u v."""
        total = self._pair_total.get((u, v))
        if not total:
            return self.two(v, w)
        seen = max(self.trigrams.get((u, v, w), 0) - self._d3, 0.0)
        return (seen + self._d3 * self._pair_kinds[u, v] * self.two(v, w)) / total


class Bigrams:
    """A general language's model, given as probabilities: words, and some words after some others."""

    def __init__(self, words: Mapping[str, float], pairs: Mapping[Bigram, float]) -> None:
        total = sum(words.values())
        self._one = {w: p / total for w, p in words.items()}
        self.trigrams: Mapping[Trigram, int] = {}
        listed: defaultdict[str, list[float]] = defaultdict(lambda: [0.0, 0.0])
        for (v, w), p in pairs.items():
            listed[v][0] += p
            listed[v][1] += self._one[w]
        # Pairs of likely words may add up to more than a text would give them: at most nine tenths are kept for them.
        scale = {v: min(1.0, 0.9 / seen) for v, (seen, _) in listed.items()}
        self._two = {(v, w): p * scale[v] for (v, w), p in pairs.items()}
        self._rest = {v: (1 - seen * scale[v]) / max(1 - one, 1e-9) for v, (seen, one) in listed.items()}
        self.bigrams: Mapping[Bigram, float] = self._two

    def one(self, w: str) -> float:
        """Return the probability of a word by itself; 0 for a word it does not know."""
        return self._one.get(w, 0.0)

    def two(self, v: str, w: str) -> float:
        """Return the probability of w after v."""
        return self._two.get((v, w)) or self._rest.get(v, 1.0) * self.one(w)

    def three(self, u: str, v: str, w: str) -> float:
        """Return the probability of w after v, whatever stood before."""
        return self.two(v, w)


def _discount(counts: Iterable[int]) -> float:
    ones = twos = 0
    for count in counts:
        ones += count == 1
        twos += count == 2
    return min(0.95, max(0.3, ones / (ones + 2 * twos))) if ones + twos else 0.5


def arpa(weighted: Sequence[tuple[float, Model | Bigrams]], vocabulary: frozenset[str]) -> str:
    """Return the mixture as the text of an ARPA file. Weights must add up to one.

    Raises ValueError for weights that do not.
    """
    if abs(sum(weight for weight, _ in weighted) - 1) > 1e-9:
        raise ValueError("the weights of a mixture must add up to one")
    words = sorted(vocabulary)
    one = {w: sum(k * m.one(w) for k, m in weighted) for w in [*words, END]}
    two: dict[Bigram, float] = {
        (v, w): sum(k * m.two(v, w) for k, m in weighted) for v, w in sorted({b for _, m in weighted for b in m.bigrams})
    }
    three: dict[Trigram, float] = {
        t: sum(k * m.three(*t) for k, m in weighted) for t in sorted({t for _, m in weighted for t in m.trigrams})
    }
    # What is left for words not listed after a context, over what the shorter context gives those words.
    listed: defaultdict[str, list[float]] = defaultdict(lambda: [0.0, 0.0])
    for (v, w), p in two.items():
        listed[v][0] += p
        listed[v][1] += one[w]
    after = {v: _backoff(*sums) for v, sums in listed.items()}
    listed_pairs: defaultdict[Bigram, list[float]] = defaultdict(lambda: [0.0, 0.0])
    for (u, v, w), p in three.items():
        listed_pairs[u, v][0] += p
        listed_pairs[u, v][1] += two[v, w]
    after_pair = {pair: _backoff(*sums) for pair, sums in listed_pairs.items()}
    lines = ["\\data\\", f"ngram 1={len(one) + 1}", f"ngram 2={len(two)}", f"ngram 3={len(three)}", "", "\\1-grams:"]
    lines += [f"-99 {START} {after.get(START, 0.0):.4f}"]
    lines += [f"{math.log10(p):.4f} {w} {after.get(w, 0.0):.4f}" for w, p in one.items()]
    lines += ["", "\\2-grams:"]
    lines += [f"{math.log10(p):.4f} {v} {w} {after_pair.get((v, w), 0.0):.4f}" for (v, w), p in two.items()]
    lines += ["", "\\3-grams:"]
    lines += [f"{math.log10(p):.4f} {u} {v} {w}" for (u, v, w), p in three.items()]
    return "\n".join([*lines, "", "\\end\\", ""])


def _backoff(listed: float, shorter: float) -> float:
    return math.log10(max(1 - listed, 1e-9) / max(1 - shorter, 1e-9))
