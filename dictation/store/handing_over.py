"""One encounter as one file, to hand over or to keep: written whole, and believed only once all of it was verified.

The file is a zip of JSON and sound (DEVELOPERS.md, "The handed-over file"): ``manifest.json`` names every other file with
its SHA-256, ``journal.jsonl`` holds the entries as they were hashed, ``drafts/`` and ``sound/`` what they name. A file from
elsewhere is a stranger: names, sizes, counts, checksums and the chain are checked before anything of it is stored. Imports
the rest of the room, writing and errors.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import secrets
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from sqlalchemy import insert, select

from dictation import __version__
from dictation.errors import HandedOverError, InputError, OutputError
from dictation.store import schema
from dictation.store.engine import reading, writing
from dictation.store.facts import Facts, fold_facts
from dictation.store.journal import Entry, Line, Moment, read_lines
from dictation.store.sound_folder import sound_path
from dictation.store.store import Encounter, Store, add_encounter, count_up, read_chain, refuse_elsewhere, refuse_taken
from dictation.writing import output_error, sync_folder

FORMAT = "hand-examination-encounter"
VERSION = 1
MANIFEST, JOURNAL = "manifest.json", "journal.jsonl"
IMPORTED = "encounter imported"

MOST_FILES = 2_000
LARGEST_TEXT = 64 * 2**20
"""Bytes, unpacked, of the manifest, the journal or a draft."""

LARGEST_SOUND = 4 * 2**30
BLOCK = 2**20
Check = Callable[[bytes, str], object]
"""Told the bytes of a draft and what an error is to call it; raises RecordError where they are none."""

_NAME = re.compile(r"manifest\.json|journal\.jsonl|drafts/[0-9a-f]{64}\.json|sound/[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class _Manifest:
    """What the first file of a handed-over zip says of the others."""

    encounter: str
    head: str
    files: dict[str, str]


def export_encounter(encounter: Encounter, target: Path) -> int:
    """Write an encounter to target and return how many recordings' sound went with it.

    The draft's bytes, the journal's lines and the sound go as they are stored. Raises OutputError where target is there
    already or cannot be written, StoreError or RecordError where the encounter cannot be read whole.
    """
    if target.exists():
        raise OutputError(f"{target} exists already; choose another name, or move it away.")
    store = encounter.store
    with reading(store.engine, store.name) as connection:
        lines = read_chain(connection, encounter.id)
    read_lines(lines, encounter.name)
    journal = "".join(json.dumps({"content": line.content, "hash": line.hash}) + "\n" for line in lines).encode()
    texts = {JOURNAL: journal}
    texts |= {f"drafts/{sha256}.json": encounter.draft_content(sha256) for sha256 in encounter.facts.drafts}
    sounds = {f"sound/{sha256}": path for sha256, path in _sounds(encounter).items()}
    files = {name: hashlib.sha256(content).hexdigest() for name, content in texts.items()}
    files |= {name: name.removeprefix("sound/") for name in sounds}
    manifest = {
        "format": FORMAT, "version": VERSION, "program_version": __version__, "encounter": encounter.id,
        "reference": encounter.reference, "head": lines[-1].hash, "files": files,
    }  # fmt: skip
    with _whole(target) as file, zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr(MANIFEST, json.dumps(manifest, indent=1))
        for name, content in texts.items():
            packed.writestr(name, content)
        for name, path in sounds.items():
            _add_sound(packed, name, path)
    return len(sounds)


def import_encounter(store: Store, source: Path, who: str, time: Moment, check: Check) -> Encounter:
    """Take in an encounter that was handed over, verified, and return it; all of it is stored, or nothing.

    check: looks at each draft. Raises what check does; HandedOverError for a file that is none, is damaged, or holds what
    it should not; InputError where the encounter, its reference or one of its recordings is in the store already.
    """
    with _opened(source) as packed:
        manifest = _read_manifest(packed, source)
        lines = _read_journal(packed, manifest, source)
        entries = read_lines(lines, f"the journal in {source.name}")
        facts = fold_facts(entries, f"the journal in {source.name}")
        if (facts.id, lines[-1].hash) != (manifest.encounter, manifest.head):
            raise _refused(source, "its parts are not of one encounter")
        drafts = _read_drafts(packed, manifest, facts, source, check)
        kept: list[str] = []
        try:
            _unpack_sounds(store, packed, manifest, facts, source, kept)
            _store(store, facts, entries, lines, drafts, kept, who, time)
        except BaseException:
            for sha256 in kept:
                sound_path(store, sha256).unlink(missing_ok=True)
            raise
    return Encounter(store, facts.id)


def _store(
    store: Store,
    facts: Facts,
    entries: tuple[Entry, ...],
    lines: list[Line],
    drafts: dict[str, bytes],
    kept: list[str],
    who: str,
    time: Moment,
) -> None:
    with writing(store.engine, store.name) as connection:
        chain = schema.chain.c.id
        if connection.execute(select(chain).where(chain == facts.id)).first() is not None:
            raise InputError("This encounter is in the store already; erase that one first if the file is to take its place.")
        refuse_taken(connection, facts.reference)
        for taken in facts.drafts.values():
            if taken.spoken:
                refuse_elsewhere(connection, taken.recording, facts.id)
        add_encounter(connection, facts.id, facts.reference, lines, who, time, what=IMPORTED)
        count_up(connection, facts.id, entries, entries[-1].time)
        for sha256, content in drafts.items():
            connection.execute(insert(schema.draft).values(encounter=facts.id, sha256=sha256, content=content))
        for sha256 in kept:
            connection.execute(insert(schema.sound).values(encounter=facts.id, sha256=sha256, path=None, kept_at=time.at))


def _sounds(encounter: Encounter) -> dict[str, Path]:
    """The recordings whose sound is in the store's own folder, by checksum."""
    found = {sha256: sound_path(encounter.store, sha256) for sha256 in encounter.facts.recordings}
    return {sha256: path for sha256, path in found.items() if path.is_file()}


def _add_sound(packed: zipfile.ZipFile, name: str, path: Path) -> None:
    digest = hashlib.sha256()
    with path.open("rb") as sound, packed.open(zipfile.ZipInfo(name), "w", force_zip64=True) as out:
        while block := sound.read(BLOCK):
            digest.update(block)
            out.write(block)
    if digest.hexdigest() != name.removeprefix("sound/"):
        raise OutputError("A recording of this encounter is no longer what was kept; restore it from a back-up.")


@contextlib.contextmanager
def _whole(target: Path) -> Iterator[IO[bytes]]:
    """Give a file that takes the name target once it is complete and on disk; nothing is left of one that is not."""
    temporary = target.with_name(f".{target.name[:60]}.{secrets.token_hex(6)}.part")
    try:
        with open(os.open(temporary, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600), "w+b") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        os.replace(temporary, target)
        sync_folder(target.parent)
    except OSError as err:
        raise output_error(target, err) from err
    finally:
        with contextlib.suppress(OSError):
            temporary.unlink()


@contextlib.contextmanager
def _opened(source: Path) -> Iterator[zipfile.ZipFile]:
    """Give the zip, its names and sizes checked. Raises HandedOverError for one that cannot be read or holds anything else."""
    try:
        with zipfile.ZipFile(source) as packed:
            members = packed.infolist()
            names = [member.filename for member in members]
            if len(members) > MOST_FILES or len(set(names)) != len(names):
                raise _refused(source, "it holds too many files, or two of one name")
            for member in members:
                largest = LARGEST_SOUND if member.filename.startswith("sound/") else LARGEST_TEXT
                if not _NAME.fullmatch(member.filename) or member.flag_bits & 1 or member.file_size > largest:
                    raise _refused(source, "it holds a file that such a file does not have")
            yield packed
    except FileNotFoundError as err:
        raise InputError(f"There is no file {source}; check the path.") from err
    except (zipfile.BadZipFile, EOFError, NotImplementedError, RuntimeError, ValueError) as err:
        raise _refused(source, "it is damaged, or no such file") from err
    except OSError as err:
        raise InputError(f"Cannot read {source} ({type(err).__name__}); check the path and its permissions.") from err


def _read(packed: zipfile.ZipFile, name: str, source: Path) -> bytes:
    """Return one text, never more of it than its limit whatever its header says."""
    try:
        with packed.open(name) as file:
            content = file.read(LARGEST_TEXT + 1)
    except KeyError as err:
        raise _refused(source, "a file that it names is not in it") from err
    if len(content) > LARGEST_TEXT:
        raise _refused(source, "it holds a file too large")
    return content


def _read_manifest(packed: zipfile.ZipFile, source: Path) -> _Manifest:
    try:
        found: dict[str, Any] = json.loads(_read(packed, MANIFEST, source))
        kind, version = found["format"], found["version"]
        manifest = _Manifest(str(found["encounter"]), str(found["head"]), {str(k): str(v) for k, v in found["files"].items()})
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as err:
        raise _refused(source, "its manifest cannot be read") from err
    if kind != FORMAT or not isinstance(version, int):
        raise _refused(source, "it is not an encounter handed over")
    if version > VERSION:
        raise HandedOverError(f"{source.name} is of a newer form than this program reads; update the program.")
    if {*manifest.files, MANIFEST} != set(packed.namelist()):
        raise _refused(source, "its files are not those that its manifest names")
    return manifest


def _read_checked(packed: zipfile.ZipFile, name: str, manifest: _Manifest, source: Path) -> bytes:
    content = _read(packed, name, source)
    if hashlib.sha256(content).hexdigest() != manifest.files.get(name):
        raise _refused(source, "a file in it is not what its checksum says")
    return content


def _read_journal(packed: zipfile.ZipFile, manifest: _Manifest, source: Path) -> list[Line]:
    lines = []
    try:
        for text in _read_checked(packed, JOURNAL, manifest, source).decode("utf-8").splitlines():
            line = json.loads(text)
            lines.append(Line(str(line["content"]), str(line["hash"])))
    except (ValueError, KeyError, TypeError, RecursionError) as err:
        raise _refused(source, "its journal cannot be read") from err
    if not lines:
        raise _refused(source, "its journal is empty")
    return lines


def _read_drafts(packed: zipfile.ZipFile, manifest: _Manifest, facts: Facts, source: Path, check: Check) -> dict[str, bytes]:
    names = {f"drafts/{sha256}.json": sha256 for sha256 in facts.drafts}
    if set(names) != {name for name in manifest.files if name.startswith("drafts/")}:
        raise _refused(source, "its drafts are not those that its journal names")
    drafts = {}
    for name, sha256 in names.items():
        content = _read_checked(packed, name, manifest, source)
        if hashlib.sha256(content).hexdigest() != sha256:
            raise _refused(source, "a draft in it is not what its name says")
        check(content, f"A draft in {source.name}")
        drafts[sha256] = content
    return drafts


def _unpack_sounds(
    store: Store, packed: zipfile.ZipFile, manifest: _Manifest, facts: Facts, source: Path, kept: list[str]
) -> None:
    """Put the sound into the store's folder under its checksum; kept is told of each."""
    for name in (name for name in manifest.files if name.startswith("sound/")):
        sha256 = name.removeprefix("sound/")
        recording = facts.recordings.get(sha256)
        if recording is None or recording.deleted is not None:
            raise _refused(source, "it holds sound that its journal does not name, or says was deleted")
        target = sound_path(store, sha256)
        if target.exists():
            continue
        target.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        digest, size = hashlib.sha256(), 0
        with packed.open(name) as sound, _whole(target) as out:
            while block := sound.read(BLOCK):
                size += len(block)
                if size > LARGEST_SOUND:
                    raise _refused(source, "it holds a file too large")
                digest.update(block)
                out.write(block)
            if digest.hexdigest() != sha256:
                raise _refused(source, "its sound is not what its checksum says")
        kept.append(sha256)


def _refused(source: Path, why: str) -> HandedOverError:
    return HandedOverError(f"{source.name} was not taken in: {why}; ask for the file again.")
