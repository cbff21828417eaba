"""Numbers in words, in each way they are dictated: "one hundred and ten", "a hundred and ten", "one ten"."""

from __future__ import annotations

ONES = [
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve", "thirteen",
    "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
]  # fmt: skip
TENS = ["zero", "ten", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]


def ways_to_say(number: int) -> list[str]:
    """Return the ways a whole number from 0 to 999 is said, likeliest first.

    >>> ways_to_say(110)
    ['one hundred and ten', 'a hundred and ten', 'one hundred ten', 'one ten']
    >>> ways_to_say(0)
    ['zero', 'nought']
    """
    if number == 0:
        return ["zero", "nought"]
    if number < 100:
        return [_below_hundred(number)]
    hundreds, rest = divmod(number, 100)
    if rest == 0:
        return [f"{ONES[hundreds]} hundred", *(["a hundred"] if hundreds == 1 else [])]
    tail = _below_hundred(rest)
    quick = f"{ONES[hundreds]} {'oh ' if rest < 10 else ''}{tail}"
    return [
        f"{ONES[hundreds]} hundred and {tail}",
        *([f"a hundred and {tail}"] if hundreds == 1 else []),
        f"{ONES[hundreds]} hundred {tail}",
        quick,
    ]


def _below_hundred(number: int) -> str:
    if number < 20:
        return ONES[number]
    tens, ones = divmod(number, 10)
    return TENS[tens] + (f" {ONES[ones]}" if ones else "")
