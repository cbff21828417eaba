"""The sound of an encounter's recordings: kept in the store's folder or left where it is, and deleted.

That sound was kept, named or deleted stands in the journal; where it lies on this machine does not, so that a journal handed
over can never lead to another machine's files. Deleting removes the file; it does not overwrite what a disk may keep.
Imports the rest of the room, errors and writing.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import IO, Any, Literal

from sqlalchemy import Connection, delete, insert, select

from dictation.errors import InputError, OutputError
from dictation.store import schema
from dictation.store.engine import reading, writing
from dictation.store.facts import DETAILED, SOUND_DELETED, SOUND_KEPT, SOUND_NAMED, Recording, read_details
from dictation.store.journal import Moment, Step
from dictation.store.store import Encounter, Store, add_to_whole, refuse_elsewhere
from dictation.writing import output_error, remove_folder, sync_folder

FOLDER = "sound"
SWEPT = "stray sound deleted"
NO_CONSENT = frozenset({"refused", "withdrawn"})
LIVE = "live"
"""Folder of dictations still going on; what is in it is no recording of the store yet."""

State = Literal["there", "deleted", "missing", "changed"]


@dataclass(frozen=True, slots=True)
class Sound:
    """One recording's sound as it is now. path: where it lies, None where it was deleted or is not to be found."""

    recording: Recording
    state: State
    path: Path | None


def add_sound(encounter: Encounter, file: Path, *, keep: bool, who: str, time: Moment) -> str:
    """Add a recording to an encounter and return its checksum. keep: copy it into the store, else leave it where it is.

    Raises InputError where it cannot be read, belongs to another encounter, or consent to recording was not given;
    OutputError where it cannot be copied.
    """
    if encounter.facts.details.consent in NO_CONSENT:
        raise InputError("Consent to recording was not given for this encounter; no sound of it is kept.")
    sha256 = file_checksum(file)
    known = encounter.facts.recordings.get(sha256)
    if known is not None and known.deleted is None:
        return sha256
    step = Step(SOUND_KEPT if keep else SOUND_NAMED, after={"sha256": sha256, "name": file.name})
    path = None if keep else str(file.resolve())
    with encounter.adding([step], who, time) as connection:
        refuse_elsewhere(connection, sha256, encounter.id)
        if keep:
            with file.open("rb") as source:
                copy_in(encounter.store, encounter.id, sha256, source)
        connection.execute(insert(schema.sound).values(encounter=encounter.id, sha256=sha256, path=path, kept_at=time.at))
    return sha256


def find_sound(encounter: Encounter, sha256: str) -> Sound:
    """Return what has become of a recording's sound; a file changed since is not taken for it. Raises KeyError for none."""
    recording = encounter.facts.recordings[sha256]
    if recording.deleted is not None:
        return Sound(recording, "deleted", None)
    path = _place(encounter, sha256)
    if path is None or not path.is_file():
        return Sound(recording, "missing", None)
    if file_checksum(path) != sha256:
        return Sound(recording, "changed", None)
    return Sound(recording, "there", path)


def delete_sound(encounter: Encounter, why: str, who: str, time: Moment, also: Step | None = None) -> int:
    """Delete the sound of every recording of an encounter that is there yet, journal it, and return how many there were.

    also: a step written with it. Raises OutputError where a file cannot be deleted; nothing more is done then.
    """
    left = {
        sha256: find_sound(encounter, sha256)
        for sha256, recording in encounter.facts.recordings.items()
        if recording.deleted is None
    }
    steps = [also] if also is not None else []
    steps += [Step(SOUND_DELETED, after={"sha256": sha256, "why": why, "was": was.state}) for sha256, was in left.items()]
    if not steps:
        return 0
    with encounter.adding(steps, who, time) as connection:
        for sound in left.values():
            if sound.path is not None:
                remove_file(sound.path)
        for stray in _files(encounter.store.folder / FOLDER / encounter.id):
            remove_file(stray)
        connection.execute(delete(schema.sound).where(schema.sound.c.encounter == encounter.id))
    return len(left)


def withdraw_consent(encounter: Encounter, who: str, time: Moment) -> int:
    """Journal that consent to recording is withdrawn, delete the sound, and return how many recordings that was.

    The sound of a dictation still going on is deleted too.
    """
    return state_details(encounter, {"consent": "withdrawn"}, who, time)


def state_details(encounter: Encounter, stated: Mapping[str, Any], who: str, time: Moment) -> int:
    """Journal what is stated of an encounter now, and return how many recordings lost their sound by it.

    Without consent to recording no sound is kept. Raises InputError for a detail that does not fit, OutputError where sound
    cannot be deleted; nothing is stated then.
    """
    read_details(stated)
    before = {key: getattr(encounter.facts.details, key) for key in stated}
    step = Step(DETAILED, before=before, after=dict(stated))
    if stated.get("consent") in NO_CONSENT:
        remove_live(encounter)
        return delete_sound(encounter, f"consent {stated['consent']}", who, time, also=step)
    encounter.append([step], who, time)
    return 0


def remove_live(encounter: Encounter) -> None:
    """Remove what a dictation still going on has kept so far. Raises OutputError."""
    remove_folder(encounter.store.folder / LIVE / encounter.id)


def delete_old_sound(store: Store, days: int, who: str, time: Moment) -> int:
    """Delete the sound added more than so many days ago, and return how many encounters that concerned."""
    limit = (datetime.fromisoformat(time.at) - timedelta(days=days)).strftime("%Y-%m-%dT%H:%M:%SZ")
    with reading(store.engine, store.name) as connection:
        rows = connection.execute(select(schema.sound.c.encounter).where(schema.sound.c.kept_at < limit).distinct()).all()
    for row in rows:
        delete_sound(Encounter(store, row.encounter), f"kept for {days} days", who, time)
    return len(rows)


def stray_sound(store: Store) -> list[Path]:
    """Return the files in the store's sound folder that are no recording's: left where a copy was cut off by a crash."""
    with reading(store.engine, store.name) as connection:
        return _strays(store, connection)


def sweep_sound(store: Store, who: str, time: Moment) -> int:
    """Delete what ``stray_sound`` gives, say so in the store's own journal, and return how many files that was.

    Raises OutputError where one cannot be deleted.
    """
    with writing(store.engine, store.name) as connection:  # nobody copies a recording in meanwhile
        found = _strays(store, connection)
        for path in found:
            remove_file(path)
        if found:
            add_to_whole(connection, Step(SWEPT, after={"files": len(found)}), who, time)
    return len(found)


def _strays(store: Store, connection: Connection) -> list[Path]:
    table = schema.sound
    rows = connection.execute(select(table.c.encounter, table.c.sha256).where(table.c.path.is_(None))).all()
    named = {sound_path(store, row.encounter, row.sha256) for row in rows}
    folder = store.folder / FOLDER
    return [path for one in (sorted(folder.iterdir()) if folder.is_dir() else []) for path in _files(one) if path not in named]


def _files(folder: Path) -> list[Path]:
    return sorted(path for path in folder.iterdir() if path.is_file()) if folder.is_dir() else []


def sound_path(store: Store, encounter: str, sha256: str) -> Path:
    """Return where the store keeps its copy of a recording."""
    return store.folder / FOLDER / encounter / sha256


def copy_in(store: Store, encounter: str, sha256: str, source: IO[bytes]) -> None:
    """Copy a recording into the store, whole or not at all. Raises OutputError."""
    target = sound_path(store, encounter, sha256)
    part = target.with_suffix(".part")
    try:
        target.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        target.parent.parent.chmod(0o700)
        descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(descriptor, "wb") as out:
            shutil.copyfileobj(source, out)
            out.flush()
            os.fsync(out.fileno())
        if file_checksum(part) != sha256:
            raise OutputError("The recording changed while it was copied; try again once nothing writes to it.")
        part.replace(target)
        sync_folder(target.parent)
    except OSError as err:
        raise output_error(target.parent, err) from err
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def remove_file(path: Path) -> None:
    """Remove a file; one that is gone already is no fault. Raises OutputError."""
    try:
        path.unlink(missing_ok=True)
        sync_folder(path.parent)
    except OSError as err:
        raise output_error(path, err) from err


def file_checksum(file: Path) -> str:
    """Return the SHA-256 of a file. Raises InputError where it cannot be read."""
    try:
        with file.open("rb") as opened:
            return hashlib.file_digest(opened, "sha256").hexdigest()
    except OSError as err:
        raise InputError(f"Cannot read {file.name} ({type(err).__name__}); check the path and its permissions.") from err


def _place(encounter: Encounter, sha256: str) -> Path | None:
    table = schema.sound
    with reading(encounter.store.engine, encounter.store.name) as connection:
        row = connection.execute(
            select(table.c.path).where(table.c.encounter == encounter.id, table.c.sha256 == sha256)
        ).one_or_none()
    if row is None:
        return None
    return Path(row.path) if row.path is not None else sound_path(encounter.store, encounter.id, sha256)
