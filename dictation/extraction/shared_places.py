"""A place that ends one statement and begins the name of the next: "tender at the CMC joint grind test is positive".

"CMC joint grind test" is a name, and the longest name wins; but nobody is tender at a test. What goes in: tokens and
mentions. What comes out: the mentions, where such a name begins only after the place, which is then free for the finding.
The test or movement keeps the place that its term carries.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dictation.extraction.matching import Mention
from dictation.extraction.tokens import Token
from dictation.lexicon.entries import Lexicon

FOUND_AT = frozenset({"look", "feel"})
"""Parts of the examination whose findings are somewhere."""
DONE = frozenset({"test", "movement", "power", "strength"})
"""Kinds of concept that are no place."""
SURELY_A_PLACE = frozenset({"over", "around", "along"})
PLACE_WITH_THE = frozenset({"at", "of", "in"})
"""Before "the" these lead to a place; any "on" may say when, and before a movement so may "at" and "in"."""
WHEN = frozenset({"at", "in"})
PLACES = frozenset({"joint", "structure"})
BETWEEN = frozenset({"side", "digit"})


def without_found_places(tokens: Sequence[Token], mentions: Sequence[Mention], lexicon: Lexicon) -> list[Mention]:
    """Return the mentions, names of tests and movements without the place that a finding right before them needs."""
    kinds = {c.id: (c.kind, c.part) for c in lexicon.concepts.values()}
    found = {m.end for m in mentions if m.kind == "concept" and kinds[m.id][0] == "finding" and kinds[m.id][1] in FOUND_AT}
    places: dict[int, int] = {}
    for m in mentions:
        if m.kind in PLACES:
            places[m.start] = max(places.get(m.start, 0), m.end)
    between = {m.start: m.end for m in mentions if m.kind in BETWEEN}
    led = {start: tokens[end].text for end in found if (start := _object(tokens, end, between)) is not None}
    out = []
    for m in mentions:
        ends = min(places.get(m.start, 0), m.end - 1)
        kind = kinds[m.id][0] if m.kind == "concept" and ends > m.start else ""
        when = kind == "movement" and led.get(m.start) in WHEN  # "pain at the elbow flexion of ninety"
        out.append(replace(m, start=ends) if kind in DONE and m.start in led and not when else m)
    return out


def _object(tokens: Sequence[Token], i: int, between: dict[int, int]) -> int | None:
    """Where the place begins to which the words from tokens[i] on lead; None where they lead to none for certain."""
    if i + 1 >= len(tokens) or tokens[i - 1].stop or tokens[i].pause or tokens[i].stop:
        return None
    the = tokens[i + 1].text == "the"
    if not (tokens[i].text in SURELY_A_PLACE or (tokens[i].text in PLACE_WITH_THE and the)):
        return None
    i += 1 + the
    while i in between:
        i = between[i]
    return i
