"""The state of a review: the fold of its journal over the draft. No decision lives anywhere else.

``fold`` takes a draft and the journal's entries about it and gives what is decided; the same entries always give
the same state, whether folded at once or as they come. An undo is an entry of its own: it names an earlier decision,
which then counts no more. Imports record, store's entries, errors.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from dictation.errors import InputError, RecordError
from dictation.record import DecisionState, DraftRecord, Flag, FlagCode, RecordField, Side
from dictation.review.contradiction import find_contradictions
from dictation.store.facts import Details, read_details
from dictation.store.journal import Entry, Moment

CONFIRMED, AMENDED, REJECTED, ADDED = "confirmed", "amended", "rejected", "added"
CLEARED, UNDONE, SIGNED, ADDENDUM = "cleared", "undone", "signed", "addendum"
SIDE_DECIDED, CAUTION_ANSWERED = "side decided", "caution answered"
_DECIDING = {CONFIRMED, AMENDED, REJECTED, ADDED, CLEARED, SIDE_DECIDED, CAUTION_ANSWERED}

_SIDE_DOUBTS = {FlagCode.side_carried, FlagCode.side_conflict}
_DISAGREES = "This does not agree with what was decided of another statement."

ANSWERS = ("acting", "already done", "not relevant")
"""How a caution is answered."""


@dataclass(frozen=True, slots=True)
class Decision:
    """Where one field stands.

    field: as it now reads. first: as drafted, None for one added by hand. sentence: what was confirmed, word
    for word. group: names the group it was confirmed in. entries: the decisions that count, oldest first, as
    journal positions.
    """

    field: RecordField
    first: RecordField | None
    state: DecisionState = "pending"
    sentence: str | None = None
    who: str | None = None
    time: Moment | None = None
    reason: str | None = None
    group: str | None = None
    entries: tuple[int, ...] = ()

    @property
    def added(self) -> bool:
        """Whether the clinician added it by hand."""
        return self.first is None


@dataclass(frozen=True, slots=True)
class Clearance:
    """One stretch of unplaced speech: cleared as needing no field, or turned into the field named."""

    became: str | None
    who: str
    time: Moment


@dataclass(frozen=True, slots=True)
class Signature:
    """The signature as journalled. examined, dictated: as the signer stated them, None where not stated. head: hash of its
    entry. details: what the encounter stated when it was signed, None in a signature of a version that did not keep it.
    """

    signer: str
    role: str
    time: Moment
    head: str
    reference: str
    examined: str | None
    dictated: str | None
    checksum: str
    program_version: str
    demonstration: bool
    details: Details | None = None


@dataclass(frozen=True, slots=True)
class Addendum:
    """What was added after signing.

    to: checksum of the record it adds to. head: hash of its entry. errors: ids of the fields that it says were entered in
    error; they stay in the record, marked.
    """

    text: str
    signer: str
    role: str
    to: str
    time: Moment
    head: str
    errors: tuple[str, ...] = ()


def entered_in_error(addenda: Sequence[Addendum]) -> dict[str, int]:
    """Return the ids of the fields that addenda say were entered in error, each with the number of the first to say so."""
    found: dict[str, int] = {}
    for number, addendum in enumerate(addenda, 1):
        for name in addendum.errors:
            found.setdefault(name, number)
    return found


@dataclass(frozen=True, slots=True)
class State:
    """What is decided so far.

    fields: the draft's in their order, then those added. unplaced: index -> clearance. runs: index -> the side decided for
    a stretch under one carried side, None while it is not. cautions: name -> answer. hasty: a group was decided faster than
    it can be read. last: what one undo takes back.
    """

    fields: dict[str, Decision]
    unplaced: dict[int, Clearance | None]
    runs: dict[int, Side | None] = field(default_factory=dict)
    cautions: dict[str, str] = field(default_factory=dict)
    hasty: bool = False
    signature: Signature | None = None
    addenda: tuple[Addendum, ...] = ()
    last: tuple[Entry, ...] = ()

    @property
    def standing(self) -> list[Decision]:
        """The decisions on fields that no addendum says were entered in error."""
        errors = entered_in_error(self.addenda)
        return [decision for name, decision in self.fields.items() if name not in errors]

    @property
    def pending(self) -> list[str]:
        """The ids of the fields not decided."""
        return [field for field, decision in self.fields.items() if decision.state == "pending"]

    @property
    def uncleared(self) -> list[int]:
        """The unplaced stretches neither cleared nor turned into a field."""
        return [index for index, clearance in self.unplaced.items() if clearance is None]


def run_target(index: int) -> str:
    """Return how the journal names a stretch under one carried side."""
    return f"run-{index}"


def unplaced_target(index: int) -> str:
    """Return how the journal names a stretch of unplaced speech."""
    return f"unplaced-{index}"


def fold(draft: DraftRecord, entries: Sequence[Entry]) -> State:
    """Return the state that the entries give. Raises RecordError naming the first entry that does not fit the
    draft.
    """
    return Folding(draft).up_to(entries)


class Folding:
    """The fold of a journal over its draft, taken further as the journal grows; gives what ``fold`` would."""

    def __init__(self, draft: DraftRecord) -> None:
        self._draft = draft
        self._entries: tuple[Entry, ...] = ()
        self._begin()

    def _begin(self) -> None:
        draft = self._draft
        self._state = State(
            {field.id: Decision(field, field) for field in draft.fields},
            dict.fromkeys(range(len(draft.unplaced))),
            {index: None for index, run in enumerate(draft.runs) if len(run.fields) > 1},
        )
        self._steps: list[Entry] = []

    def up_to(self, journal: Sequence[Entry]) -> State:
        """Return the state that a journal gives, which begins as the one folded before did. Raises as fold does."""
        entries = journal[len(self._entries) :]
        self._entries = tuple(journal)
        undone = {_undoes(entry) for entry in entries if entry.what == UNDONE}
        if undone:
            undone = {_undoes(entry) for entry in self._entries if entry.what == UNDONE}
            self._begin()  # what was undone is left out from the beginning
            entries = self._entries
        for entry in entries:
            try:
                self._take(entry, undone)
            except (KeyError, TypeError, ValueError, AttributeError, InputError) as err:
                raise RecordError(
                    f"Entry {entry.number} of the journal does not fit its draft; restore the store from a back-up."
                ) from err
        state = self._state
        return replace(
            state,
            fields=_flag_contradictions(state.fields),
            unplaced=dict(state.unplaced),
            runs=dict(state.runs),
            cautions=dict(state.cautions),
            last=_last_step(self._steps),
        )

    def _take(self, entry: Entry, undone: Collection[int]) -> None:
        if entry.what in _DECIDING:
            if entry.number not in undone:
                _decide(self._state, entry, entry.number, self._draft)
                self._steps.append(entry)
                if isinstance(entry.after, dict) and entry.after.get("hasty"):
                    self._state = replace(self._state, hasty=True)
        elif entry.what == SIGNED:
            self._state = replace(self._state, signature=_signature(entry))
        elif entry.what == ADDENDUM:
            after = {**entry.after, "errors": tuple(entry.after.get("errors", ()))}
            if not set(after["errors"]) <= set(self._state.fields):
                raise KeyError
            addendum = Addendum(time=entry.time, head=entry.hash, **after)
            self._state = replace(self._state, addenda=(*self._state.addenda, addendum))
        elif entry.what != UNDONE:
            raise ValueError


def _signature(entry: Entry) -> Signature:
    stated = dict(entry.after)
    details = read_details(stated.pop("details")) if "details" in stated else None
    return Signature(time=entry.time, head=entry.hash, details=details, **stated)


def _undoes(entry: Entry) -> int:
    number = entry.before.get("entry") if isinstance(entry.before, dict) else None
    return number if isinstance(number, int) else -1


def _last_step(steps: list[Entry]) -> tuple[Entry, ...]:
    """The decisions that one undo takes back: the last, or all of its group, which were written together."""
    if not steps:
        return ()
    group, first = _group(steps[-1]), len(steps) - 1
    while group is not None and first > 0 and _group(steps[first - 1]) == group:
        first -= 1
    return tuple(steps[first:])


def _group(entry: Entry) -> str | None:
    return entry.after.get("group") if isinstance(entry.after, dict) else None


def _decide(state: State, entry: Entry, number: int, draft: DraftRecord) -> None:
    after: dict[str, Any] = entry.after
    if entry.field is None:
        raise ValueError
    if entry.what == CLEARED:
        index = int(entry.field.removeprefix("unplaced-"))
        if index not in state.unplaced:
            raise KeyError(index)
        state.unplaced[index] = Clearance(None, entry.who, entry.time)
        return
    if entry.what == SIDE_DECIDED:
        _decide_side(state, int(entry.field.removeprefix("run-")), after["side"], draft)
        return
    if entry.what == CAUTION_ANSWERED:
        if after["answer"] not in ANSWERS:
            raise ValueError
        state.cautions[entry.field] = after["answer"]
        return
    made: dict[str, Any] = {"who": entry.who, "time": entry.time, "reason": None, "group": after.get("group")}
    if entry.what == ADDED:
        if entry.field in state.fields:
            raise ValueError
        field = RecordField.model_validate(after["field"])
        made.update(state="confirmed", sentence=after["sentence"], entries=(number,))
        state.fields[entry.field] = Decision(field, None, **made)
        if after.get("unplaced") is not None:
            if after["unplaced"] not in state.unplaced:
                raise KeyError
            state.unplaced[after["unplaced"]] = Clearance(entry.field, entry.who, entry.time)
        return
    old = state.fields[entry.field]
    made["entries"] = (*old.entries, number)
    if entry.what == CONFIRMED:
        moved = old.first is not None and old.first.side != old.field.side  # with its run, before it was confirmed
        made.update(state="amended" if moved else "confirmed", sentence=after["sentence"])
    elif entry.what == AMENDED:
        changed = RecordField.model_validate({**old.field.model_dump(), **after["changes"]})
        made.update(state="amended", sentence=after["sentence"], field=changed)
    else:
        made.update(state="rejected", reason=after["reason"], sentence=None)
    state.fields[entry.field] = replace(old, **made)


def _decide_side(state: State, index: int, side: Side, draft: DraftRecord) -> None:
    """Give every pending field of a run the side decided for it; a doubt about that side is settled, and stays as a remark."""
    run = draft.runs[index]
    if index not in state.runs or side not in {"right", "left"}:
        raise ValueError
    state.runs[index] = side
    for name in run.fields:
        decision = state.fields[name]
        if decision.state == "pending" and decision.field.side == run.side:
            flags = [f.model_copy(update={"level": "info"}) if f.code in _SIDE_DOUBTS else f for f in decision.field.flags]
            state.fields[name] = replace(decision, field=decision.field.model_copy(update={"side": side, "flags": flags}))


def _flag_contradictions(decisions: dict[str, Decision]) -> dict[str, Decision]:
    """Return the decisions with those pending flagged that do not agree with what was amended, added or moved to another
    side since the draft.
    """
    standing = [d for d in decisions.values() if d.state != "rejected"]
    changed = [d.field for d in standing if d.first is None or d.first.side != d.field.side or d.state == "amended"]
    flagged, concerned = dict(decisions), {field.concept for field in changed}
    by_concept: dict[str, list[RecordField]] = {concept: [] for concept in concerned}
    for decision in standing:
        if decision.field.concept in concerned:
            by_concept[decision.field.concept].append(decision.field)
    for one in changed:
        for other in find_contradictions(one, by_concept[one.concept]):
            decision = flagged[other.id]
            if decision.state == "pending" and not any(f.code is FlagCode.contradiction for f in decision.field.flags):
                flags = [*other.flags, Flag(code=FlagCode.contradiction, level="check", message=_DISAGREES)]
                flagged[other.id] = replace(decision, field=other.model_copy(update={"flags": flags}))
    return flagged
