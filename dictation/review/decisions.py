"""The state of a review: the fold of its journal over the draft. No decision lives anywhere else.

``fold`` takes a draft and the journal's entries about it and gives what is decided; the same entries always give
the same state. An undo is an entry of its own: it names an earlier decision, which then counts no more. Imports
record, store's entries, errors.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from dictation.errors import RecordError
from dictation.record import DecisionState, DraftRecord, RecordField
from dictation.store.journal import Entry, Moment

CONFIRMED, AMENDED, REJECTED, ADDED = "confirmed", "amended", "rejected", "added"
CLEARED, UNDONE, SIGNED = "cleared", "undone", "signed"
_DECIDING = {CONFIRMED, AMENDED, REJECTED, ADDED, CLEARED}


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
    entry.
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


@dataclass(frozen=True, slots=True)
class State:
    """What is decided so far.

    fields: the draft's in their order, then those added. unplaced: index -> clearance. last: what one undo
    takes back.
    """

    fields: dict[str, Decision]
    unplaced: dict[int, Clearance | None]
    signature: Signature | None = None
    last: tuple[Entry, ...] = ()

    @property
    def pending(self) -> list[str]:
        """The ids of the fields not decided."""
        return [field for field, decision in self.fields.items() if decision.state == "pending"]

    @property
    def uncleared(self) -> list[int]:
        """The unplaced stretches neither cleared nor turned into a field."""
        return [index for index, clearance in self.unplaced.items() if clearance is None]


def unplaced_target(index: int) -> str:
    """Return how the journal names a stretch of unplaced speech."""
    return f"unplaced-{index}"


def fold(draft: DraftRecord, entries: Sequence[Entry]) -> State:
    """Return the state that the entries give. Raises RecordError naming the first entry that does not fit the
    draft.
    """
    undone = {index for entry in entries if entry.what == UNDONE for index in [_undoes(entry)]}
    state = State(
        {field.id: Decision(field, field) for field in draft.fields},
        dict.fromkeys(range(len(draft.unplaced))),
    )
    steps: list[Entry] = []
    for entry in entries:
        try:
            if entry.what in _DECIDING:
                if entry.number not in undone:
                    _decide(state, entry, entry.number)
                    steps.append(entry)
            elif entry.what == SIGNED:
                state = replace(state, signature=Signature(time=entry.time, head=entry.hash, **entry.after))
            elif entry.what != UNDONE:
                raise ValueError
        except (KeyError, TypeError, ValueError, AttributeError) as err:
            raise RecordError(
                f"Entry {entry.number} of the journal does not fit its draft; restore the store from a back-up."
            ) from err
    return replace(state, last=_last_step(steps))


def _undoes(entry: Entry) -> int:
    number = entry.before.get("entry") if isinstance(entry.before, dict) else None
    return number if isinstance(number, int) else -1


def _last_step(steps: list[Entry]) -> tuple[Entry, ...]:
    """The decisions that one undo takes back: the last, or all of its group."""
    if not steps:
        return ()
    group = _group(steps[-1])
    return tuple(step for step in steps if step is steps[-1] or (group is not None and _group(step) == group))


def _group(entry: Entry) -> str | None:
    return entry.after.get("group") if isinstance(entry.after, dict) else None


def _decide(state: State, entry: Entry, number: int) -> None:
    after: dict[str, Any] = entry.after
    if entry.field is None:
        raise ValueError
    if entry.what == CLEARED:
        index = int(entry.field.removeprefix("unplaced-"))
        if index not in state.unplaced:
            raise KeyError(index)
        state.unplaced[index] = Clearance(None, entry.who, entry.time)
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
        made.update(state="confirmed", sentence=after["sentence"])
    elif entry.what == AMENDED:
        changed = RecordField.model_validate({**old.field.model_dump(), **after["changes"]})
        made.update(state="amended", sentence=after["sentence"], field=changed)
    else:
        made.update(state="rejected", reason=after["reason"], sentence=None)
    state.fields[entry.field] = replace(old, **made)
