"""An encounter erased on request: everything of it goes, and a tombstone of hashes alone stays in the store's own journal.

The tombstone proves that there was something, when it went and by whom, and says nothing of what it was. Back-ups and files
handed over before are not reached. Imports the rest of the room and errors.
"""

from __future__ import annotations

from sqlalchemy import delete

from dictation.errors import InputError
from dictation.store import schema
from dictation.store.engine import forget_deleted, writing
from dictation.store.journal import Moment, Step
from dictation.store.sound_folder import sound_path
from dictation.store.store import Encounter, add_to_whole

ERASED = "encounter erased"
REASONS = ("asked for", "wrong patient", "a trial")
"""Why: of a closed list, since free text could say again what was erased."""


def erase_encounter(encounter: Encounter, why: str, who: str, time: Moment) -> None:
    """Erase an encounter: its journal, drafts and sound. Raises InputError for another reason than those of REASONS.

    The sound goes first, so that none outlives the entries that name it.
    """
    if why not in REASONS:
        raise InputError(f"The reason is one of: {', '.join(REASONS)}.")
    store, facts = encounter.store, encounter.facts
    tombstone = {
        "encounter": encounter.id, "head": encounter.head, "entries": len(encounter.entries), "why": why,
        "drafts": sorted(facts.drafts), "recordings": sorted(facts.recordings),
    }  # fmt: skip
    for sha256 in facts.recordings:
        sound_path(store, sha256).unlink(missing_ok=True)
    with writing(store.engine, store.name) as connection:
        for table, key in (
            (schema.draft, schema.draft.c.encounter),
            (schema.sound, schema.sound.c.encounter),
            (schema.encounter, schema.encounter.c.id),
            (schema.entry, schema.entry.c.chain),
            (schema.chain, schema.chain.c.id),
        ):
            connection.execute(delete(table).where(key == encounter.id))
        add_to_whole(connection, Step(ERASED, after=tombstone), who, time)
    forget_deleted(store.engine, store.name)
