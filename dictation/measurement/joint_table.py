"""What was measured of each joint, active beside passive and right beside left: the therapist's table.

Imports movements.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dictation.measurement.movements import MOVEMENTS, Movement, in_words
from dictation.record import Digit


@dataclass(frozen=True, slots=True)
class Row:
    """One movement of one digit: what was measured, in words, by side and mode; "" where nothing was."""

    movement: str
    digit: Digit | None
    position: str | None
    occasion: str | None
    cells: tuple[str, ...]
    """As COLUMNS: right active, passive and mode not stated; then the same of the left."""


COLUMNS = (
    ("right", "active"), ("right", "passive"), ("right", None), ("left", "active"), ("left", "passive"), ("left", None),
)  # fmt: skip


def joint_table(measured: Sequence[Movement]) -> list[Row]:
    """Return a row for each movement, digit, position and occasion, as first measured. A value said twice stands twice."""
    rows: dict[tuple[str, Digit | None, str | None, str | None], dict[tuple[str | None, str | None], list[str]]] = {}
    for m in measured:
        row = rows.setdefault((m.name, m.digit, m.position, m.occasion), {})
        row.setdefault((m.side, m.mode), []).append(in_words(m.name, m.degrees))
    return [
        Row(MOVEMENTS[name], digit, position, occasion, tuple(" and ".join(row.get(key, [])) for key in COLUMNS))
        for (name, digit, position, occasion), row in rows.items()
    ]
