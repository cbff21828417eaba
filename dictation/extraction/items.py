"""A stretch of speech as a sequence of items: terms, numbers and the small words that join them.

Of overlapping mentions the longest wins, then the leftmost; mentions of the same span stay together as readings of one
item, and the grammar chooses between them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from dictation.extraction.matching import Mention
from dictation.extraction.numbers import Reading
from dictation.extraction.tokens import Token

CUES = {"cue", "part", "procedure", "occupation"}
PREPOSITIONS = frozenset(
    [
        "on",
        "over",
        "of",
        "at",
        "in",
        "to",
        "from",
        "around",
        "along",
        "across",
        "for",
        "with",
        "under",
        "near",
        "within",
        "into",
        "through",
        "about",
        "by",
        "onto",
        "between",
        "beneath",
        "behind",
        "above",
        "below",
        "distal",
        "proximal",
        "involving",
        "affecting",
        "down",
        "towards",
        "overlying",
    ]
)
DETERMINERS = frozenset(
    [
        "the",
        "a",
        "an",
        "his",
        "her",
        "their",
        "this",
        "that",
        "these",
        "those",
        "its",
        "any",
        "some",
        "your",
        "my",
        "both",
        "bilateral",
    ]
)
VERBS = frozenset(
    [
        "is",
        "are",
        "was",
        "were",
        "has",
        "have",
        "had",
        "show",
        "shows",
        "showed",
        "look",
        "looks",
        "appear",
        "appears",
        "feel",
        "feels",
        "remain",
        "remains",
        "demonstrate",
        "demonstrates",
        "measure",
        "measures",
        "measured",
        "reach",
        "reaches",
        "get",
        "gets",
        "give",
        "gives",
        "gave",
        "being",
        "be",
        "been",
        "exhibit",
        "lie",
        "read",
        "come",
        "comes",
        "go",
        "goes",
        "only",
    ]
)
JOINERS = {"and": "and", "or": "or", "nor": "or", "plus": "and", "with": "with", "as": "as", "then": "and", "&": "and"}


PLACES = frozenset({"side", "digit", "joint", "structure", "aspect", "region"})


@dataclass(frozen=True, slots=True)
class Item:
    """What stands in tokens[start:end]: mentions of one span, a number, or one small word.

    word: the token's text where it is no term. comma: a comma or colon after it. colon: a colon.
    """

    start: int
    end: int
    mentions: tuple[Mention, ...] = ()
    number: Reading | None = None
    word: str = ""
    comma: bool = False
    colon: bool = False

    def get(self, kind: str) -> Mention | None:
        """The mention of this kind, if the item can be read so."""
        for m in self.mentions:  # asked of every word: no generator
            if m.kind == kind:
                return m
        return None

    def all(self, kind: str) -> tuple[Mention, ...]:
        """All mentions of this kind."""
        return tuple(m for m in self.mentions if m.kind == kind)

    @property
    def place(self) -> bool:
        """Whether it can be read as a side, digit, joint, structure or aspect."""
        return bool(self.mentions) and any(m.kind in PLACES for m in self.mentions)


@dataclass(slots=True)
class Line:
    """A sentence: its tokens' span and items, and what speaks of it as a whole."""

    start: int
    end: int
    items: list[Item] = field(default_factory=list)


def _let_terms_keep_their_words(spans: dict[tuple[int, int], list[Mention]]) -> None:
    """Shorten a trigger that takes a word of the term after it: "no palpable" before "palpable spur" is "no"."""
    concepts = [span for span, found in spans.items() if any(m.kind == "concept" for m in found)]
    for i, j in [span for span, found in spans.items() if any(m.kind == "negation" for m in found)]:
        cut = [a for a, b in concepts if i < a < j < b]
        if cut and any((i, k) in spans for k in range(i + 1, cut[0] + 1)):
            del spans[i, j]


def build_items(
    tokens: Sequence[Token], mentions: Iterable[Mention], numbers: Sequence[Reading], start: int, end: int
) -> list[Item]:
    """Return the items of tokens[start:end], every token covered once."""
    spans: dict[tuple[int, int], list[Mention]] = {}
    leads = {(m.start, m.end) for m in mentions if m.kind == "preposition"}
    for m in mentions:
        if start <= m.start and m.end <= end and m.kind not in CUES:
            spans.setdefault((m.start, m.end), []).append(m)
    for span in _cut_by_a_head(spans):
        del spans[span]
    _leave_the_ray(spans)
    readings = {(n.start, n.end): n for n in numbers if start <= n.start and n.end <= end}
    _let_terms_keep_their_words(spans)
    order = sorted({*spans, *readings}, key=lambda s: (s[0] - s[1], s not in readings, s[0]))
    taken = [False] * (end - start)
    chosen: list[tuple[int, int]] = []
    for i, j in order:
        if not any(taken[i - start : j - start]):
            taken[i - start : j - start] = [True] * (j - i)
            chosen.append((i, j))
    out = [
        Item(i, j, (), None, "over", False)
        if (i, j) in leads
        else Item(
            i,
            j,
            tuple(spans.get((i, j), ())),
            readings.get((i, j)),
            "",
            tokens[j - 1].stop in {",", ":"},
            tokens[j - 1].stop == ":",
        )
        for i, j in chosen
    ]
    out += [
        Item(i, i + 1, (), None, tokens[i].text, tokens[i].stop in {",", ":"}, tokens[i].stop == ":")
        for i in range(start, end)
        if not taken[i - start]
    ]
    return sorted(out, key=lambda item: item.start)


def _leave_the_ray(spans: dict[tuple[int, int], list[Mention]]) -> None:
    """ "Fifth metacarpal neck fracture": the term takes "metacarpal neck", and "fifth" is left to say the digit."""
    terms = [s for s, ms in spans.items() if any(m.kind == "concept" for m in ms)]
    for i, j in list(spans):
        cut = next((k for k, n in terms if i < k < j < n and n - k >= j - i), None)
        ray = next((m for m in spans[i, j] if m.kind == "structure" and "digit" in m.sets), None)
        if cut is not None and ray is not None:
            del spans[i, j]
            spans[i, cut] = [replace(ray, end=cut)]


def _cut_by_a_head(spans: Mapping[tuple[int, int], Sequence[Mention]]) -> list[tuple[int, int]]:
    """ "PIP flexion contracture" is a flexion contracture at the PIP joint, not PIP flexion: where what is left is a place.

    "Radial digital nerve injury" likewise is a digital nerve injury on the radial side, not a nerve and an injury.
    """
    terms = [s for s, ms in spans.items() if any(m.kind == "concept" for m in ms)]
    named = [s for s, ms in spans.items() if any(m.kind in {"concept", "structure"} for m in ms)]
    places = {s for s, ms in spans.items() if any(m.kind in {"joint", "digit", "structure", "aspect"} for m in ms)}
    results = {s for s, ms in spans.items() if any(m.kind == "status" for m in ms)}
    return [
        (i, j)
        for i, j in named
        if any(i < k < j < n and n - k >= j - i and (i, k) in places and (j, n) not in results for k, n in terms)
    ]
