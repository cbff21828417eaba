"""What the terminal shows of a field: the sentence the note will print, the doubts, the words heard and when.

Gives plain lines with a tone; how a tone looks is the caller's affair. Everything spoken or imported is made
printable. Imports record, decisions, measurement, note.wording, lexicon.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from dictation.counting import counted
from dictation.lexicon.entries import Lexicon
from dictation.measurement.cautions import cautions
from dictation.note.places import SIDES, side_heading
from dictation.note.printable import printable
from dictation.note.summary import summarise
from dictation.note.times import span
from dictation.note.wording import HEADINGS, mode_note, word_field
from dictation.record import DraftRecord, Evidence, RecordField, Unplaced
from dictation.review.decisions import Decision
from dictation.review.rules import Review
from dictation.store.journal import Entry

Tone = Literal["heading", "sentence", "doubt", "quiet", "plain"]
Line = tuple[str, Tone]
_ROLES = {"statement": "heard", "side": "side from", "retraction": "taken back"}
_CONTEXT = 4
"""Words shown before and after the words a field rests on."""


def show_field(decision: Decision, draft: DraftRecord, lexicon: Lexicon) -> list[Line]:
    """Return a field as lines: part and side, its sentence, its doubts, how it came about, what was heard."""
    field = decision.field
    lines: list[Line] = [(f"{HEADINGS[field.part]} · {side_heading(field)}", "heading")]
    lines.append((f"  {decision.sentence or word_field(field, lexicon)}.", "sentence"))
    if note := mode_note(field, lexicon):
        lines.append((f"    ({note})", "quiet"))
    lines += [(f"    Check: {printable(flag.message)}", "doubt") for flag in field.flags if flag.level == "check"]
    lines += [(f"    Note: {printable(flag.message)}", "quiet") for flag in field.flags if flag.level == "info"]
    if decision.added:
        lines.append(("    added by hand; nothing of it was heard", "quiet"))
    lines += [line for evidence in field.evidence for line in _evidence(evidence, draft)]
    if decision.state != "pending":
        reason = f": {printable(decision.reason)}" if decision.reason else ""
        lines.append((f"    {decision.state} by {printable(decision.who or '')}{reason}", "plain"))
    return lines


def _evidence(evidence: Evidence, draft: DraftRecord) -> Iterable[Line]:
    words = [printable(word.said) for word in draft.transcript.words]
    start, end = evidence.words
    before, after = " ".join(words[max(0, start - _CONTEXT) : start]), " ".join(words[end : end + _CONTEXT])
    inside = " ".join(words[start:end]) or printable(evidence.said)
    line = f"    {_ROLES[evidence.role]}{span(evidence.start, evidence.end)}: "
    yield (
        line + " ".join(filter(None, [f"… {before}" if before else "", f"[{inside}]", f"{after} …" if after else ""])),
        "quiet",
    )
    corrected = printable(evidence.corrected)
    if corrected and corrected.casefold() != inside.casefold():
        yield f"    read as: {corrected}", "quiet"


def show_cautions(fields: Iterable[RecordField]) -> list[Line]:
    """Return what must not wait, as lines; none where nothing fired, which is no reassurance and is not said."""
    return [(f"Caution, if heard right: {caution.text}", "doubt") for caution in cautions(fields)]


def show_run(index: int, review: Review) -> list[Line]:
    """Return a stretch under one carried side as lines: its side, how many statements, when, and each of them."""
    run = review.draft.runs[index]
    decisions = [review.state.fields[name] for name in run.fields if name in review.state.pending]
    lines: list[Line] = [(f"{SIDES[run.side]}, {counted(len(decisions), 'statement')}{span(run.start, run.end)}", "heading")]
    i, j = run.words
    said = " ".join(printable(word.said) for word in review.draft.transcript.words[i : min(j, i + _CONTEXT * 2)])
    lines.append((f"    from the words: [{said} …]", "quiet"))
    return lines + [(f"  {review.word(decision.field)}.", "sentence") for decision in decisions]


def show_summary(review: Review) -> list[Line]:
    """Return what a signer looks at once more: positives and numbers by side, plans with their sides and what disagrees."""
    summary = summarise(review)
    lines: list[Line] = []
    for what, by_side in summary.blocks:
        for name, fields in by_side:
            lines.append((f"{what}, {name}:", "heading"))
            lines += [(f"  {review.word(field)}.", "sentence") for field in fields]
    if summary.plans:
        lines.append(("Plans:", "heading"))
        lines += [(f"  {side_heading(field)}: {review.word(field)}.", "sentence") for field in summary.plans]
    for one, other in summary.disagreements:
        lines.append((f"Check: “{review.word(one)}” does not agree with “{review.word(other)}”.", "doubt"))
    return lines


def show_entry(entry: Entry, about: str) -> list[str]:
    """Return what somebody else has decided, as lines. about: what the entry is about, as it reads now."""
    return [f"    {printable(entry.who)}, {entry.time.words()}, {entry.what}: {printable(about)}."]


def show_unplaced(index: int, unplaced: Unplaced) -> list[Line]:
    """Return a stretch of speech that became no field, as lines."""
    text = printable(unplaced.text) or "(nothing could be read)"
    return [
        (f"Speech that became no field, number {index + 1}{span(unplaced.start, unplaced.end)}", "heading"),
        (f"  “{text}”", "sentence"),
        (f"    Why: {printable(unplaced.reason)}", "quiet"),
    ]
