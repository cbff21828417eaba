"""What the draft of the same recording before this one said instead, as lines. Imports review and showing."""

from __future__ import annotations

from dictation.note.printable import printable
from dictation.record import RecordField
from dictation.review.decisions import Decision
from dictation.review.earlier import Earlier
from dictation.review.rules import Review, Wording
from dictation.terminal.showing import Line


def show_earlier(review: Review, earlier: Earlier | None) -> list[Line]:
    """Return that a recording was drafted before, and how much differs; nothing for the first draft of it."""
    if earlier is None:
        return []
    fields = [decision.field for decision in review.state.fields.values() if decision.first is not None]
    new = sum(field.id not in earlier.was for field in fields)
    other = sum(earlier.changed(field) for field in fields) - new
    count = f"{other} read otherwise, {new} are new, {len(earlier.gone)} of then are not among them"
    line = f"This recording was drafted before, taken in {earlier.taken.time.words()}: of the statements now, {count}."
    return [(line, "doubt"), ("No decision was carried over; each statement says what differs.", "plain")]


def show_was(field: RecordField, earlier: Earlier | None, word: Wording) -> list[Line]:
    """Return what a statement was in the draft before: what stood instead, or that nothing did."""
    if earlier is None:
        return []
    before = earlier.was.get(field.id)
    if before is None:
        return [("    Not in the draft before.", "doubt")]
    if not earlier.changed(field):
        return [(f"    As in the draft before{_decided(before)}.", "quiet")]
    return [(f"    In the draft before: {_sentence(before, word)}{_decided(before)}.", "doubt")]


def show_gone(earlier: Earlier | None, word: Wording) -> list[Line]:
    """Return what stands in the draft before and is nowhere in this one."""
    if earlier is None or not earlier.gone:
        return []
    lines: list[Line] = [("In the draft before, and in no statement here:", "heading")]
    return lines + [(f"  {_sentence(one, word)}{_decided(one)}.", "doubt") for one in earlier.gone]


def _sentence(decision: Decision, word: Wording) -> str:
    return printable(decision.sentence or word(decision.field))


def _decided(decision: Decision) -> str:
    if decision.state == "pending":
        return ", not decided there"
    reason = f": {printable(decision.reason)}" if decision.reason else ""
    return f", {decision.state} by {printable(decision.who or '')}{reason}"
