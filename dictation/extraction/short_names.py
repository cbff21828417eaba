"""Terms said by one word of their name, where one of their family was named before: "tripod pinch 6, key 8".

The families are in lexicon/language.yaml (short_name). What goes in: tokens and mentions. What comes out: further mentions.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from dictation.extraction.matching import Mention
from dictation.extraction.tokens import Token

NEAR = 14
"""How many words back the family may have been named, in one sentence; chosen by us, no source."""
ENDS = frozenset(".?!;")
TELLS = frozenset({"is", "was", "not", "also", "too"})
TELLING = frozenset({"status", "negation", "side", "digit"})


def short_names(
    tokens: Sequence[Token], mentions: Sequence[Mention], families: Mapping[str, tuple[str, ...]], structures: frozenset[str]
) -> list[Mention]:
    """Return the terms that one word of their name stands for.

    families: term -> its words. structures: those of them that are places.
    """
    words: dict[str, list[str]] = {}
    for term, forms in families.items():
        for form in forms:
            words.setdefault(form, []).append(term)
    of = {term: term.partition("_")[2] for term in families}
    named = sorted((m for m in mentions if m.kind in {"concept", "structure"}), key=lambda m: m.start)
    covered = {k for m in mentions if m.kind in {"concept", "structure", "cue"} and m.end - m.start > 1
               for k in range(m.start, m.end)}  # fmt: skip
    starts = {m.start for m in mentions if m.kind in TELLING}
    out: list[Mention] = []
    first = 0
    for i, token in enumerate(tokens):
        if token.text not in words or i in covered or not _tells(tokens, i, starts):
            continue
        while first < len(named) and named[first].end < i - NEAR:
            first += 1
        before = [m for m in named[first : first + 4 * NEAR] if m.end <= i and not _parted(tokens, m.end, i)]
        whole = next((t for t in words[token.text] for m in reversed(before) if m.id.endswith(of[t]) and m.id != t), None)
        if whole is not None:
            out.append(Mention("structure" if whole in structures else "concept", whole, i, i + 1, form=token.text))
    return out


def _tells(tokens: Sequence[Token], i: int, starts: set[int]) -> bool:
    """Whether something is said of the word at tokens[i]: a number, a result, a side with it."""
    if i + 1 >= len(tokens) or tokens[i].stop:
        return False
    after = tokens[i + 1]
    return after.text[:1].isdigit() or after.text in NUMBERS | TELLS or i + 1 in starts


def _parted(tokens: Sequence[Token], start: int, end: int) -> bool:
    return any(t.stop and t.stop in ENDS for t in tokens[max(0, start - 1) : end])


NUMBERS = frozenset(
    "one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen "
    "nineteen twenty thirty forty fifty".split()
)


def returns(tokens: Sequence[Token], mentions: Sequence[Mention]) -> list[Mention]:
    """ "Back in three months" as a sentence, or after "see him", plans a visit."""
    known = {m.start for m in mentions if m.kind == "concept" and m.id == "follow_up"}
    out = []
    for i, (one, two) in enumerate(pairwise(tokens)):
        opens = i == 0 or tokens[i - 1].stop or tokens[i - 1].pause
        if (one.text, two.text) != ("back", "in") or one.stop or i in known or not opens:
            continue
        if {"week", "month", "fortnight", "day"} & {t.text for t in tokens[i + 2 : i + 5]}:
            out.append(Mention("concept", "follow_up", i, i + 2, {"status": "present"}, form="back"))
    return out
