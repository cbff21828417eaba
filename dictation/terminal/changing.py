"""Amending a field and adding one by hand: ask, show what it would read and contradict, and change it once
the person confirms.

Raises ReviewError where the rules forbid it. Imports review, questions and errors.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from dictation.errors import ReviewError
from dictation.record import RecordField
from dictation.review.rules import Review
from dictation.store.journal import Moment
from dictation.terminal.questions import Ask, Show, ask_changes, ask_field


@dataclass(frozen=True, slots=True)
class Changing:
    """What changes fields in one sitting. who: the reviewer's name, written into every decision."""

    review: Review
    who: str
    ask: Ask
    show: Show
    clock: Callable[[], Moment]

    def amend(self, name: str) -> None:
        """Ask what is wrong with a field, and change it."""
        changes = ask_changes(self.review.state.fields[name].field, self.review.lexicon, self.ask, self.show)
        if changes is not None:
            self.change(name, changes)

    def change(self, name: str, changes: dict[str, object]) -> None:
        """Show what a field would be; amend it once the person confirms that."""
        accepted = False
        try:
            changed = self.review.amended(name, changes)
        except ReviewError as err:
            if not self._insist(str(err), changes):
                return
            changed, accepted = self.review.amended(name, changes, accept_implausible=True), True
        if self._agree(changed):
            self.review.amend(name, changes, self.who, self.clock(), accept_implausible=accepted)

    def add(self, unplaced: int | None = None) -> None:
        """Ask for a field that is missing, and add it. unplaced: the stretch of speech it comes from."""
        found = ask_field(self.review.lexicon, self.ask, self.show)
        if found is None:
            return
        concept, values = found
        accepted = False
        try:
            new = self.review.new_field(concept, values)
        except ReviewError as err:
            if not self._insist(str(err), values):
                return
            new, accepted = self.review.new_field(concept, values, accept_implausible=True), True
        if self._agree(new):
            self.review.add(concept, values, self.who, self.clock(), unplaced=unplaced, accept_implausible=accepted)

    def _insist(self, problem: str, values: dict[str, object]) -> bool:
        """Say a problem; where a number is only implausible, ask whether it stands all the same."""
        self.show(f"  {problem}", "doubt")
        numbered = any(values.get(key) is not None for key in ("value", "low", "high"))
        return numbered and "plausible" in problem and self._answer("  Keep it all the same? Type keep: ", "keep")

    def _agree(self, new: RecordField) -> bool:
        """Show the sentence as it would be confirmed, and what contradicts it; True once the person confirms
        it.
        """
        self.show("  It would read:", "plain")
        self.show(f"  {self.review.word(new)}.", "sentence")
        for other in self.review.contradictions(new):
            self.show(f"    Check: this does not agree with “{self.review.word(other)}”.", "doubt")
        return self._answer("  Type confirm if that is right (Enter: leave it as it was): ", "confirm")

    def _answer(self, prompt: str, word: str) -> bool:
        answer = self.ask(prompt).strip().casefold()
        return bool(answer) and word.startswith(answer)
