"""A trigram language model: interpolated Kneser-Ney, mixed from several texts, written in the ARPA format.

Source: Chen and Goodman 1999, "An empirical study of smoothing techniques for language modeling" (section 3, absolute
discounts estimated from counts of counts); the mixture is the usual linear one, each text's model weighted.
Pure functions; imports nothing of ours.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from math import log10
from operator import mul

START, END = "<s>", "</s>"
Bigram = tuple[str, str]
Trigram = tuple[str, str, str]


class Model:
    """One text's model. Probabilities of words after up to two words before; every word of vocabulary has some.

    after, after_pair: a word, or two words, -> how often each word follows. discount: taken off each count after a pair.
    """

    def __init__(self, sentences: Iterable[Sequence[str]], vocabulary: frozenset[str]) -> None:
        trigrams: Counter[Trigram] = Counter()
        opening: Counter[str] = Counter()
        for words in sentences:
            if words:
                line = (START, *words, END)
                opening[line[1]] += 1
                trigrams.update(zip(line, line[1:], line[2:], strict=False))
        self.after_pair: dict[Bigram, dict[str, int]] = {}
        for (u, v, w), count in trigrams.items():
            self.after_pair.setdefault((u, v), {})[w] = count
        # Below the top, a word counts by how many different words it follows; nothing stands before a sentence's start.
        self.after: dict[str, dict[str, int]] = {START: dict(opening)} if opening else {}
        for (_, v), following in self.after_pair.items():
            counts = self.after.setdefault(v, {})
            for w in following:
                counts[w] = counts.get(w, 0) + 1
        unigrams = Counter(w for following in self.after.values() for w in following)
        self.discount = _discount(trigrams.values())
        self._d2 = _discount(count for following in self.after.values() for count in following.values())
        self._d1 = _discount(unigrams.values())
        total = unigrams.total()
        self._unseen = self._d1 * len(unigrams) / total / (len(vocabulary) + 1) if total else 1 / (len(vocabulary) + 1)
        self._one = {w: max(c - self._d1, 0) / total for w, c in unigrams.items()}

    def one(self, w: str) -> float:
        """Return the probability of a word by itself."""
        return self._one.get(w, 0.0) + self._unseen

    def two(self, v: str, words: Sequence[str]) -> list[float]:
        """Return the probability of each word after v."""
        one, unseen = self._one, self._unseen
        shorter = [one.get(w, 0.0) + unseen for w in words]
        return _with(self.after.get(v), self._d2, words, shorter)

    def three(self, u: str, v: str, words: Sequence[str], shorter: Sequence[float] | None = None) -> list[float]:
        """Return the probability of each word after u v; shorter: that after v, where it is known already."""
        return _with(self.after_pair.get((u, v)), self.discount, words, self.two(v, words) if shorter is None else shorter)


def _with(seen: Mapping[str, int] | None, discount: float, words: Sequence[str], shorter: Sequence[float]) -> list[float]:
    """What was seen after a context, discounted; what that leaves is shared out as after the shorter context."""
    if seen is None:
        return list(shorter)
    total = sum(seen.values())
    rest = discount * len(seen)
    return [(max(seen.get(w, 0) - discount, 0.0) + rest * p) / total for w, p in zip(words, shorter, strict=True)]


class Bigrams:
    """A general language's model, given as probabilities: words, and some words after some others."""

    def __init__(self, words: Mapping[str, float], pairs: Mapping[str, Mapping[str, float]]) -> None:
        total = sum(words.values())
        self._one = {w: p / total for w, p in words.items()}
        self.after_pair: Mapping[Bigram, Mapping[str, int]] = {}
        self.discount = 0.0
        self.after: dict[str, dict[str, float]] = {}
        self._rest: dict[str, float] = {}
        for v, following in pairs.items():
            seen = sum(following.values())
            # Pairs of likely words may add up to more than a text would give them: at most nine tenths are kept for them.
            scale = min(1.0, 0.9 / seen)
            self.after[v] = {w: p * scale for w, p in following.items()}
            self._rest[v] = (1 - seen * scale) / max(1 - sum(self._one[w] for w in following), 1e-9)

    def one(self, w: str) -> float:
        """Return the probability of a word by itself; 0 for a word it does not know."""
        return self._one.get(w, 0.0)

    def two(self, v: str, words: Sequence[str]) -> list[float]:
        """Return the probability of each word after v."""
        listed, rest, one = self.after.get(v, {}), self._rest.get(v, 1.0), self._one
        return [listed.get(w) or rest * one.get(w, 0.0) for w in words]

    def three(self, _u: str, v: str, words: Sequence[str], shorter: Sequence[float] | None = None) -> list[float]:
        """Return the probability of each word after v, whatever stood before."""
        return self.two(v, words) if shorter is None else list(shorter)


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
    shares, models = [share for share, _ in weighted], [model for _, model in weighted]
    one = {w: sum(share * model.one(w) for share, model in weighted) for w in [*sorted(vocabulary), END]}
    two: dict[str, dict[str, float]] = {}
    each: dict[str, list[dict[str, float]]] = {}  # the same, model by model
    after: dict[str, float] = {}  # what is left for words not listed after a context, over what the shorter one gives those
    for v in sorted({v for model in models for v in model.after}):
        words = sorted({w for model in models for w in model.after.get(v, ())})
        rows = [model.two(v, words) for model in models]
        row = _mixed(shares, rows)
        two[v] = dict(zip(words, row, strict=True))
        each[v] = [dict(zip(words, of_one, strict=True)) for of_one in rows]
        after[v] = _backoff(sum(row), sum(map(one.__getitem__, words)))
    longest: list[str] = []
    after_pair: dict[Bigram, str] = {}
    for u, v in sorted({pair for model in models for pair in model.after_pair}):
        # A model that never saw the two words says what it says after the last alone: that is in the mixture already.
        seen = [(share, m, each[v][i]) for i, (share, m) in enumerate(weighted) if (u, v) in m.after_pair]
        shorter = two[v]
        if len(seen) == 1:  # nearly all pairs
            mixed = _raised(*seen[0], (u, v), shorter)
        else:
            mixed = {w: shorter[w] for w in sorted({w for _, m, _ in seen for w in m.after_pair[u, v]})}
            for share, m, known in seen:
                own = list(map(known.__getitem__, mixed))
                for word, q, r in zip(mixed, m.three(u, v, list(mixed), own), own, strict=True):
                    mixed[word] += share * (q - r)
        longest += [f"{log10(p):.4f} {u} {v} {w}" for w, p in mixed.items()]
        after_pair[u, v] = f"{_backoff(sum(mixed.values()), sum(map(shorter.__getitem__, mixed))):.4f}"
    count = sum(map(len, two.values()))
    lines = ["\\data\\", f"ngram 1={len(one) + 1}", f"ngram 2={count}", f"ngram 3={len(longest)}", "", "\\1-grams:"]
    lines += [f"-99 {START} {after.get(START, 0.0):.4f}"]
    lines += [f"{log10(p):.4f} {w} {after.get(w, 0.0):.4f}" for w, p in one.items()]
    lines += ["", "\\2-grams:"]
    for v, listed in two.items():
        lines += [f"{log10(p):.4f} {v} {w} {after_pair.get((v, w), '0.0000')}" for w, p in listed.items()]
    lines += ["", "\\3-grams:", *longest]
    return "\n".join([*lines, "", "\\end\\", ""])


def _raised(
    share: float, model: Model | Bigrams, known: Mapping[str, float], pair: Bigram, shorter: Mapping[str, float]
) -> dict[str, float]:
    """The mixture after a pair that one model alone saw: what it says of the words seen there takes the place of what it says
    after the last word (known). Each was seen at least once, so that a discount leaves something."""
    counts, discount = model.after_pair[pair], model.discount
    total, rest = sum(counts.values()), discount * len(counts)
    return {
        w: shorter[w] + share * ((counts[w] - discount + rest * known[w]) / total - known[w])
        for w in (sorted(counts) if len(counts) > 1 else counts)
    }


def _mixed(shares: Sequence[float], rows: Sequence[Sequence[float]]) -> list[float]:
    return [sum(map(mul, shares, values)) for values in zip(*rows, strict=True)]


def _backoff(listed: float, shorter: float) -> float:
    return log10(max(1 - listed, 1e-9) / max(1 - shorter, 1e-9))
