"""Decisions made by the program, for show: so that one command can lead from an invented recording to a note.

The record it signs is marked as a demonstration in the journal, and every note of it says that no clinician
confirmed it. Imports review, showing, note and errors.
"""

from __future__ import annotations

from collections.abc import Callable

from dictation.counting import counted
from dictation.errors import ReviewError
from dictation.note.order import order_fields
from dictation.review.grouping import group_fields
from dictation.review.records import SignedRecord
from dictation.review.rules import Review
from dictation.store.facts import reference_ending
from dictation.store.journal import Moment
from dictation.terminal.showing import Tone, show_field, show_unplaced

WHO = "the program, for show"
Show = Callable[[str, Tone], None]


def demonstrate(review: Review, show: Show, clock: Callable[[], Moment]) -> SignedRecord:
    """Show the draft with its doubts, decide everything for show, and return the record marked as a
    demonstration.

    What may be confirmed is confirmed, plain negatives as groups; what a clinician would have to settle is
    rejected, and said. Raises ReviewError where the review has begun already.
    """
    if review.journal.entries:
        raise ReviewError("This review has begun; a demonstration needs a draft of its own.")
    fields = order_fields((decision.field for decision in review.state.fields.values()), review.lexicon)
    doubts = sum(1 for field in fields if field.checked())
    show(f"DRAFT: {counted(len(fields), 'statement')}, {doubts} of them to check first", "heading")
    for field in fields:
        for line, tone in show_field(review.state.fields[field.id], review.draft, review.lexicon):
            show(line, tone)
    for index, unplaced in enumerate(review.draft.unplaced):
        for line, tone in show_unplaced(index, unplaced):
            show(line, tone)
    show("", "plain")
    show(
        "DECISIONS, made by the program for show. A clinician decides on each statement; nothing is preselected.",
        "heading",
    )
    for run in review.open_runs():
        side = review.draft.runs[run].side
        review.decide_side(run, side, WHO, clock())
        show(f"  side:      {side}, for all of the stretch that carries it", "plain")
    for group in group_fields(fields, review.lexicon):
        names = [field.id for field in group]
        review.confirm_group(names, names, WHO, clock())
        show(f"  together: {'; '.join(review.word(field) for field in group)}.", "plain")
    for field in fields:
        if field.id not in review.state.pending:
            continue
        try:
            review.confirm(field.id, WHO, clock())
            show(f"  confirmed: {review.word(field)}.", "plain")
        except ReviewError as err:
            review.reject(field.id, f"left to a clinician: {err}", WHO, clock())
            show(f"  left out:  {review.word(field)}. A clinician would have to settle it: {err}", "doubt")
    for caution in review.cautions():
        review.answer_caution(caution, "not relevant", WHO, clock())
        show(f"  caution:   {caution.text} Here of no patient; a clinician would have to answer it.", "doubt")
    for index in list(review.state.uncleared):
        review.clear(index, WHO, clock())
        show(f"  cleared:   stretch {index + 1} of speech that became no field", "plain")
    show("", "plain")
    ending = reference_ending(review.journal.reference)
    return review.sign("the program", "demonstration", clock(), ending=ending, demonstration=True)
