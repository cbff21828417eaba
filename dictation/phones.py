"""How alike two strings of phones sound: an alignment whose costs know which sounds are near.

Phones are the 39 of ARPABET without stress, as in the CMU Pronouncing Dictionary. Costs run from 0 (same) to
1 (unlike). They follow place, manner and voice for consonants and height and backness for vowels (common
phonetics, no single source); the pairs set by hand are those that recognisers and accents exchange most.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

# place: 0 lips, 1 lip and teeth, 2 teeth, 3 ridge, 4 behind it, 5 palate, 6 velum, 7 throat; manner; voiced
_CONSONANTS = {
    "P": (0, "stop", 0), "B": (0, "stop", 1), "T": (3, "stop", 0), "D": (3, "stop", 1), "K": (6, "stop", 0),
    "G": (6, "stop", 1), "F": (1, "fricative", 0), "V": (1, "fricative", 1), "TH": (2, "fricative", 0),
    "DH": (2, "fricative", 1), "S": (3, "fricative", 0), "Z": (3, "fricative", 1), "SH": (4, "fricative", 0),
    "ZH": (4, "fricative", 1), "HH": (7, "fricative", 0), "CH": (4, "affricate", 0),
    "JH": (4, "affricate", 1), "M": (0, "nasal", 1), "N": (3, "nasal", 1), "NG": (6, "nasal", 1),
    "L": (3, "liquid", 1), "R": (4, "liquid", 1), "W": (0, "glide", 1), "Y": (5, "glide", 1),
}  # fmt: skip
# height 0 (open) to 3 (close), backness 0 (front) to 3 (back); a diphthong stands between its ends
_VOWELS = {
    "IY": (3.0, 0.0), "IH": (2.5, 0.5), "EY": (2.2, 0.3), "EH": (1.5, 0.5), "AE": (0.6, 0.5),
    "AA": (0.0, 2.2), "AO": (1.0, 2.7), "OW": (1.8, 2.7), "UH": (2.4, 2.4), "UW": (3.0, 2.6),
    "AH": (1.3, 1.5), "ER": (1.5, 1.5), "AY": (0.9, 1.3), "AW": (0.9, 2.0), "OY": (1.6, 2.0),
}  # fmt: skip
_NEAR = {
    ("M", "N"): 0.2, ("N", "NG"): 0.2, ("M", "NG"): 0.3, ("F", "TH"): 0.2, ("V", "DH"): 0.25,
    ("TH", "T"): 0.35, ("DH", "D"): 0.25, ("TH", "S"): 0.35, ("DH", "Z"): 0.35, ("S", "SH"): 0.3,
    ("Z", "ZH"): 0.3, ("CH", "SH"): 0.25, ("JH", "ZH"): 0.2, ("JH", "D"): 0.4, ("CH", "T"): 0.35,
    ("V", "B"): 0.35, ("F", "P"): 0.4, ("L", "W"): 0.4, ("R", "W"): 0.4, ("L", "R"): 0.4, ("L", "N"): 0.45,
    ("T", "K"): 0.35, ("P", "T"): 0.4, ("P", "K"): 0.4, ("B", "D"): 0.4, ("D", "G"): 0.4, ("B", "G"): 0.45,
    ("T", "S"): 0.5, ("D", "Z"): 0.5, ("D", "N"): 0.5, ("Y", "IY"): 0.15, ("Y", "IH"): 0.25,
    ("W", "UW"): 0.15, ("W", "UH"): 0.25, ("W", "OW"): 0.35, ("R", "ER"): 0.1, ("L", "OW"): 0.45,
    ("L", "UH"): 0.5, ("L", "AH"): 0.55, ("L", "AO"): 0.5, ("R", "AH"): 0.45, ("HH", "F"): 0.4,
    ("AH", "ER"): 0.1, ("AH", "IH"): 0.1, ("AH", "EH"): 0.2, ("AH", "AA"): 0.2, ("AH", "AE"): 0.25,
    ("AH", "UH"): 0.15, ("IH", "IY"): 0.1, ("IH", "EH"): 0.15, ("EH", "EY"): 0.2, ("EH", "AE"): 0.15,
    ("AA", "AO"): 0.1, ("AO", "OW"): 0.15, ("UH", "UW"): 0.1, ("AA", "AE"): 0.25, ("AY", "AA"): 0.3,
    ("AW", "AA"): 0.3, ("OY", "AO"): 0.3, ("IH", "EY"): 0.25, ("AY", "IY"): 0.4, ("AY", "EY"): 0.35,
    ("AY", "IH"): 0.4, ("IY", "EY"): 0.3, ("AW", "OW"): 0.35, ("ER", "AO"): 0.25, ("ER", "EH"): 0.25,
    ("ER", "UH"): 0.25,
}  # fmt: skip
# What a phone costs when it is heard in one string and missing in the other: weak sounds come and go.
_ALONE = {
    "AH": 0.35, "IH": 0.4, "HH": 0.35, "R": 0.4, "Y": 0.3, "T": 0.5, "D": 0.45, "W": 0.5, "ER": 0.55,
    "EH": 0.55, "L": 0.55, "N": 0.6, "UH": 0.5, "S": 0.6, "Z": 0.5, "TH": 0.6, "DH": 0.5, "G": 0.6, "V": 0.6,
    "B": 0.6, "P": 0.65, "K": 0.65, "M": 0.65, "NG": 0.6, "F": 0.7, "IY": 0.6, "AE": 0.65,
}  # fmt: skip

PHONES: tuple[str, ...] = (*_CONSONANTS, *_VOWELS)
_NUMBER = {phone: number for number, phone in enumerate(PHONES)}
ALONE: tuple[float, ...] = tuple(_ALONE.get(phone, 0.75) for phone in PHONES)


def _apart(a: str, b: str) -> float:
    if a == b:
        return 0.0
    for pair in ((a, b), (b, a)):
        if pair in _NEAR:
            return _NEAR[pair]
    if a in _VOWELS and b in _VOWELS:
        (h1, b1), (h2, b2) = _VOWELS[a], _VOWELS[b]
        return min(0.6, 0.2 + 0.12 * (abs(h1 - h2) + abs(b1 - b2)))
    if a in _VOWELS or b in _VOWELS:
        return 1.0
    (place1, manner1, voice1), (place2, manner2, voice2) = _CONSONANTS[a], _CONSONANTS[b]
    if place1 == place2 and manner1 == manner2:
        return 0.12  # voice alone: p/b, t/d, k/g, s/z
    gap = 0.06 * abs(place1 - place2) + 0.1 * (voice1 != voice2)
    return min(0.9, (0.4 if manner1 == manner2 else 0.6) + gap)


APART: tuple[tuple[float, ...], ...] = tuple(tuple(_apart(a, b) for b in PHONES) for a in PHONES)


def numbers(phones: Sequence[str]) -> tuple[int, ...]:
    """Return the numbers of phones in PHONES. Raises KeyError for a phone outside the set."""
    return tuple(_NUMBER[phone] for phone in phones)


def weight(phones: Sequence[int]) -> float:
    """Return what it costs to lose all of these (numbered) phones."""
    return sum(ALONE[phone] for phone in phones)


def cost(a: Sequence[int], b: Sequence[int], limit: float = float("inf")) -> float:
    """Return the cheapest alignment's cost of two strings of numbered phones; inf once it must pass limit."""
    row = [0.0]
    for phone in b:
        row.append(row[-1] + ALONE[phone])
    for x in a:
        apart, alone = APART[x], ALONE[x]
        left, diagonal = row[0] + alone, row[0]
        row[0] = best = left
        for column, y in enumerate(b, 1):
            above = row[column]
            value = diagonal + apart[y]
            if above + alone < value:
                value = above + alone
            if left + ALONE[y] < value:
                value = left + ALONE[y]
            diagonal, row[column], left = above, value, value
            if value < best:
                best = value
        if best > limit:
            return float("inf")
    return row[-1]


def distances(a: Sequence[int], others: NDArray[np.integer], lengths: NDArray[np.integer]) -> list[float]:
    """Return the distance, 0 the same to 1 unlike, from one string of numbered phones to each of many.

    others: (strings, longest), padded with any phone; lengths: phones in each. A distance is the cheapest alignment's cost
    (see cost) over the weight of the heavier string; it may pass 1.
    """
    import numpy as np

    alone = np.array(ALONE)[others]
    missed = np.concatenate((np.zeros((len(others), 1)), np.cumsum(alone, axis=1)), axis=1)
    row = missed
    for x in a:
        best = np.empty_like(row)
        best[:, 0] = row[:, 0] + ALONE[x]
        np.minimum(row[:, :-1] + np.array(APART[x])[others], row[:, 1:] + ALONE[x], out=best[:, 1:])
        row = missed + np.minimum.accumulate(best - missed, axis=1)  # a phone missed in a after the best so far
    at = np.arange(len(others)), lengths
    found: list[float] = np.round(row[at] / np.maximum(missed[at], max(weight(a), 1e-9)), 9).tolist()
    return found


def align(a: Sequence[int], b: Sequence[int]) -> list[tuple[int | None, int | None]]:
    """Return the cheapest alignment as pairs of positions; None where a phone has no partner."""
    grid = [[0.0] * (len(b) + 1) for _ in range(len(a) + 1)]
    for i, x in enumerate(a, 1):
        grid[i][0] = grid[i - 1][0] + ALONE[x]
    for j, y in enumerate(b, 1):
        grid[0][j] = grid[0][j - 1] + ALONE[y]
    for i, x in enumerate(a, 1):
        for j, y in enumerate(b, 1):
            grid[i][j] = min(
                grid[i - 1][j - 1] + APART[x][y], grid[i - 1][j] + ALONE[x], grid[i][j - 1] + ALONE[y]
            )  # fmt: skip
    pairs: list[tuple[int | None, int | None]] = []
    i, j = len(a), len(b)
    while i or j:
        here = grid[i][j]
        if i and j and here == grid[i - 1][j - 1] + APART[a[i - 1]][b[j - 1]]:
            i, j = i - 1, j - 1
            pairs.append((i, j))
        elif i and here == grid[i - 1][j] + ALONE[a[i - 1]]:
            i -= 1
            pairs.append((i, None))
        else:
            j -= 1
            pairs.append((None, j))
    return pairs[::-1]
