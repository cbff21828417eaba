"""The fields of a record as something to ask: what was found at a place, on a side, in a digit.

Fields of part plan are left out, and so is all that was rejected. Imports record.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from dictation.record import Digit, RecordField, Side

SIDES: tuple[Side, ...] = ("right", "left")
DIGITS: tuple[Digit, ...] = ("thumb", "index", "middle", "ring", "little")

FOUND = frozenset({"present", "positive"})
LESS = frozenset({"reduced", "absent", "altered"})
"""Of power, sensation, a pulse or a tendon: no longer normal."""


class Findings:
    """The fields that stand, asked by concept, side and digit; answers keep the order spoken."""

    def __init__(self, fields: Iterable[RecordField]) -> None:
        self._fields = [field for field in fields if field.part != "plan" and field.decision != "rejected"]

    def of(self, *concepts: str, side: Side | None = None, digit: Digit | None = None) -> list[RecordField]:
        """Return the fields of these concepts. A side or digit asked for lets pass those where none was said."""
        return [
            field
            for field in self._fields
            if field.concept in concepts
            and (side is None or field.side in (side, None))
            and (digit is None or field.digit in (digit, None))
        ]

    def found(
        self,
        *concepts: str,
        side: Side | None = None,
        digit: Digit | None = None,
        where: Callable[[RecordField], bool] = lambda field: True,
    ) -> list[RecordField]:
        """Return those said to be present or positive, and where more is asked, those that meet it."""
        return [f for f in self.of(*concepts, side=side, digit=digit) if f.status in FOUND and where(f)]

    def less(self, *concepts: str, side: Side | None = None, digit: Digit | None = None) -> list[RecordField]:
        """Return those said to be reduced, absent or altered."""
        return [f for f in self.of(*concepts, side=side, digit=digit) if f.status in LESS]
