"""What the page shows of a review, as values for its templates: in the terminal's order and words, with nothing decided here.

Everything spoken or imported is made printable. Imports review, note, record and lexicon.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import quote

from dictation.note.earlier import say_was
from dictation.note.order import order_steps
from dictation.note.places import SIDES, side_heading
from dictation.note.printable import printable
from dictation.note.times import span
from dictation.note.wording import HEADINGS, mode_note
from dictation.record import Evidence, RecordField, TranscriptRecord
from dictation.review.amendment import side_open
from dictation.review.decisions import CAUTION_ANSWERED, Decision
from dictation.review.earlier import Earlier
from dictation.review.grouping import plain_negative
from dictation.review.rules import Review
from dictation.store.journal import Entry

AROUND_S = 1.0
"""Seconds of sound played before and after the words of a statement."""

ROLES = {"statement": "Heard", "side": "Side from", "retraction": "Taken back"}
STATES = {"pending": "To decide", "confirmed": "Confirmed", "amended": "Amended", "rejected": "Rejected"}
_CONTEXT = 4
"""Words shown before and after the words a field rests on."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """One stretch that a field rests on. span: "" for typed text. play: first and last second to hear, None without sound."""

    role: str
    span: str
    before: str
    inside: str
    after: str
    corrected: str
    words: tuple[int, int]
    play: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class FieldView:
    """One statement. state: key of STATES. waits: it stands under a side that is to be decided first.

    was: what it was in the draft before, and whether that differs; None where there was none.
    """

    anchor: str
    id: str
    side: str
    sentence: str
    remark: str
    doubts: tuple[str, ...]
    remarks: tuple[str, ...]
    stretches: tuple[Stretch, ...]
    state: str
    outcome: str
    side_open: bool
    waits: bool
    was: tuple[str, bool] | None

    @property
    def words(self) -> str:
        """The words that it rests on, as "3:7 10:12"."""
        return " ".join(f"{s.words[0]}:{s.words[1]}" for s in self.stretches)

    @property
    def plays(self) -> str:
        """What is heard of it, as "11.2:14.9"; of several stretches those of the statement itself."""
        own = [s for s in self.stretches if s.role == ROLES["statement"]] or self.stretches
        return " ".join(f"{s.play[0]:.2f}:{s.play[1]:.2f}" for s in own if s.play)


@dataclass(frozen=True, slots=True)
class GroupView:
    """Statements that may be decided together. left: ids of those still to decide that may be."""

    anchor: str
    heading: str
    left: Sequence[str]
    fields: Sequence[str]


@dataclass(frozen=True, slots=True)
class RunView:
    """A stretch under one carried side. decided: "RIGHT" or "LEFT" once it is. open: it waits to be decided."""

    anchor: str
    index: int
    side: str
    span: str
    words: tuple[int, int]
    said: str
    sentences: Sequence[str]
    decided: str
    open: bool
    play: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class SpeechView:
    """A stretch of speech that became no field. became: the sentence it was turned into; outcome: "" while it waits."""

    anchor: str
    index: int
    span: str
    text: str
    reason: str
    outcome: str
    play: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class CautionView:
    """What must not wait. answer: "" while there is none."""

    anchor: str
    name: str
    text: str
    answer: str


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a review is. cautions, sides, speech: what is left of each beside statements."""

    total: int
    left: int
    doubts: int
    cautions: int
    sides: int
    speech: int
    signed: bool
    undo: str

    @property
    def done(self) -> bool:
        """Whether nothing is left but to sign."""
        return not (self.left or self.cautions or self.speech)


@dataclass(frozen=True, slots=True)
class Step:
    """Statements by id, one or a group. heading: of the part that begins here, "" where it goes on. named: part and side."""

    heading: str
    group: str
    named: str
    fields: Sequence[str]


def anchor(field: str) -> str:
    """Return the id of a field's element on the page."""
    return "field-" + quote(field, safe="")


def view_field(decision: Decision, review: Review, *, waits: bool, sound: bool, earlier: Earlier | None = None) -> FieldView:
    """Return one statement. waits: its side is to be decided first. sound: it can be heard. earlier: the draft before."""
    field = decision.field
    remarks = [printable(flag.message) for flag in field.flags if flag.level == "info"]
    if decision.added:
        remarks.append("Added by hand; nothing of it was heard.")
    who = f" by {printable(decision.who)}" if decision.who else ""
    reason = f": {printable(decision.reason)}" if decision.reason else ""
    state = "amended" if decision.added and decision.state != "rejected" else decision.state
    word = "Added" if decision.added and decision.state != "rejected" else STATES[decision.state]
    return FieldView(
        anchor(field.id),
        field.id,
        side_heading(field),
        decision.sentence or review.word(field),
        mode_note(field, review.lexicon),
        tuple(printable(flag.message) for flag in field.flags if flag.level == "check"),
        tuple(remarks),
        tuple(_stretch(one, review.draft.transcript, sound) for one in field.evidence),
        state,
        f"{word}{who}{reason}" if decision.state != "pending" else word,
        decision.state == "pending" and side_open(field),
        waits,
        say_was(field, earlier, review.word) if earlier and decision.first else None,
    )


def _stretch(evidence: Evidence, transcript: TranscriptRecord, sound: bool) -> Stretch:
    i, j = evidence.words
    words = transcript.words

    def said(first: int, last: int) -> str:
        return " ".join(printable(word.said) for word in words[max(0, first) : last])

    inside = said(i, j) or printable(evidence.said)
    corrected = printable(evidence.corrected)
    return Stretch(
        ROLES[evidence.role],
        span(evidence.start, evidence.end),
        said(i - _CONTEXT, i),
        inside,
        said(j, j + _CONTEXT),
        corrected if corrected.casefold() != inside.casefold() else "",
        (i, j),
        _play(evidence.start, evidence.end, sound),
    )


def _play(start: float | None, end: float | None, sound: bool) -> tuple[float, float] | None:
    if not sound or start is None:
        return None
    return max(0.0, start - AROUND_S), (end if end is not None else start) + AROUND_S


def waiting_fields(review: Review) -> frozenset[str]:
    """Return the fields that stand under a side that is to be decided first."""
    return frozenset(name for run in review.open_runs() for name in review.draft.runs[run].fields)


def steps(review: Review, *, doubtful_first: bool) -> list[Step]:
    """Return all statements in the order of the terminal; where each stands does not change as they are decided."""
    fields = {field.id: field for field in _as_placed(review)}
    found: list[Step] = []
    before = ""
    for names in order_steps(fields.values(), review.lexicon, doubtful_first=doubtful_first):
        first = fields[names[0]]
        heading = "Check first" if doubtful_first and first.checked() else HEADINGS[first.part]
        group = f"group-{first.part}-{first.side}" if len(names) > 1 else ""
        named = f"{HEADINGS[first.part]}, {side_heading(first)}"
        found.append(Step(heading if heading != before else "", group, named, names))
        before = heading
    return found


def _as_placed(review: Review) -> list[RecordField]:
    """Every field as it was drafted, with the side decided for its run: what its place on the page goes by."""
    runs = review.draft.runs
    decided = {name: (runs[run].side, side) for run, side in review.state.runs.items() if side for name in runs[run].fields}
    found = []
    for decision in review.state.fields.values():
        field = decision.first or decision.field
        carried, side = decided.get(field.id, (None, None))
        found.append(field.model_copy(update={"side": side}) if side and field.side == carried else field)
    return found


def view_groups(review: Review, placed: Sequence[Step]) -> list[GroupView]:
    """Return the groups among the steps, each with what of it can still be decided together."""
    found = []
    for step in placed:
        if not step.group:
            continue
        decisions = [review.state.fields[name] for name in step.fields]
        left = [d.field.id for d in decisions if d.state == "pending" and plain_negative(d.field, review.lexicon)]
        found.append(GroupView(step.group, step.named, left if len(left) > 1 else [], step.fields))
    return found


def view_runs(review: Review, sound: bool) -> list[RunView]:
    """Return the stretches under one carried side."""
    waiting = review.open_runs()
    found = []
    for index, decided in review.state.runs.items():
        run = review.draft.runs[index]
        i, j = run.words
        said = " ".join(printable(word.said) for word in review.draft.transcript.words[i : min(j, i + _CONTEXT * 2)])
        sentences = [review.word(review.state.fields[name].field) for name in run.fields if name in review.state.fields]
        found.append(
            RunView(
                f"run-{index}", index, SIDES[run.side], span(run.start, run.end), (i, j), said, sentences,
                SIDES[decided] if decided else "", index in waiting, _play(run.start, run.end, sound),
            )
        )  # fmt: skip
    return found


def view_speech(review: Review, sound: bool) -> list[SpeechView]:
    """Return the speech that became no field."""
    found = []
    for index, unplaced in enumerate(review.draft.unplaced):
        clearance = review.state.unplaced[index]
        outcome = ""
        if clearance is not None:
            became = review.state.fields.get(clearance.became or "")
            what = f"Became “{became.sentence}”" if became else "Cleared"
            outcome = f"{what}, by {printable(clearance.who)}"
        found.append(
            SpeechView(
                f"speech-{index}", index, span(unplaced.start, unplaced.end),
                printable(unplaced.text) or "(nothing could be read)", printable(unplaced.reason), outcome,
                _play(unplaced.start, unplaced.end, sound),
            )
        )  # fmt: skip
    return found


def view_cautions(review: Review) -> list[CautionView]:
    """Return the cautions, answered or not, always in the same order."""
    answered = review.state.cautions
    texts = {e.field: e.after["text"] for e in review.journal.entries if e.what == CAUTION_ANSWERED and e.field in answered}
    found = [_caution(name, texts[name], answer) for name, answer in answered.items()]
    found += [_caution(caution.name, caution.text, "") for caution in review.cautions()]
    return sorted(found, key=lambda caution: caution.name)


def _caution(name: str, text: str, answer: str) -> CautionView:
    return CautionView(f"caution-{quote(name, safe='')}", name, text, answer)


def view_progress(review: Review, cautions: Sequence[CautionView] | None = None) -> Progress:
    """Return how far the review is. cautions: where they are known already."""
    known = view_cautions(review) if cautions is None else cautions
    state = review.state
    return Progress(
        len(state.fields), len(state.pending), sum(state.fields[name].field.checked() for name in state.pending),
        sum(not caution.answer for caution in known), len(review.open_runs()), len(state.uncleared),
        state.signature is not None,
        state.last[-1].what if state.last and state.signature is None else "",
    )  # fmt: skip


def layout_mark(placed: Sequence[Step], cautions: Sequence[CautionView]) -> str:
    """Return what changes where anything of the page stands elsewhere than before, so that it has to be loaded anew."""
    parts = [step.group + " ".join(step.fields) for step in placed] + [caution.name for caution in cautions]
    return hashlib.sha256("\n".join(parts).encode("utf-8", "replace")).hexdigest()[:16]


@dataclass(frozen=True, slots=True)
class WordView:
    """One heard word. at: the element of the first statement that rests on it. corrected: what was read, at its last word."""

    said: str
    at: str
    corrected: str
    breath: bool


PAUSE_S = 0.7
"""Silence between two words that begins a new line of the transcript; chosen by us, no source."""


def view_words(review: Review) -> list[WordView]:
    """Return the transcript: the words as heard, each with the statement that it belongs to and what it was read as."""
    heard = review.draft.transcript.words
    at: dict[int, str] = {}
    for field in review.draft.fields:
        for evidence in field.evidence:
            for index in range(*evidence.words):
                at.setdefault(index, anchor(field.id))
    read = {
        corrected.from_[1] - 1: printable(corrected.text)
        for corrected in review.draft.transcript.corrected
        if corrected.reason is not None and corrected.from_[1] > corrected.from_[0]
    }
    found = []
    ended: float | None = None
    for index, word in enumerate(heard):
        breath = ended is not None and word.start is not None and word.start - ended > PAUSE_S
        found.append(WordView(printable(word.said), at.get(index, ""), read.get(index, ""), breath))
        ended = word.end
    return found


def view_entry(entry: Entry, review: Review) -> str:
    """Return what somebody has decided, as a sentence."""
    target = entry.field or ""
    decision = review.state.fields.get(target)
    if decision is not None:
        about = review.word(decision.field)
    elif target.startswith("run-"):
        about = "the side of a stretch"
    elif target.startswith("unplaced-"):
        about = "a stretch of speech"
    else:
        about = "the record" if not target else "the answer to a caution"
    return f"{printable(entry.who)}, {entry.time.words()}, {entry.what}: {about}."
