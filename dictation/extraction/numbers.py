"""Numbers as spoken or written, with their unit, range, comparator, plus or minus, and "out of".

What goes in: tokens. What comes out: readings, each with the span of tokens it covers. Signs of movements (lacks, short
of) are settled later, where the movement is known.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from dictation.extraction.tokens import Token

UNITS = {
    w: i
    for i, w in enumerate(
        [
            "zero",
            "one",
            "two",
            "three",
            "four",
            "five",
            "six",
            "seven",
            "eight",
            "nine",
            "ten",
            "eleven",
            "twelve",
            "thirteen",
            "fourteen",
            "fifteen",
            "sixteen",
            "seventeen",
            "eighteen",
            "nineteen",
        ]
    )
}
TENS = {
    w: 10 * i for i, w in enumerate(["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"], start=2)
}
ZERO = {"zero", "oh", "nought", "naught", "o"}
UNITS_WORDS = {**UNITS, "nought": 0, "naught": 0, "fourty": 40}
PLACES = {"one", "two", "three", "four", "five", "1", "2", "3", "4", "5"}
COUNTED = {"trial", "attempt", "try"}
"""After these a number is a place in a row: "trial one fourteen" is fourteen."""
NUMBERED = {"position", "setting", "rung", "zone", "stage", "type"}
"""What a number after them names one of, and measures nothing: "grip on position two"."""

ONE_OF = {"a", "another", "smaller", "larger", "bigger", "other", "similar", "second", "further", "same", "the", "this", "that"}
"""After these, "one" stands for something named before."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One number in tokens[start:end].

    value, or low and high for a range. out_of: the scale said ("out of five"). sign: plus or minus after a grade.
    unit: UCUM, as said. comparator, about: as said. singly: spoken digit by digit, so another reading is possible.
    minus: a minus was said before it.
    """

    start: int
    end: int
    value: float | None = None
    low: float | None = None
    high: float | None = None
    unit: str | None = None
    comparator: str | None = None
    about: str | None = None
    sign: str | None = None
    out_of: float | None = None
    singly: bool = False


def find_numbers(
    tokens: Sequence[Token], language: Mapping[str, Mapping[str, tuple[str, ...]]], named: frozenset[int] = frozenset()
) -> list[Reading]:
    """Return the readings in tokens, in order and not overlapping.

    named: tokens that are part of a name, where no number starts ("moving two-point four" is four).
    """
    units = _phrases(language.get("unit", {}))
    comparators = _phrases(language.get("comparator", {}))
    about = _phrases(language.get("about", {}))
    out: list[Reading] = []
    i = 0
    while i < len(tokens):
        if i in named or _enumerates(tokens, i):
            i += 1
            continue
        if _text(tokens, i - 1) in COUNTED and not _stopped(tokens, i - 1) and _text(tokens, i) in PLACES:
            i += 1
            continue
        if _pronoun(tokens, i) or (_text(tokens, i - 1) in NUMBERED and not _stopped(tokens, i - 1)):
            i += 1
            continue
        may_start = _text(tokens, i) in {"from", "between"} or _signed(tokens, i) is not None
        reading = (_range(tokens, i, units) or _single(tokens, i, units)) if may_start else None
        if reading is None or reading.end <= i:
            i += 1
            continue
        if i >= 2 and (_text(tokens, i - 2), _text(tokens, i - 1)) == ("out", "of"):
            i = reading.end
            continue
        reading = _before(tokens, reading, comparators, about, out[-1].end if out else 0)
        if out and reading.unit == "deg" and _same_breath(tokens, out[-1], reading):
            out[-1] = replace(out[-1], unit="deg")
        out.append(reading)
        i = reading.end
    return out


def _same_breath(tokens: Sequence[Token], first: Reading, last: Reading) -> bool:
    """ "Zero and thirty degrees": the first number has the unit of the last, and is no grade."""
    between = [t.text for t in tokens[first.end : last.start]]
    plain = first.unit is None and first.out_of is None and first.sign is None
    return plain and between == ["and"] and not _stopped(tokens, first.end - 1)


def _enumerates(tokens: Sequence[Token], i: int) -> bool:
    """ "Plan: 1. Splint. 2. Review.": a written number alone between stops counts the items of a list."""
    before = tokens[i - 1].stop if i else "."
    alone = _text(tokens, i).isdigit() and tokens[i].stop == "." and before and before in ".;:" and i + 1 < len(tokens)
    if not alone or before != ":":
        return bool(alone)
    return tokens[i].text == "1" and any(t.text == "2" and t.stop == "." for t in tokens[i:])


def _pronoun(tokens: Sequence[Token], i: int) -> bool:
    """ "a smaller one to the little finger", "the other one": no number."""
    following = _text(tokens, i + 1)
    placed = following in {"to", "at", "over", "on", "in", "of", "is", "was", "with"} or _stopped(tokens, i)
    return _text(tokens, i) == "one" and _text(tokens, i - 1) in ONE_OF and placed and not _stopped(tokens, i - 1)


def _phrases(meanings: Mapping[str, tuple[str, ...]]) -> dict[tuple[str, ...], str]:
    return {tuple(form.split()): meaning for meaning, forms in meanings.items() for form in forms}


def _before(
    tokens: Sequence[Token], reading: Reading, comparators: dict[tuple[str, ...], str],
    about: dict[tuple[str, ...], str], floor: int,
) -> Reading:  # fmt: skip
    """Take in a comparator or an "about" that stands before the number, both possible."""
    for _ in range(2):
        for length in (4, 3, 2, 1):
            start = reading.start - length
            if start < floor or any(t.stop for t in tokens[start : reading.start]):
                continue
            words = tuple(t.text for t in tokens[start : reading.start])
            if words in comparators and reading.comparator is None:
                reading = replace(reading, start=start, comparator=comparators[words])
                break
            if words in about and reading.about is None:
                reading = replace(reading, start=start, about=" ".join(words))
                break
        else:
            symbol = tokens[reading.start - 1].text if reading.start > floor else ""
            if symbol in {"<", ">", "<=", ">="} and reading.comparator is None:
                reading = replace(reading, start=reading.start - 1, comparator=symbol)
    return reading


def _range(tokens: Sequence[Token], i: int, units: dict[tuple[str, ...], str]) -> Reading | None:
    start = i
    opener = _text(tokens, i)
    if opener in {"from", "between"}:
        i += 1
    first = _signed(tokens, i)
    if first is None:
        return None
    low, j, _ = first
    j, unit = _unit(tokens, j, units)
    if _stopped(tokens, j - 1):
        return None
    k = j + 1 if _text(tokens, j) == "of" else j
    if _text(tokens, k) == "hyperextension" and _text(tokens, k + 1) == "to" and not _stopped(tokens, k):
        low, j = -abs(low), k + 1
    joint = _text(tokens, j)
    if joint in {"to", "-", "through"}:
        j += 1
    elif joint == "up" and _text(tokens, j + 1) == "to":
        j += 2
    elif opener == "between" and joint == "and":
        j += 1
    else:
        return None
    if _text(tokens, j) in {"about", "around", "roughly"}:
        j += 1
    second = _signed(tokens, j)
    if second is None:
        return None
    high, j, _ = second
    j, unit2 = _unit(tokens, j, units)
    if low < 0 and not _stopped(tokens, j - 1) and (_text(tokens, j), _text(tokens, j + 1)) == ("of", "flexion"):
        j += 2
    return Reading(start, j, low=low, high=high, unit=unit2 or unit)


def _single(tokens: Sequence[Token], i: int, units: dict[tuple[str, ...], str]) -> Reading | None:
    number = _signed(tokens, i)
    if number is None:
        return None
    value, j, singly = number
    sign, out_of = None, None
    if not _stopped(tokens, j - 1):
        after = _text(tokens, j)
        if after in {"plus", "+"} or (after in {"minus", "-"} and not _is_number(tokens, j + 1)):
            sign = "+" if after in {"plus", "+"} else "-"
            j += 1
        elif after == "minus" and _text(tokens, j + 1) in {"out", "over"}:
            sign, j = "-", j + 1
    if not _stopped(tokens, j - 1):
        k = j + 2 if (_text(tokens, j), _text(tokens, j + 1)) == ("out", "of") else j + 1
        scale = _scale(tokens, k) if _text(tokens, j) in {"/", "over", "out"} else None
        if scale is not None:
            out_of, j = scale
    j, unit = _unit(tokens, j, units)
    return Reading(i, j, value=value, unit=unit, sign=sign, out_of=out_of, singly=singly)


def _scale(tokens: Sequence[Token], i: int) -> tuple[float, int] | None:
    """The scale of a grade, one word: "out of five two point discrimination" is out of five, not of fifty two."""
    if _text(tokens, i) in UNITS_WORDS:
        return float(UNITS_WORDS[_text(tokens, i)]), i + 1
    got = _signed(tokens, i)
    return None if got is None else got[:2]


def _signed(tokens: Sequence[Token], i: int) -> tuple[float, int, bool] | None:
    minus = _text(tokens, i) in {"minus", "negative"} and not _stopped(tokens, i) and _is_number(tokens, i + 1)
    if _text(tokens, i) == "plus" and _is_number(tokens, i + 1):
        i += 1
    got = _cardinal(tokens, i + 1 if minus else i)
    if got is None:
        return None
    value, j, singly = got
    return (-value if minus and value else value), j, singly


def _is_number(tokens: Sequence[Token], i: int) -> bool:
    return _cardinal(tokens, i) is not None


def _cardinal(tokens: Sequence[Token], i: int) -> tuple[float, int, bool] | None:
    """A number without sign or unit: (value, next index, spoken singly)."""
    text = _text(tokens, i)
    if not text[:1].isalpha() and re.fullmatch(r"\d+(\.\d+)?|\.\d+", text):
        return _decimals(tokens, float(text), i + 1, False)
    if text == "point" and _text(tokens, i + 1) in UNITS_WORDS and not _stopped(tokens, i - 1):
        value, j, singly = _decimals(tokens, 0.0, i, False)
        return (value, j, singly) if j > i else None
    if text in {"half"} and _text(tokens, i + 1) == "a" and _text(tokens, i + 2) in {"second", "centimetre", "kilo"}:
        return 0.5, i + 2, False
    whole = _whole(tokens, i)
    if whole is None:
        return None
    value, j, singly = whole
    return _decimals(tokens, float(value), j, singly)


def _decimals(tokens: Sequence[Token], value: float, j: int, singly: bool) -> tuple[float, int, bool]:
    if not _stopped(tokens, j - 1) and _text(tokens, j) == "point":
        digits, k = "", j + 1
        while _text(tokens, k) in UNITS_WORDS | {"oh": 0} and ({**UNITS_WORDS, "oh": 0}[_text(tokens, k)] < 10):
            digits += str({**UNITS_WORDS, "oh": 0}[_text(tokens, k)])
            k += 1
            if _stopped(tokens, k - 1):
                break
        if not digits and re.fullmatch(r"\d+", _text(tokens, k)):
            digits, k = _text(tokens, k), k + 1
        if not digits and _text(tokens, k) in TENS:
            digits, k = str(TENS[_text(tokens, k)] // 10), k + 1
        if digits:
            return float(f"{int(value)}.{digits}"), k, singly
    if not _stopped(tokens, j - 1) and [_text(tokens, j + n) for n in range(3)] == ["and", "a", "half"]:
        return value + 0.5, j + 3, singly
    return value, j, singly


def _whole(tokens: Sequence[Token], i: int, *, hundreds: bool = True) -> tuple[int, int, bool] | None:
    """A whole number: (value, next index, spoken singly). hundreds: whether it may have a hundred in it."""
    text = _text(tokens, i)
    if text == "one" and not _stopped(tokens, i) and _text(tokens, i + 1) == "of" and _whole(tokens, i + 2):
        return None
    if text == "a" and _text(tokens, i + 1) == "hundred":
        i, text = i + 1, "hundred"
    if text == "hundred" and not hundreds:
        return None
    if text == "hundred":
        return _after_hundred(tokens, 100, i + 1)
    if text in TENS:
        unit = UNITS.get(_text(tokens, i + 1), 99)
        if not _stopped(tokens, i) and 1 <= unit <= 9:
            return TENS[text] + unit, i + 2, False
        return TENS[text], i + 1, False
    if text not in UNITS_WORDS:
        return None
    value = UNITS_WORDS[text]
    if _stopped(tokens, i):
        return value, i + 1, False
    after = _text(tokens, i + 1)
    if after == "hundred":
        if not hundreds:
            return None
        return _after_hundred(tokens, value * 100, i + 2)
    if value in {1, 2, 3} and text in {"one", "two", "three"}:
        if after in ZERO and _text(tokens, i + 2) in UNITS and 1 <= UNITS[_text(tokens, i + 2)] <= 9 and value < 3:
            return value * 100 + UNITS[_text(tokens, i + 2)], i + 3, False
        if value == 1 and after in TENS:
            tens = _whole(tokens, i + 1)
            return (100 + tens[0], tens[1], False) if tens else None
        if value == 1 and 10 <= UNITS.get(after, 0) <= 19:
            return 100 + UNITS[after], i + 2, False
    if 1 <= value <= 9 and after in UNITS and UNITS[after] <= 9 and after != "zero":
        return value * 10 + UNITS[after], i + 2, True
    if 1 <= value <= 9 and after in {"zero", "oh"}:
        return value * 10, i + 2, True
    return value, i + 1, False


def _after_hundred(tokens: Sequence[Token], value: int, i: int) -> tuple[int, int, bool]:
    if _stopped(tokens, i - 1):
        return value, i, False
    j = i + 1 if _text(tokens, i) == "and" else i
    rest = _whole(tokens, j, hundreds=False)
    if rest is not None and 0 < rest[0] < 100 and not rest[2]:
        return value + rest[0], rest[1], False
    return value, i, False


def _unit(tokens: Sequence[Token], j: int, units: dict[tuple[str, ...], str]) -> tuple[int, str | None]:
    if _stopped(tokens, j - 1):
        return j, None
    for length in (3, 2, 1):
        words = tuple(t.text for t in tokens[j : j + length])
        if len(words) == length and words in units:
            return j + length, units[words]
    return j, None


def _stopped(tokens: Sequence[Token], i: int) -> bool:
    return 0 <= i < len(tokens) and bool(tokens[i].stop)


def _text(tokens: Sequence[Token], i: int) -> str:
    return tokens[i].text if 0 <= i < len(tokens) else ""
