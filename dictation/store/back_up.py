"""A copy of the whole store, safe while it is in use, and believed only once it was opened and verified.

Imports the rest of the room, writing and errors.
"""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
from dataclasses import dataclass
from pathlib import Path

from dictation.errors import OutputError, StoreError
from dictation.store.engine import claim_file, translated
from dictation.store.sound_folder import SOUND_FOLDER
from dictation.store.store import FILE, Encounter, Store, open_store
from dictation.writing import output_error


@dataclass(frozen=True, slots=True)
class BackedUp:
    """What went into a back-up."""

    encounters: int
    recordings: int


def back_up(store: Store, target: Path) -> BackedUp:
    """Copy the store into a new folder and verify the copy: every chain and every draft.

    Raises OutputError where the folder is there already or cannot be written, StoreError for a store on a database server,
    which has its own means for this, RecordError where the copy does not verify. A copy that failed is removed.
    """
    if store.engine.dialect.name != "sqlite":
        raise StoreError(f"{store.name} is on a database server; use that server's own back-up.")
    if target.exists():
        raise OutputError(f"{target} exists already; choose another name, or move it away.")
    try:
        claim_file(target / FILE)
        _copy_database(store, target)
        recordings = _copy_sound(store.folder / SOUND_FOLDER, target / SOUND_FOLDER)
        return BackedUp(_verify(target), recordings)
    except BaseException:
        with contextlib.suppress(OSError):
            shutil.rmtree(target)
        raise


def _copy_database(store: Store, target: Path) -> None:
    with (
        translated(str(target)),
        contextlib.closing(sqlite3.connect(store.folder / FILE, timeout=5)) as source,
        contextlib.closing(sqlite3.connect(target / FILE)) as copy,
    ):
        source.backup(copy)


def _copy_sound(source: Path, target: Path) -> int:
    if not source.is_dir():
        return 0
    try:
        target.mkdir(mode=0o700)
        copied = 0
        for path in sorted(source.iterdir()):
            if not path.name.endswith(".part"):
                with contextlib.suppress(FileNotFoundError):  # deleted meanwhile, as it may be
                    shutil.copy2(path, target / path.name)
                    copied += 1
        return copied
    except OSError as err:
        raise output_error(target, err) from err


def _verify(target: Path) -> int:
    copy = open_store(target)
    try:
        copy.journal()
        found = copy.encounters()
        for summary in found:
            encounter = Encounter(copy, summary.id)
            for sha256 in encounter.facts.drafts:
                encounter.draft_content(sha256)
        return len(found)
    finally:
        copy.close()
