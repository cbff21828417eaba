"""What the draft of the same recording before this one said instead, as sentences for every screen. Imports review."""

from __future__ import annotations

from dictation.note.printable import printable
from dictation.record import RecordField
from dictation.review.decisions import Decision
from dictation.review.earlier import Earlier
from dictation.review.rules import Review, Wording

NOT_CARRIED = "No decision was carried over; each statement says what differs."
GONE = "In the draft before, and in no statement here:"


def say_earlier(review: Review, earlier: Earlier) -> str:
    """Return that a recording was drafted before, and how much differs."""
    fields = [decision.field for decision in review.state.fields.values() if decision.first is not None]
    new = sum(field.id not in earlier.was for field in fields)
    other = sum(earlier.changed(field) for field in fields) - new
    count = f"{other} read otherwise, {new} are new, {len(earlier.gone)} of then are not among them"
    return f"This recording was drafted before, taken in {earlier.taken.time.words()}: of the statements now, {count}."


def say_was(field: RecordField, earlier: Earlier, word: Wording) -> tuple[str, bool]:
    """Return what a statement was in the draft before, and whether that differs."""
    before = earlier.was.get(field.id)
    if before is None:
        return "Not in the draft before.", True
    if not earlier.changed(field):
        return f"As in the draft before{_decided(before)}.", False
    return f"In the draft before: {_sentence(before, word)}{_decided(before)}.", True


def say_gone(earlier: Earlier, word: Wording) -> list[str]:
    """Return what stands in the draft before and is nowhere in this one."""
    return [f"{_sentence(one, word)}{_decided(one)}." for one in earlier.gone]


def _sentence(decision: Decision, word: Wording) -> str:
    return printable(decision.sentence or word(decision.field))


def _decided(decision: Decision) -> str:
    if decision.state == "pending":
        return ", not decided there"
    reason = f": {printable(decision.reason)}" if decision.reason else ""
    return f", {decision.state} by {printable(decision.who or '')}{reason}"
