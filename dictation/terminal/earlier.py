"""What the draft of the same recording before this one said instead, as lines. Imports note.earlier, review and showing."""

from __future__ import annotations

from dictation.note.earlier import GONE, NOT_CARRIED, say_earlier, say_gone, say_was
from dictation.record import RecordField
from dictation.review.earlier import Earlier
from dictation.review.rules import Review, Wording
from dictation.terminal.showing import Line


def show_earlier(review: Review, earlier: Earlier | None) -> list[Line]:
    """Return that a recording was drafted before, and how much differs; nothing for the first draft of it."""
    return [] if earlier is None else [(say_earlier(review, earlier), "doubt"), (NOT_CARRIED, "plain")]


def show_was(field: RecordField, earlier: Earlier | None, word: Wording) -> list[Line]:
    """Return what a statement was in the draft before: what stood instead, or that nothing did."""
    if earlier is None:
        return []
    said, differs = say_was(field, earlier, word)
    return [(f"    {said}", "doubt" if differs else "quiet")]


def show_gone(earlier: Earlier | None, word: Wording) -> list[Line]:
    """Return what stands in the draft before and is nowhere in this one."""
    if earlier is None or not earlier.gone:
        return []
    return [(GONE, "heading"), *((f"  {said}", "doubt") for said in say_gone(earlier, word))]
