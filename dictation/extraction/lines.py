"""Sentence-like lines: at full stops, at pauses, and, in words without punctuation, before restarts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from dictation.extraction.items import DETERMINERS, PREPOSITIONS
from dictation.extraction.matching import Mention
from dictation.extraction.numbers import Reading
from dictation.extraction.tokens import Token

RESTARTS = (
    ("there", "is"), ("there", "are"), ("okay",), ("thank", "you"), ("moving", "on"), ("looking", "at"), ("on", "inspection"),
    ("on", "palpation"), ("i", "can", "see"), ("i", "can", "feel"), ("impression",), ("plan",), ("now", "on"), ("examining",),
    ("tell", "me"), ("put", "your"), ("make", "a", "fist"), ("close", "your", "eye"), ("i", "am", "going"), ("lovely",),
    ("if", "you"), ("can", "you"), ("could", "you"), ("do", "you"), ("does", "this"), ("does", "that"), ("is", "that"),
    ("scratch", "that"), ("strike", "that"), ("delete", "that"), ("thanks",), ("squeeze", "my"), ("hold", "your"), ("now", "i"),
    ("so", "this", "is"), ("and", "now"), ("examination", "of"), ("on", "examination"), ("turning", "to"), ("assessment",),
    ("returning", "to"), ("moving", "to"), ("back", "to", "the"), ("switching", "to"),
)  # fmt: skip
RESTARTS_AT = {first: [r for r in RESTARTS if r[0] == first] for first, *_ in RESTARTS}
OPENERS = frozenset(
    [
        "if",
        "you",
        "i",
        "he",
        "she",
        "they",
        "we",
        "so",
        "okay",
        "remember",
        "most",
        "there",
        "plan",
        "impression",
        "can",
        "unless",
        "when",
        "anyone",
        "what",
        "my",
    ]
)
"""In words without punctuation, a new sentence is taken to start at these unless the word before leads into them."""
LEADERS = frozenset(
    [
        "and",
        "that",
        "if",
        "as",
        "when",
        "where",
        "the",
        "a",
        "an",
        "to",
        "for",
        "of",
        "with",
        "would",
        "should",
        "could",
        "can",
        "is",
        "are",
        "was",
        "do",
        "does",
        "did",
        "will",
        "or",
        "than",
        "because",
        "let",
        "tell",
        "show",
        "give",
        "but",
        "which",
        "like",
        "what",
        "how",
        "before",
        "after",
        "while",
        "have",
        "has",
        "had",
        "so",
        "think",
        "thinks",
        "i",
        "you",
        "on",
        "at",
        "in",
        "about",
        "my",
        "see",
        "then",
        "now",
        "okay",
    ]
)
LONGEST_LINE = 250
"""A sentence of more words than this is cut, after a comma where it has one, so that no line takes long to read; chosen by
us, no source: the longest unpunctuated line of our cases has fewer."""
CONSEQUENCE = frozenset(["i", "we", "you", "they", "he", "she", "it"])


HEADINGS = frozenset(["look", "feel", "move", "power", "function", "sensation", "circulation", "special_tests"])


def split_lines(tokens: Sequence[Token], mentions: Sequence[Mention], numbers: Sequence[Reading]) -> list[tuple[int, int]]:
    """Return the sentence-like spans: at full stops, at pauses, and, in unpunctuated words, before restarts and headings."""
    full = sum(t.stop in ".?!;" for t in tokens if t.stop)
    loose = full * 40 < len(tokens)
    heads = _headings(tokens, mentions, numbers) if loose else frozenset()
    heads |= {i for m in mentions if m.kind == "reset" for i in (m.start, m.end)}
    out, start = [], 0
    for i, token in enumerate(tokens):
        if i > start and (
            (token.pause and token.text not in {"or", "nor", "and", "to", "point", "out", "degree"})
            or i in heads
            or (loose and _restarts(tokens, i) and not (tokens[start].text == "if" and token.text in CONSEQUENCE))
        ):
            out.append((start, i))
            start = i
        if token.stop and token.stop in ".?!;":
            out.append((start, i + 1))
            start = i + 1
    if start < len(tokens):
        out.append((start, len(tokens)))
    return [piece for line in out for piece in _pieces(tokens, *line)]


def _pieces(tokens: Sequence[Token], start: int, end: int) -> Iterator[tuple[int, int]]:
    while end - start > LONGEST_LINE:
        last = start + LONGEST_LINE
        cut = next((i for i in range(last, start + LONGEST_LINE // 2, -1) if tokens[i - 1].stop), last)
        yield start, cut
        start = cut
    yield start, end


def _headings(tokens: Sequence[Token], mentions: Sequence[Mention], numbers: Sequence[Reading]) -> frozenset[int]:
    """Where, in words without punctuation, a heading stands: "look", or "right hand" after something else was said.

    A heading comes after a whole statement and leads straight into the next: a "no", "there is", or a term of its own.
    """
    longest: dict[int, Mention] = {}
    ends: dict[int, set[str]] = {}
    for m in mentions:
        longest.setdefault(m.start, m)
        ends.setdefault(m.end, set()).add(m.kind)
    said = {n.end for n in numbers}
    out = set()
    for m in mentions:
        led = tokens[m.start - 1].text in DETERMINERS | PREPOSITIONS
        if m.start == 0 or led or longest[m.start].end > m.end:
            continue
        before = ends.get(m.start, set())
        told = m.start in said or "status" in before
        if m.kind == "part" and m.id in HEADINGS:
            named = "concept" in before and m.id != "power"
            if (told or named) and _leads_on(tokens, m.end, longest):
                out.add(m.start)
        elif m.kind == "side" and m.id in {"right", "left"}:
            whole = told or bool(before & {"concept", "negation", "severity"})
            if _heads(tokens, m, longest, whole, valued=m.start in said):
                out.add(m.start)
    return frozenset(out)


def _heads(tokens: Sequence[Token], side: Mention, longest: dict[int, Mention], whole: bool, *, valued: bool) -> bool:
    """Whether a side with its hand, wrist or elbow heads what comes next. whole: a statement ended before it."""
    place = longest.get(side.end)
    if place is None or place.kind not in {"region", "joint"} or place.id not in {"hand", "wrist", "elbow"}:
        return False
    if _text(tokens, place.end) in {"there", "look", "feel"}:
        return True
    following = longest.get(place.end)
    if following is None:
        return False
    own = following.kind == "negation" or (following.kind == "concept" and not valued)
    return following.kind == "part" or (whole and own)


def _leads_on(tokens: Sequence[Token], i: int, longest: dict[int, Mention]) -> bool:
    """Whether what follows a heading word starts a statement of its own."""
    nxt = longest.get(i)
    if _text(tokens, i) in {"there", "the", "he", "she", "i"}:
        return True
    return nxt is not None and nxt.kind in {
        "concept",
        "negation",
        "side",
        "structure",
        "joint",
        "digit",
        "severity",
        "mode",
        "movement",
    }


def _text(tokens: Sequence[Token], i: int) -> str:
    return tokens[i].text if 0 <= i < len(tokens) else ""


def _restarts(tokens: Sequence[Token], i: int) -> bool:
    if tokens[i - 1].text in {"that", "if", "and", "when", "where", "the", "a", "or", "okay", "so", "my"}:
        return False
    if tokens[i].text in OPENERS and tokens[i - 1].text not in LEADERS:
        return True
    return any(tuple(t.text for t in tokens[i : i + len(r)]) == r for r in RESTARTS_AT.get(tokens[i].text, ()))
