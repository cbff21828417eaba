"""Hearing again what statements and stretches rest on. What plays is handed in; where it cannot, that is a sentence.

Imports record and errors.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from dictation.errors import DictationError
from dictation.record import RecordField, Run, Unplaced
from dictation.terminal.questions import Show

Span = tuple[float, float]
Play = Callable[[Sequence[Span]], None]
"""Plays stretches of the recording, in seconds; raises a DictationError where it cannot."""

_BESIDE_S = 3.0
"""How much of a stretch under one carried side is heard where the words that set the side are not known."""


@dataclass(frozen=True, slots=True)
class Hearing:
    """What plays the recording in one sitting; None where the draft is of typed text."""

    play: Play | None
    show: Show

    def fields(self, fields: Iterable[RecordField]) -> None:
        """Play the words that statements rest on."""
        self._heard([(e.start, e.end) for field in fields for e in field.evidence])

    def stretch(self, unplaced: Unplaced) -> None:
        """Play speech that became no field."""
        self._heard([(unplaced.start, unplaced.end)])

    def run(self, run: Run, fields: Iterable[RecordField]) -> None:
        """Play the words that set a carried side."""
        sides = [(e.start, e.end) for field in fields for e in field.evidence if e.role == "side"]
        begun = run.start or 0.0
        self._heard(sides or [(begun, begun + _BESIDE_S)])

    def _heard(self, spans: Iterable[tuple[float | None, float | None]]) -> None:
        known = [(start, end) for start, end in spans if start is not None and end is not None]
        if self.play is None or not known:
            self.show("  Nothing of this was heard.", "plain")
            return
        try:
            self.play(known)
        except DictationError as err:
            self.show(f"  {err}", "doubt")
