"""The rules of review: draft → complete record → signed record (the two types are in records.py).

A review starts with everything pending. The clinician confirms, amends, rejects, adds by hand, clears
unplaced speech, or undoes; each is an entry in the journal, and the state is the fold of it (decisions.py).
Only this module can make a CompleteRecord (nothing pending) or a SignedRecord, so no note can exist while a
field is pending. Imports record, store, journal, decisions, amendment, lexicon and errors; never recognition,
correction or extraction: a field must not be derived again while a person decides on it.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace
from typing import Any

from dictation import __version__
from dictation.counting import counted
from dictation.errors import ReviewError
from dictation.lexicon.entries import Lexicon
from dictation.record import DraftRecord, RecordField, Side
from dictation.review.amendment import amend_field, answered, new_field, side_open
from dictation.review.cautions import Caution, Cautions, no_cautions
from dictation.review.checksum import record_checksum
from dictation.review.contradiction import find_contradictions
from dictation.review.decisions import (
    ADDED,
    ADDENDUM,
    AMENDED,
    ANSWERS,
    CAUTION_ANSWERED,
    CLEARED,
    CONFIRMED,
    REJECTED,
    SIDE_DECIDED,
    SIGNED,
    UNDONE,
    Decision,
    Folding,
    State,
    run_target,
    unplaced_target,
)
from dictation.review.grouping import plain_negative, reading_time_s
from dictation.review.journal import DraftJournal
from dictation.review.records import SEAL, CompleteRecord, SignedRecord
from dictation.store.facts import Details, reference_ending, stated_details
from dictation.store.journal import Entry, Moment, Step

Wording = Callable[[RecordField], str]
"""Gives the sentence of a field as the note will print it."""


class Review:
    """A draft under review. Every method that decides takes who and when, and writes the journal."""

    def __init__(
        self,
        draft: DraftRecord,
        draft_sha256: str,
        journal: DraftJournal,
        lexicon: Lexicon,
        word: Wording,
        cautions: Cautions = no_cautions,
    ) -> None:
        """Take up a review where its journal stands. cautions: what must not wait, from the fields that stand; each has to be
        answered. Raises RecordError where an entry does not fit the draft.
        """
        self.draft = draft.model_copy(deep=True)
        self.draft_sha256 = draft_sha256
        self.journal = journal
        self.lexicon = lexicon
        self.word = word
        self._cautions = cautions
        self._folding = Folding(self.draft)
        self.state: State = self._folding.up_to(journal.entries)

    def confirm(self, field: str, who: str, time: Moment) -> None:
        """Confirm one pending field as the sentence reads. Raises ReviewError where it cannot be."""
        self._confirm([field], who, time, {})

    def confirm_group(
        self, fields: Sequence[str], shown: Collection[str], who: str, time: Moment, *, shown_s: float | None = None
    ) -> bool:
        """Confirm several plain negatives or normals of one part and side at once, each of them shown before.

        shown_s: seconds that they were on the screen. Returns whether reading them takes longer, which is journalled.
        Raises ReviewError for anything else: positives, numbers, copies, expansions, impressions, plans,
        flagged fields.
        """
        found = [self._pending(field).field for field in fields]
        if len({(field.part, field.side) for field in found}) != 1:
            raise ReviewError("A group is of one part of the examination and one side; decide these one by one.")
        if not set(fields) <= set(shown):
            raise ReviewError("Not every field of the group was shown; show them first.")
        if not all(plain_negative(field, self.lexicon) for field in found):
            raise ReviewError(
                "Only plain negatives and normals without a doubt can be confirmed together; decide these one by one."
            )
        hasty = shown_s is not None and shown_s < reading_time_s([self.word(field) for field in found])
        group: dict[str, Any] = {"group": f"group-{len(self.journal.entries) + 1}"}
        if shown_s is not None:
            group |= {"shown_s": round(shown_s, 1), "hasty": hasty}
        self._confirm(list(fields), who, time, group)
        return hasty

    def decide_side(self, run: int, side: Side, who: str, time: Moment) -> None:
        """Decide the side of a stretch under one carried side, once for all its fields; they stay to be confirmed.

        Raises ReviewError where its side is not to be decided.
        """
        if run not in self.open_runs():
            raise ReviewError("The side of that stretch is not waiting to be decided.")
        if side not in {"right", "left"}:
            raise ReviewError("The side of a stretch is right or left; decide its statements one by one otherwise.")
        before = {"side": self.draft.runs[run].side}
        self._write(Step(SIDE_DECIDED, run_target(run), before, {"side": side}), who=who, time=time)

    def open_runs(self) -> list[int]:
        """Return the stretches whose side is to be decided before their fields: those with one that is pending."""
        pending = set(self.state.pending)
        return [run for run, side in self.state.runs.items() if side is None and pending & set(self.draft.runs[run].fields)]

    def cautions(self) -> list[Caution]:
        """Return the cautions that the standing fields raise and nobody has answered."""
        standing = [decision.field for decision in self.state.fields.values() if decision.state != "rejected"]
        return [caution for caution in self._cautions(standing) if caution.name not in self.state.cautions]

    def answer_caution(self, caution: Caution, answer: str, who: str, time: Moment) -> None:
        """Journal what is done about a caution, one of ANSWERS. Raises ReviewError for anything else."""
        if answer not in ANSWERS:
            raise ReviewError(f"A caution is answered by one of: {', '.join(ANSWERS)}.")
        step = Step(CAUTION_ANSWERED, caution.name, None, {"answer": answer, "text": caution.text})
        self._write(step, who=who, time=time)

    def amend(
        self,
        field: str,
        changes: Mapping[str, Any],
        who: str,
        time: Moment,
        *,
        accept_implausible: bool = False,
    ) -> None:
        """Change a field; its first value and its evidence are kept. The amended field is decided.

        side None says that no side applies, and is allowed where none was said. Raises ReviewError as
        amend_field does.
        """
        old = self._decision(field)
        if old.state == "rejected":
            raise ReviewError("The field was rejected; undo that first.")
        changed = self.amended(field, changes, accept_implausible=accept_implausible)
        if "side" not in changes:
            self._refuse_open_side([field])
        before, after = old.field.model_dump(mode="json"), changed.model_dump(mode="json")
        keys = [key for key in after if before[key] != after[key]]
        self._write(
            Step(
                AMENDED,
                field,
                {"decision": old.state, "changes": {key: before[key] for key in keys}},
                {
                    "decision": AMENDED,
                    "changes": {key: after[key] for key in keys},
                    "sentence": self.word(changed),
                },
            ),
            who=who,
            time=time,
        )

    def amended(self, field: str, changes: Mapping[str, Any], *, accept_implausible: bool = False) -> RecordField:
        """Return what a field would be with the changes, deciding nothing. Raises as amend does."""
        old = self._decision(field).field
        return amend_field(old, changes, self.lexicon, accept_implausible=accept_implausible)

    def reject(self, field: str, reason: str, who: str, time: Moment) -> None:
        """Take a field out of the record, saying why. Raises ReviewError without a reason."""
        old = self._decision(field)
        if old.state == "rejected":
            raise ReviewError("The field was rejected already.")
        if not reason.strip():
            raise ReviewError("A rejection needs a reason, one word will do.")
        self._write(
            Step(REJECTED, field, {"decision": old.state}, {"decision": REJECTED, "reason": reason.strip()}),
            who=who,
            time=time,
        )

    def add(
        self,
        concept: str,
        values: Mapping[str, Any],
        who: str,
        time: Moment,
        *,
        unplaced: int | None = None,
        accept_implausible: bool = False,
    ) -> str:
        """Add a field by hand and return its id; it is marked as added and has no evidence.

        unplaced: the stretch of unplaced speech it comes from, cleared by this. Raises ReviewError as
        amend_field does.
        """
        field = self.new_field(concept, values, accept_implausible=accept_implausible)
        if unplaced is not None and unplaced not in self.state.uncleared:
            raise ReviewError("That stretch of speech is not waiting to be cleared.")
        after = {"field": field.model_dump(mode="json"), "sentence": self.word(field), "unplaced": unplaced}
        self._write(Step(ADDED, field.id, None, after), who=who, time=time)
        return field.id

    def new_field(self, concept: str, values: Mapping[str, Any], *, accept_implausible: bool = False) -> RecordField:
        """Return the field that ``add`` would add, deciding nothing. Raises ReviewError where it does not
        fit.
        """
        taken = {e.field for e in self.journal.entries if e.what == ADDED} | set(self.state.fields)
        name = next(name for name in (f"added-{n}" for n in range(1, len(taken) + 2)) if name not in taken)
        return new_field(name, concept, values, self.lexicon, accept_implausible=accept_implausible)

    def clear(self, index: int, who: str, time: Moment) -> None:
        """Say that a stretch of unplaced speech needs no field. Raises ReviewError where it does not wait."""
        if index not in self.state.uncleared:
            raise ReviewError("That stretch of speech is not waiting to be cleared.")
        self._write(
            Step(CLEARED, unplaced_target(index), {"decision": "pending"}, {"decision": CLEARED}),
            who=who,
            time=time,
        )

    def undo(self, who: str, time: Moment) -> tuple[str, ...]:
        """Take back the last decision (all of it where it was a group) and return the ids concerned.

        The decision stays in the journal; the undo is a new entry. Raises ReviewError where there is none.
        """
        if not self.state.last:
            raise ReviewError("There is no decision to undo.")
        steps, ids = [], []
        for entry in reversed(self.state.last):
            steps.append(Step(UNDONE, entry.field, {"entry": entry.number, "what": entry.what}, {"decision": "undone"}))
            ids.append(entry.field or "")
        self._write(*steps, who=who, time=time)
        return tuple(ids)

    def refresh(self) -> tuple[Entry, ...]:
        """Take up what others have decided on this draft since, and return their entries."""
        added = self.journal.refresh()
        self.state = self._folding.up_to(self.journal.entries)
        return added

    def contradictions(self, field: RecordField) -> list[RecordField]:
        """Return the fields not rejected that contradict this one."""
        standing = [d.field for d in self.state.fields.values() if d.state != "rejected"]
        return find_contradictions(field, standing)

    def complete(self) -> CompleteRecord:
        """Return the complete record. Raises ReviewError, saying how much, while anything is pending."""
        fields, speech = len(self.state.pending), len(self.state.uncleared)
        if fields or speech:
            raise ReviewError(
                f"{counted(fields, 'field')} and {counted(speech, 'stretch', 'stretches')} of unplaced speech "
                "are not decided yet; go on with the review first."
            )
        if unanswered := len(self.cautions()):
            raise ReviewError(f"{counted(unanswered, 'caution')} not answered yet; go on with the review first.")
        decisions = tuple(_copied(decision) for decision in self.state.fields.values())
        signature, draft = self.state.signature, self.draft.model_copy(deep=True)
        details = signature.details if signature else self.details
        return CompleteRecord(self.journal.reference, draft, self.draft_sha256, decisions, SEAL, details)

    @property
    def details(self) -> Details:
        """What is stated of the encounter now."""
        return self.journal.encounter.facts.details

    def sign(
        self,
        signer: str,
        role: str,
        time: Moment,
        *,
        ending: str,
        examined: str | None = None,
        dictated: str | None = None,
        demonstration: bool = False,
    ) -> SignedRecord:
        """Sign: freeze the record under a checksum, in the signer's name. Nothing can be decided afterwards.

        ending: the last characters of the encounter's reference, as the signer typed them: the check that this is the
        patient meant. examined, dictated: when, as the signer states it; examined is the encounter's where the signer states
        none. What the encounter states is frozen with the record. demonstration: every note of the record will say
        it is none. Raises ReviewError while anything is pending, without a name or role, or for another ending.
        """
        complete = self.complete()
        self.check_ending(ending)
        if self.journal.signed_elsewhere:
            raise ReviewError("Another draft of this recording is signed already; add to that one with an addendum.")
        if not signer.strip() or not role.strip():
            raise ReviewError("A signature needs the signer's name and role.")
        after = {
            "signer": signer.strip(),
            "role": role.strip(),
            "reference": self.journal.reference,
            "examined": examined or self.details.examined,
            "dictated": dictated,
            "checksum": record_checksum(complete, __version__),
            "program_version": __version__,
            "demonstration": demonstration,
            "details": stated_details(self.details),
        }
        self._write(Step(SIGNED, None, None, after), who=signer.strip(), time=time)
        return self.signed()

    def signed(self) -> SignedRecord:
        """Return the signed record of a review that was signed. Raises ReviewError where it was not."""
        complete = self.complete()
        if self.state.signature is None:
            raise ReviewError("The review is complete but not signed; sign it first.")
        record = SignedRecord(complete, self.state.signature, self.state.addenda, SEAL)
        record.verify()
        return record

    def add_addendum(
        self, text: str, signer: str, role: str, time: Moment, *, ending: str, errors: Sequence[str] = ()
    ) -> SignedRecord:
        """Add to a signed record, in the signer's name, and return it with that; what was signed stays as it is.

        ending: as for sign. errors: ids of statements that were entered in error; every later note marks them. Raises
        ReviewError where the record is not signed, or name, role, text, ending or errors are not right.
        """
        signed = self.signed()
        self.check_ending(ending)
        if not text.strip() or not signer.strip() or not role.strip():
            raise ReviewError("An addendum needs a text, and its signer's name and role.")
        if not set(errors) <= {decision.field.id for decision in signed.complete.kept}:
            raise ReviewError("Only a statement of the note can be in error; dictation note --name-fields names them.")
        after: dict[str, Any] = {"text": text.strip(), "signer": signer.strip(), "role": role.strip()}
        after |= {"to": signed.signature.checksum} | ({"errors": list(dict.fromkeys(errors))} if errors else {})
        self.journal.append([Step(ADDENDUM, after=after)], signer.strip(), time)
        self.state = self._folding.up_to(self.journal.entries)
        return self.signed()

    def check_ending(self, ending: str) -> None:
        """Raise ReviewError where the encounter's reference does not end so: the check that this is the patient meant."""
        if ending.strip().casefold() != reference_ending(self.journal.reference):
            raise ReviewError("That is not how this encounter's reference ends; make sure that it is the right patient's.")

    def _refuse_open_side(self, fields: Sequence[str]) -> None:
        if any(not set(fields).isdisjoint(self.draft.runs[run].fields) for run in self.open_runs()):
            raise ReviewError("Decide the side of the stretch that this belongs to first.")

    def _confirm(self, fields: list[str], who: str, time: Moment, group: dict[str, Any]) -> None:
        steps = []
        self._refuse_open_side(fields)
        for name in fields:
            field = self._pending(name).field
            if side_open(field):
                raise ReviewError("No side was said for this field; amend its side, or say that none applies.")
            if not answered(field):
                raise ReviewError("No answer was understood for this field; amend it, or reject it.")
            after = {"decision": CONFIRMED, "sentence": self.word(field)} | group
            steps.append(Step(CONFIRMED, name, {"decision": "pending"}, after))
        self._write(*steps, who=who, time=time)

    def _decision(self, field: str) -> Decision:
        if field not in self.state.fields:
            raise ReviewError("There is no such field in this review.")
        return self.state.fields[field]

    def _pending(self, field: str) -> Decision:
        decision = self._decision(field)
        if decision.state != "pending":
            raise ReviewError("The field is decided already; undo that, or amend it.")
        return decision

    def _write(self, *steps: Step, who: str, time: Moment) -> tuple[Entry, ...]:
        if self.state.signature is not None:
            raise ReviewError("The record is signed; it can be changed no more.")
        if not who.strip():
            raise ReviewError("A decision needs the name of the person who makes it.")
        entries = self.journal.append(steps, who.strip(), time)
        self.state = self._folding.up_to(self.journal.entries)
        return entries


def _copied(decision: Decision) -> Decision:
    first = decision.first.model_copy(deep=True) if decision.first else None
    return replace(decision, field=decision.field.model_copy(deep=True), first=first)
