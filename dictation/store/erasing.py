"""Erasing an encounter on request: drafts, journal and kept sound go; a tombstone with hashes alone stays.

The tombstone is an entry of the store's own journal: who erased, when, and the hash that the erased journal ended with, so
that a note printed before can still be matched to it. What is deleted is overwritten in the store's file; back-ups made
before, and files handed over, are the clinic's to erase. Imports the rest of the room.
"""

from __future__ import annotations

import contextlib

from sqlalchemy import delete

from dictation.errors import OvertakenError
from dictation.store import schema
from dictation.store.engine import translated, writing
from dictation.store.journal import Moment, Step
from dictation.store.sound import FOLDER, delete_sound, remove_live
from dictation.store.store import ERASED, Encounter, Store, add_to_whole

TABLES = (schema.sound, schema.draft, schema.entry, schema.encounter, schema.chain)
"""In the order that references between them allow."""


def erase_encounter(encounter: Encounter, who: str, time: Moment) -> None:
    """Erase an encounter with all that belongs to it. Raises OutputError, StoreError or OvertakenError; it stays then."""
    store = encounter.store
    remove_live(encounter)
    delete_sound(encounter, "encounter erased", who, time)
    tomb = {"encounter": encounter.id, "head": encounter.head, "entries": len(encounter.entries)}
    with writing(store.engine, store.name) as connection:
        for table in TABLES:
            key = {"chain": "id", "encounter": "id", "entry": "chain"}.get(table.name, "encounter")
            gone = delete(table).where(table.c[key] == encounter.id)
            if table is schema.chain:
                gone = gone.where(table.c.head == encounter.head)
            if connection.execute(gone).rowcount == 0 and table is schema.chain:
                raise OvertakenError("Nothing was erased, because somebody else has added to this encounter; look at it first.")
        add_to_whole(connection, Step(ERASED, after=tomb), who, time)
    with contextlib.suppress(OSError):
        (store.folder / FOLDER / encounter.id).rmdir()
    empty_log(store)


def empty_log(store: Store) -> None:
    """Bring the write-ahead log into the store's file and empty it, so that no old page of it is left."""
    if store.engine.dialect.name == "sqlite":
        with translated(store.name), contextlib.closing(store.engine.raw_connection()) as connection:
            connection.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")
