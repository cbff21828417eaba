"""How far a review is, what is still to be decided, and what an entry of its journal is about, in words.

Imports showing, note, review.
"""

from __future__ import annotations

from dictation.note.order import order_fields
from dictation.note.wording import HEADINGS
from dictation.review.rules import Review
from dictation.terminal.showing import Line


def progress(review: Review) -> str:
    """Return how many statements are decided, and how much is still to be done, as a sentence.

    Never "left", which is a side here.
    """
    state = review.state
    total, pending = len(state.fields), len(state.pending)
    doubts = sum(1 for name in state.pending if state.fields[name].field.checked())
    speech = f", {len(state.uncleared)} of speech to clear" if state.uncleared else ""
    return f"{total - pending} of {total} decided, {doubts} still to check{speech}."


def show_standing(review: Review) -> list[Line]:
    """Return the progress and every statement not decided yet, as lines in the order of the examination."""
    lines: list[Line] = [(f"  {progress(review)} Still to decide:", "plain")]
    for one in order_fields((review.state.fields[name].field for name in review.state.pending), review.lexicon):
        mark = "check" if one.checked() else ""
        lines.append((f"    {mark:<6}{HEADINGS[one.part]} · {review.word(one)}", "doubt" if mark else "plain"))
    return lines


def name_of(target: str, review: Review) -> str:
    """Return what a decision was about: its sentence as it reads now, or what else it was."""
    decision = review.state.fields.get(target)
    if decision:
        return review.word(decision.field)
    if target.startswith("run-"):
        return "the side of a stretch"
    return "a stretch of speech" if target.startswith("unplaced-") else "the answer to a caution"
