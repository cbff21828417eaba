"""What a measure is: a result in words, its number, the fields it rests on, the formula and the published source.

Imports record.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from dictation.record import Digit, Side

Standing = Literal["verified", "published", "common practice"]
"""verified: the value was seen in a public page; published: attributed, quoted from memory; common practice: no source."""

Sex = Literal["male", "female"]


@dataclass(frozen=True, slots=True)
class Source:
    """Where a formula, a norm or a band comes from, and how far that was checked."""

    text: str
    standing: Standing

    def __str__(self) -> str:
        remark = {"verified": "", "published": " (quoted from memory)", "common practice": " (common practice, no source)"}
        return self.text + remark[self.standing]


@dataclass(frozen=True, slots=True)
class Measure:
    """One value worked out from confirmed fields.

    kind: which measure, stable. text: the result as a clinician reads it. value: its number in unit (UCUM), None where the
    result is words alone. inputs: ids of the fields it rests on. notes: doubts and boundaries, a sentence each.
    """

    kind: str
    text: str
    inputs: tuple[str, ...]
    formula: str
    source: Source
    side: Side | None = None
    digit: Digit | None = None
    value: float | None = None
    unit: str | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Patient:
    """What the norms ask of a patient; None where it was not given."""

    age_years: float | None = None
    sex: Sex | None = None


def number(value: float, digits: int = 1) -> str:
    """Return a number as it is read: no trailing zeros.

    >>> number(40.0), number(78.571)
    ('40', '78.6')
    """
    return f"{value:.{digits}f}".rstrip("0").rstrip(".") if digits else f"{value:.0f}"
