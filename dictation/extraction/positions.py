"""Positions of testing: "in thirty degrees of flexion", "with the elbow straight". They are no measurement.

What goes in: items. What comes out: the items without those stretches, and each stretch in words with where it stood.
"""

from __future__ import annotations

from collections.abc import Sequence

from dictation.extraction.items import Item
from dictation.extraction.tokens import Token, written

LEADS = {"in", "at", "with"}
POSTURES = {
    "flexed",
    "extended",
    "straight",
    "bent",
    "supinated",
    "pronated",
    "flexion",
    "extension",
    "neutral",
    "abducted",
    "adducted",
    "supination",
    "pronation",
}
JOINTS = {
    "elbow",
    "wrist",
    "forearm",
    "finger",
    "thumb",
    "shoulder",
    "joint",
    "mcp",
    "pip",
    "dip",
    "ip",
    "knuckle",
    "hand",
}


def find_positions(items: Sequence[Item], tokens: Sequence[Token]) -> tuple[list[Item], list[tuple[int, str]]]:
    """Return the remaining items and (token index, words) of each position."""
    out: list[Item] = []
    positions: list[tuple[int, str]] = []
    i = 0
    while i < len(items):
        j = _position(items, tokens, i)
        if j > i and (_two_angles(items, i) or _after_test(out) or _leads(items, i, j)):
            positions.append((items[i].start, written(tokens[items[i].start : items[j - 1].end])))
            i = j
            continue
        out.append(items[i])
        i += 1
    return out, positions


def _after_test(before: Sequence[Item]) -> bool:
    """A position belongs to a test or finding, or to a ligament that is stressed; after a bare movement the same words are
    its measurement."""
    return any(m.kind == "concept" or m.id.endswith("collateral_ligament") for item in before[-8:] for m in item.mentions)


def _leads(items: Sequence[Item], i: int, j: int) -> bool:
    """ "In extension the UCL opens thirty degrees": a position that opens a clause, with no number of its own after it."""
    opens = i == 0 or items[i - 1].comma or items[i - 1].word in {"and", "but"}
    return opens and j < len(items) and items[j].number is None and items[j].word in {"the", "it", "there", "she", "he", ""}


def _position(items: Sequence[Item], tokens: Sequence[Token], i: int) -> int:
    """The index after a position that starts at items[i], else i."""
    if items[i].word not in LEADS:
        return i
    j = i + 1
    if both := _two_angles(items, i):
        return both
    if j < len(items) and items[j].number is not None:
        number = items[j].number
        if number is None or number.unit not in {"deg", None}:
            return i
        k = j + 1
        if k + 1 < len(items) and items[k].word == "of" and tokens[items[k + 1].start].text in POSTURES:
            return k + 2
        return i
    if (
        items[i].word == "in"
        and j < len(items)
        and tokens[items[j].start].text in POSTURES
        and items[j].end - items[j].start == 1
    ):
        return j + 1
    k = j
    while k < len(items) and k - j < 4 and not (k > j and items[k - 1].comma):
        words = [t.text for t in tokens[items[k].start : items[k].end]]
        if k > j and words[-1] in POSTURES:
            return k + 1
        if not (set(words) <= JOINTS | {"the", "full", "his", "her"}):
            break
        k += 1
    return i


def _two_angles(items: Sequence[Item], i: int) -> int:
    """The index after "at zero and thirty degrees": a joint stressed straight and then bent; else 0."""
    a, word, b = ([*items[i + 1 : i + 4], *[Item(0, 0)] * 3])[:3]
    straight = a.number is not None and a.number.value == 0 and a.number.unit in {"deg", None} and not a.comma
    bent = b.number is not None and b.number.value is not None and b.number.unit in {"deg", None}
    return i + 4 if items[i].word == "at" and straight and word.word == "and" and bent else 0
