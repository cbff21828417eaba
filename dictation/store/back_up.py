"""A back-up of the whole store: one folder that is itself a store, made while the store is in use.

The database is copied as it stood at one moment, by SQLite's own online copy; then the sound that it names. To restore, make
the back-up the store: move it there, or point the setting at it. Imports the rest of the room, errors and writing.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from pathlib import Path

from sqlalchemy import select

from dictation.errors import OutputError, StoreError
from dictation.store import schema
from dictation.store.engine import reading, translated
from dictation.store.sound import copy_in, sound_path
from dictation.store.store import FILE, Store, open_store
from dictation.writing import output_error, sync_folder


def back_up(store: Store, folder: Path) -> Store:
    """Copy the store into a new folder and return that as a store. Raises OutputError where it cannot be written, or is there;
    StoreError where the store is not SQLite, which its own tools back up.
    """
    if store.engine.dialect.name != "sqlite":
        raise StoreError(
            f"{store.name} is not in a file of this program, and only such a store is backed up by it; back it up with "
            "PostgreSQL's own pg_dump, and the folder of its sound with it."
        )
    try:
        folder.mkdir(parents=True, mode=0o700)
        part = folder / f".{FILE}.part"
        os.close(os.open(part, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600))
    except FileExistsError as err:
        raise OutputError(f"{folder} exists already; give the back-up a new folder.") from err
    except OSError as err:
        raise output_error(folder, err) from err
    try:
        with translated(f"the back-up in {folder}"), contextlib.closing(sqlite3.connect(part)) as copy:
            with contextlib.closing(store.engine.raw_connection()) as connection:
                connection.driver_connection.backup(copy)  # type: ignore[union-attr]  # the driver is sqlite3
            copy.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        with part.open("rb") as file:
            os.fsync(file.fileno())
        part.replace(folder / FILE)
        sync_folder(folder)
    except OSError as err:
        raise output_error(folder, err) from err
    made = open_store(folder)
    with reading(made.engine, made.name) as connection:
        kept = connection.execute(select(schema.sound).where(schema.sound.c.path.is_(None))).all()
    for row in kept:
        with contextlib.suppress(FileNotFoundError), sound_path(store, row.encounter, row.sha256).open("rb") as source:
            copy_in(made, row.encounter, row.sha256, source)  # one deleted meanwhile is missing from the back-up, and said so
    return made
