"""What a review knows of cautions: that each has a name and a text, and has to be answered. What raises them is handed in.

Imports record.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Protocol

from dictation.record import RecordField


class Caution(Protocol):
    """A prompt about what must not wait: a name that stays the same when drafted again, and its text."""

    @property
    def name(self) -> str:
        """Stays the same when drafted again; says the side."""

    @property
    def text(self) -> str:
        """What is asked."""


Cautions = Callable[[Iterable[RecordField]], Sequence[Caution]]
"""Gives the cautions that fields raise."""


def no_cautions(fields: Iterable[RecordField]) -> Sequence[Caution]:
    """Return none."""
    return ()
