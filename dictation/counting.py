"""How many of something, in words a person reads."""

from __future__ import annotations


def counted(number: int, one: str, many: str | None = None) -> str:
    """Return the number with the noun as it goes with it. many: where it is not one with an s."""
    return f"{number} {one if number == 1 else many or one + 's'}"
