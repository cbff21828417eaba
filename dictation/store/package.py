"""One encounter as one file, to hand over: a zip of JSON, sound, journal and checksums.

    manifest.json        format, version, encounter, reference, head and length of the journal, SHA-256 of every other file
    journal.jsonl        one entry a line: {"content": the text that is hashed, "hash": its SHA-256}
    drafts/SHA256.json   each draft, byte for byte
    sound/SHA256         each recording whose sound is there, byte for byte
    notes/N.txt          the signed notes, for a reader without this program; nothing is read from them

Reading trusts nothing: names are of that list alone, sizes are bounded while unpacking and not by what the file says of
itself, every checksum and the whole chain are verified, and nothing is written before all of it is. Imports the rest of the
room.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import secrets
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from sqlalchemy import Connection, delete, insert, select

from dictation.errors import InputError, OutputError, RecordError
from dictation.store import schema
from dictation.store.engine import reading, writing
from dictation.store.facts import TAKEN, Facts, fold_facts
from dictation.store.journal import Entry, Line, Moment, canonical, read_lines
from dictation.store.sound import copy_in, find_sound, remove_file, sound_path
from dictation.store.store import (
    ERASED,
    IMPORTED,
    Encounter,
    Store,
    add_encounter,
    add_lines,
    count_up,
    read_chain,
    refuse_elsewhere,
    refuse_taken,
)
from dictation.writing import output_error, sync_folder

FORMAT = "hand-examination-dictation/encounter"
VERSION = 1
MOST_FILES = 1_000
MOST_INDEX = 200_000
"""Bytes of the archive's own index."""
MOST_TEXT = 300_000_000
"""Bytes of all JSON together, unpacked. An encounter of 2,000 fields makes a few million."""
MOST_SOUND = 4_000_000_000
"""Bytes of all sound together, unpacked."""
_NAME = re.compile(r"manifest\.json|journal\.jsonl|drafts/[0-9a-f]{64}\.json|sound/[0-9a-f]{64}|notes/[0-9]{1,3}\.txt")
_CHUNK = 1 << 20

Check = Callable[[Facts, tuple[Entry, ...], Mapping[str, bytes]], None]
"""What else is asked of an encounter before it is taken in: its facts, entries, and drafts by checksum."""


@dataclass(frozen=True, slots=True)
class Package:
    """A file handed over, verified. drafts: content by checksum; sound: checksums of the sound in it."""

    path: Path
    lines: list[Line]
    entries: tuple[Entry, ...]
    facts: Facts
    drafts: dict[str, bytes]
    sound: list[str]


def write_package(encounter: Encounter, target: Path, notes: list[str], program_version: str) -> None:
    """Write an encounter to a new file, whole or not at all. notes: the signed notes, as text. Raises OutputError."""
    if target.exists():
        raise OutputError(f"{target} exists already; choose another name, or move it away.")
    with reading(encounter.store.engine, encounter.store.name) as connection:
        lines = read_chain(connection, encounter.id)[: len(encounter.entries)]
    texts = {"journal.jsonl": "".join(canonical({"content": one.content, "hash": one.hash}) + "\n" for one in lines).encode()}
    texts |= {f"drafts/{sha256}.json": encounter.draft_content(sha256) for sha256 in encounter.facts.drafts}
    texts |= {f"notes/{number}.txt": note.encode() for number, note in enumerate(notes, 1)}
    sounds = {sha256: find_sound(encounter, sha256).path for sha256 in encounter.facts.recordings}
    manifest = {
        "format": FORMAT, "version": VERSION, "program_version": program_version, "encounter": encounter.id,
        "reference": encounter.reference, "head": encounter.head, "entries": len(lines),
        "files": {name: hashlib.sha256(content).hexdigest() for name, content in texts.items()}
        | {f"sound/{sha256}": sha256 for sha256, path in sounds.items() if path is not None},
    }  # fmt: skip
    part = target.with_name(f".{target.name[:60]}.{secrets.token_hex(6)}.part")
    try:
        descriptor = os.open(part, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "w+b") as out:
            with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
                archive.writestr("manifest.json", json.dumps(manifest, indent=1, sort_keys=True))
                for name, content in texts.items():
                    archive.writestr(name, content)
                for sha256, path in sounds.items():
                    if path is not None:
                        archive.write(path, f"sound/{sha256}", zipfile.ZIP_STORED)
            out.flush()
            os.fsync(out.fileno())
        part.replace(target)
        sync_folder(target.parent)
    except OSError as err:
        raise output_error(target, err) from err
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def read_package(path: Path) -> Package:
    """Return what a file handed over holds, all of it verified. Raises InputError for a file that is none, or is too large
    to be one; RecordError where something in it was changed. Neither quotes what is in it.
    """
    with _opened(path) as archive:
        names = _names(archive, path)
        texts, left = {}, MOST_TEXT
        for name in names:
            if not name.startswith("sound/"):
                texts[name] = _read(archive, name, left, path)
                left -= len(texts[name])
        found = _sound_checksums(archive, [name for name in names if name.startswith("sound/")], path)
    try:
        manifest = json.loads(texts["manifest.json"])
        if (manifest["format"], manifest["version"]) != (FORMAT, VERSION):
            raise InputError(f"{path.name} was written by another version of the program; update this one.")
        files = dict(manifest["files"])
        lines = [Line(**json.loads(line)) for line in texts["journal.jsonl"].splitlines()]
        whole = (manifest["encounter"], manifest["reference"], manifest["head"], manifest["entries"])
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as err:
        raise InputError(f"{path.name} is not an encounter handed over by this program; check the path.") from err
    got = {name: hashlib.sha256(content).hexdigest() for name, content in texts.items() if name != "manifest.json"}
    if got | {f"sound/{sha256}": sha256 for sha256 in found} != files:
        raise RecordError(f"{path.name} is not what was handed over: a checksum differs; have it sent again.")
    entries = read_lines(lines, path.name)
    facts = fold_facts(entries, path.name)
    if whole != (facts.id, facts.reference, entries[-1].hash, len(entries)):
        raise RecordError(f"{path.name} is not what was handed over: its journal ends otherwise; have it sent again.")
    drafts = {name[7:71]: content for name, content in texts.items() if name.startswith("drafts/")}
    wrong = any(hashlib.sha256(content).hexdigest() != sha256 for sha256, content in drafts.items())
    if wrong or set(drafts) != set(facts.drafts) or not set(found) <= set(facts.recordings):
        raise RecordError(f"{path.name} is not what was handed over: a draft or recording does not belong; have it sent again.")
    return Package(path, lines, entries, facts, drafts, found)


def take_in_package(store: Store, package: Package, check: Check, who: str, time: Moment) -> Encounter:
    """Take an encounter that was handed over into the store, and return it.

    Where the store has the encounter already, the entries that it lacks are added. Raises InputError where its journal here
    went another way, its reference is another encounter's, or it was erased here; nothing is taken in then.
    """
    facts = package.facts
    check(facts, package.entries, package.drafts)
    erased = {entry.after["encounter"] for entry in store.journal() if entry.what == ERASED}
    if facts.id in erased:
        raise InputError("This encounter was erased here on request, and is not taken in again.")
    with writing(store.engine, store.name) as connection:
        here = read_chain(connection, facts.id)
        both = min(len(here), len(package.lines))
        if here[:both] != package.lines[:both]:
            raise InputError("This encounter is here already and was decided on otherwise; the two cannot be made one.")
        if len(here) >= len(package.lines):
            return Encounter(store, facts.id)  # the file is no newer than what is here
        steps = package.entries[len(here) :]
        if not here:
            refuse_taken(connection, facts.reference)
            add_encounter(connection, facts.id, facts.reference, package.lines[:1], who, time, what=IMPORTED)
            here = package.lines[:1]
        if package.lines[len(here) :]:
            add_lines(connection, facts.id, package.lines[len(here) :], len(here))
        count_up(connection, facts.id, steps, time)
        taken = {entry.after["draft"] for entry in steps if entry.what == TAKEN}
        for sha256 in taken:
            connection.execute(insert(schema.draft).values(encounter=facts.id, sha256=sha256, content=package.drafts[sha256]))
        _take_sound(connection, store, package, time)
    return Encounter(store, facts.id)


def _take_sound(connection: Connection, store: Store, package: Package, time: Moment) -> None:
    """Copy the sound that came with an encounter; remove the store's copy of what was deleted where it comes from."""
    table, id_ = schema.sound, package.facts.id
    here = set(connection.execute(select(table.c.sha256).where(table.c.encounter == id_)).scalars())
    for sha256, recording in package.facts.recordings.items():
        if recording.deleted is not None:
            remove_file(sound_path(store, id_, sha256))
            connection.execute(delete(table).where(table.c.encounter == id_, table.c.sha256 == sha256))
    wanted = [one for one in package.sound if one not in here and package.facts.recordings[one].deleted is None]
    if not wanted:
        return
    with _opened(package.path) as archive:
        for sha256 in wanted:
            refuse_elsewhere(connection, sha256, id_)
            with archive.open(f"sound/{sha256}") as source:
                copy_in(store, id_, sha256, source)
            connection.execute(insert(table).values(encounter=id_, sha256=sha256, path=None, kept_at=time.at))


@contextlib.contextmanager
def _opened(path: Path) -> Iterator[zipfile.ZipFile]:
    """Give a zip file whose index is small; whatever zip faults come of it are one sentence."""
    try:
        with path.open("rb") as file:
            _refuse_large_index(file, path)
            with zipfile.ZipFile(file) as archive:
                yield archive
    except (OSError, zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, struct.error) as err:
        if isinstance(err, OSError) and not path.is_file():
            raise InputError(f"There is no file {path.name}; check the path.") from err
        raise InputError(f"{path.name} is not a whole zip file; check the path, or have it sent again.") from err


def _refuse_large_index(file: IO[bytes], path: Path) -> None:
    """The index is read into memory whole, so its size is looked at first (APPNOTE.TXT 4.3.16, end of central directory)."""
    size = file.seek(0, os.SEEK_END)
    file.seek(max(0, size - 65_557))
    tail = file.read()
    place = tail.rfind(b"PK\x05\x06")
    if place < 0 or len(tail) < place + 22:
        raise zipfile.BadZipFile
    count, index = struct.unpack("<HI", tail[place + 10 : place + 16])
    if count > MOST_FILES or index > MOST_INDEX:
        raise InputError(f"{path.name} has too many files in it to be one encounter; it was not read.")
    file.seek(0)


def _names(archive: zipfile.ZipFile, path: Path) -> list[str]:
    names = archive.namelist()
    if len(names) > MOST_FILES or len(set(names)) != len(names) or not all(_NAME.fullmatch(name) for name in names):
        raise InputError(f"{path.name} holds files that no encounter has; it was not read.")
    if not {"manifest.json", "journal.jsonl"} <= set(names):
        raise InputError(f"{path.name} is not an encounter handed over by this program; check the path.")
    return names


def _read(archive: zipfile.ZipFile, name: str, most: int, path: Path) -> bytes:
    """Unpack one file, but no more of it than most: what a zip says of its own sizes is not believed."""
    with archive.open(name) as file:
        content = file.read(most + 1)
    if len(content) > most:
        raise InputError(f"{path.name} unpacks to more than one encounter can hold; it was not read.")
    return content


def _sound_checksums(archive: zipfile.ZipFile, names: list[str], path: Path) -> list[str]:
    """The checksums of the sound in an archive, each compared with its name."""
    found, left = [], MOST_SOUND
    for name in names:
        digest = hashlib.sha256()
        with archive.open(name) as file:
            while chunk := file.read(_CHUNK):
                left -= len(chunk)
                if left < 0:
                    raise InputError(f"{path.name} unpacks to more than one encounter can hold; it was not read.")
                digest.update(chunk)
        if digest.hexdigest() != name.removeprefix("sound/"):
            raise RecordError(f"{path.name} is not what was handed over: a recording was changed; have it sent again.")
        found.append(digest.hexdigest())
    return found
