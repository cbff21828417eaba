"""Whether the store is what was written to it: every chain from its first entry to its head, every draft, every summary.

Shows accidental and partial change. A store rewritten as a whole shows against the head's hash in a printed note or an
export. Imports the rest of the room.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from sqlalchemy import select

from dictation.errors import DictationError, InputError, StoreError
from dictation.store import schema
from dictation.store.engine import reading
from dictation.store.facts import OPENED, TAKEN
from dictation.store.journal import Entry, dated_back
from dictation.store.sound import find_sound, stray_sound
from dictation.store.store import ERASED, IMPORTED, SIGNED, Encounter, Store

Check = Callable[[Encounter], None]
"""What the rest of the program expects of an encounter; raises a DictationError where it does not fit."""


@dataclass(frozen=True, slots=True)
class Verified:
    """What was found. heads: hash of the last entry by encounter's reference. faults, remarks: a sentence each."""

    heads: dict[str, str]
    entries: int
    faults: list[str]
    remarks: list[str]


def verify_encounter(encounter: Encounter) -> list[str]:
    """Return the remarks on an encounter whose journal was read whole. Raises StoreError for what is broken."""
    table = schema.encounter
    with reading(encounter.store.engine, encounter.store.name) as connection:
        row = connection.execute(select(table).where(table.c.id == encounter.id)).one()
        held = connection.execute(
            select(schema.draft.c.sha256, schema.draft.c.content).where(schema.draft.c.encounter == encounter.id)
        ).all()
    counted = [sum(entry.what == what for entry in encounter.entries) for what in (TAKEN, SIGNED)]
    if [row.drafts, row.signed] != counted or row.reference != encounter.reference or encounter.facts.id != encounter.id:
        raise StoreError("The list of encounters does not agree with this journal; restore the store from a back-up.")
    if {one.sha256 for one in held} != set(encounter.facts.drafts):
        raise StoreError("A draft in the store is missing, or is in no journal; restore the store from a back-up.")
    if any(hashlib.sha256(one.content).hexdigest() != one.sha256 for one in held):
        raise StoreError("A draft in the store was changed; restore the store from a back-up.")
    return [*_remarks(encounter.entries, f"encounter {encounter.reference}"), *_sound(encounter)]


def _sound(encounter: Encounter) -> Iterator[str]:
    """What the store was to keep of the sound and has not as it was. Sound left elsewhere is its owner's to move."""
    for sha256, recording in encounter.facts.recordings.items():
        if recording.kept and (state := find_sound(encounter, sha256).state) in {"missing", "changed"}:
            yield f"The sound kept of a recording of encounter {encounter.reference} is {state}; look for it in a back-up."


def verify_store(store: Store, check: Check | None = None) -> Verified:
    """Return what is found over the whole store. check: what else is asked of each encounter. Raises StoreError where the
    store's own journal, or the database itself, cannot be read.
    """
    whole = store.journal()
    faults, remarks, heads = [], [*_remarks(whole, "the store's own journal"), *_strays(store)], {}
    there = store.encounters()
    expected = {entry.after["encounter"] for entry in whole if entry.what in {OPENED, IMPORTED}}
    expected -= {entry.after["encounter"] for entry in whole if entry.what == ERASED}
    if lost := len(expected - {one.id for one in there}):
        faults.append(f"{lost} encounter(s) are missing and were not erased; restore the store from a back-up.")
    if strange := len({one.id for one in there} - expected):
        faults.append(f"{strange} encounter(s) are not in the store's own journal; restore the store from a back-up.")
    entries = len(whole)
    for one in there:
        try:
            encounter = Encounter(store, one.id)
            remarks += verify_encounter(encounter)
            if check is not None:
                check(encounter)
        except InputError:
            continue  # erased by somebody else meanwhile
        except DictationError as err:
            faults.append(f"Encounter {one.reference}: {err}")
        else:
            heads[one.reference] = encounter.head
            entries += len(encounter.entries)
    return Verified(heads, entries, faults, remarks)


def _strays(store: Store) -> list[str]:
    if count := len(stray_sound(store)):
        return [f"{count} file(s) of sound belong to no recording, left by a crash; dictation store sweep deletes them."]
    return []


def _remarks(entries: tuple[Entry, ...], name: str) -> list[str]:
    back = dated_back(entries)
    return [f"Entry {number} of {name} is dated before the one before it: the clock was set back." for number in back]
