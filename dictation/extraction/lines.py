"""Sentence-like lines: at full stops, at pauses, and, in words without punctuation, before restarts."""

from __future__ import annotations

from collections.abc import Sequence

from dictation.extraction.tokens import Token

RESTARTS = (
    ("there", "is"), ("there", "are"), ("okay",), ("thank", "you"), ("moving", "on"), ("looking", "at"), ("on", "inspection"),
    ("on", "palpation"), ("i", "can", "see"), ("i", "can", "feel"), ("impression",), ("plan",), ("now", "on"), ("examining",),
    ("tell", "me"), ("put", "your"), ("make", "a", "fist"), ("close", "your", "eye"), ("i", "am", "going"), ("lovely",),
    ("if", "you"), ("can", "you"), ("could", "you"), ("do", "you"), ("does", "this"), ("does", "that"), ("is", "that"),
    ("scratch", "that"), ("strike", "that"), ("delete", "that"), ("thanks",), ("squeeze", "my"), ("hold", "your"), ("now", "i"),
    ("so", "this", "is"), ("and", "now"), ("examination", "of"), ("on", "examination"), ("turning", "to"), ("assessment",),
)  # fmt: skip
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
CONSEQUENCE = frozenset(["i", "we", "you", "they", "he", "she", "it"])


def split_lines(tokens: Sequence[Token]) -> list[tuple[int, int]]:
    """Return the sentence-like spans: at full stops, at pauses, and, in unpunctuated words, before restarts."""
    full = sum(t.stop in ".?!;" for t in tokens if t.stop)
    loose = full * 40 < len(tokens)
    out, start = [], 0
    for i, token in enumerate(tokens):
        if i > start and (
            (token.pause and token.text not in {"or", "nor", "and", "to", "point", "out", "degree"})
            or (loose and _restarts(tokens, i) and not (tokens[start].text == "if" and token.text in CONSEQUENCE))
        ):
            out.append((start, i))
            start = i
        if token.stop and token.stop in ".?!;":
            out.append((start, i + 1))
            start = i + 1
    if start < len(tokens):
        out.append((start, len(tokens)))
    return out


def _restarts(tokens: Sequence[Token], i: int) -> bool:
    if tokens[i - 1].text in {"that", "if", "and", "when", "where", "the", "a", "or", "okay", "so", "my"}:
        return False
    if tokens[i].text in OPENERS and tokens[i - 1].text not in LEADERS:
        return True
    return any(tuple(t.text for t in tokens[i : i + len(r)]) == r for r in RESTARTS)
