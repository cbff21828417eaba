"""The append-only journal beside a draft: who decided what, when, what it was before, and what it is after.

One entry a line, JSON. Each holds its own SHA-256 and the one of the entry before it, so accidental or
partial change shows; the head's hash is printed in the note, so a journal rewritten as a whole shows there
too. The name in an entry is named, not authenticated. An entry is acknowledged once it is forced to disk; a
last line that was never finished is no entry: it is put aside and said. Imports errors and writing.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

from dictation.errors import InputError, RecordError, ReviewError
from dictation.writing import output_error, sync_folder

FIRST = "0" * 64
"""What the first entry names as the entry before it."""

TORN = "torn_line_removed"
"""The entry that says a line was never finished and was put aside; it decides nothing."""


@dataclass(frozen=True, slots=True)
class Moment:
    """A point in time: UTC as ``2025-03-04T13:30:00Z``, and the minutes the local clock was ahead of it."""

    at: str
    utc_offset_min: int = 0

    @classmethod
    def of(cls, time: datetime) -> Moment:
        """Return the moment of an aware time, to the second."""
        offset = time.utcoffset()
        if offset is None:
            raise ValueError("a moment needs a time with its zone")
        utc = time.astimezone(UTC).replace(microsecond=0)
        return cls(utc.strftime("%Y-%m-%dT%H:%M:%SZ"), round(offset.total_seconds() / 60))

    def local(self) -> datetime:
        """Return the time as the local clock showed it."""
        zone = timezone(timedelta(minutes=self.utc_offset_min))
        return datetime.fromisoformat(self.at).astimezone(zone)

    def words(self) -> str:
        """Return the local time and zone for a person.

        >>> Moment("2025-03-04T13:30:00Z", 60).words()
        '2025-03-04 14:30 (UTC+01:00)'
        """
        sign = "-" if self.utc_offset_min < 0 else "+"
        hours, minutes = divmod(abs(self.utc_offset_min), 60)
        return f"{self.local():%Y-%m-%d %H:%M} (UTC{sign}{hours:02}:{minutes:02})"


def now() -> Moment:
    """Return the moment the machine's clock shows."""
    return Moment.of(datetime.now().astimezone())


@dataclass(frozen=True, slots=True)
class Step:
    """One entry to be made: what happened to which field, before and after (both JSON)."""

    what: str
    field: str | None = None
    before: Any = None
    after: Any = None


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry as it stands in the journal. previous: the hash of the entry before it."""

    time: Moment
    who: str
    what: str
    field: str | None
    before: Any
    after: Any
    previous: str
    hash: str

    @classmethod
    def make(cls, step: Step, who: str, time: Moment, previous: str) -> Entry:
        """Return the entry for a step, its hash worked out."""
        bare = cls(time, who, step.what, step.field, step.before, step.after, previous, "")
        return cls(time, who, step.what, step.field, step.before, step.after, previous, bare.digest())

    def digest(self) -> str:
        """Return the SHA-256 over everything else in the entry."""
        return hashlib.sha256(_canonical(self._content()).encode("utf-8")).hexdigest()

    def line(self) -> bytes:
        """Return the entry as its line in the file."""
        return (_canonical({**self._content(), "hash": self.hash}) + "\n").encode("utf-8")

    def _content(self) -> dict[str, Any]:
        return {
            "time": {"at": self.time.at, "utc_offset_min": self.time.utc_offset_min},
            "who": self.who,
            "what": self.what,
            "field": self.field,
            "before": self.before,
            "after": self.after,
            "previous": self.previous,
        }


def _canonical(value: Any) -> str:
    return json.dumps(value, ensure_ascii=True, sort_keys=True, separators=(",", ":"), allow_nan=False)


@dataclass(frozen=True, slots=True)
class Reading:
    """A journal as read. sound: bytes up to the end of the last whole entry; torn: the unfinished bytes after
    it.
    """

    entries: tuple[Entry, ...]
    sound: int
    torn: bytes


def read_journal(path: Path) -> Reading:
    """Return the entries of a journal, its chain verified; none where there is no file.

    Raises InputError where it cannot be read, RecordError naming the first broken entry.
    """
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        return Reading((), 0, b"")
    except OSError as err:
        raise InputError(f"Cannot read the journal {path.name} ({type(err).__name__}); check its permissions.") from err
    whole, _, torn = raw.rpartition(b"\n")
    lines = whole.split(b"\n") if whole or raw.startswith(b"\n") else []
    entries: list[Entry] = []
    previous = FIRST
    for number, line in enumerate(lines, 1):
        entry = _parse(line, path.name, number)
        if entry.hash != entry.digest():
            raise _broken(path.name, number, "was changed after it was written")
        if entry.previous != previous:
            raise _broken(path.name, number, "does not follow from the entry before it")
        entries.append(entry)
        previous = entry.hash
    return Reading(tuple(entries), len(raw) - len(torn), torn)


def _parse(line: bytes, name: str, number: int) -> Entry:
    try:
        data = json.loads(line.decode("utf-8"))
        time = Moment(data["time"]["at"], data["time"]["utc_offset_min"])
        time.local()
        texts = (data["who"], data["what"], data["previous"], data["hash"])
        if not all(isinstance(text, str) for text in texts) or not isinstance(data["field"], str | None):
            raise TypeError
        return Entry(
            time,
            data["who"],
            data["what"],
            data["field"],
            data["before"],
            data["after"],
            data["previous"],
            data["hash"],
        )
    except (ValueError, KeyError, TypeError, RecursionError, OverflowError) as err:
        raise _broken(name, number, "cannot be read") from err


def _broken(name: str, number: int, what: str) -> RecordError:
    return RecordError(
        f"Entry {number} of the journal {name} {what}, so its decisions cannot be trusted; restore the file from a copy."
    )


class Journal:
    """A journal open for reading and appending. Making one writes nothing."""

    def __init__(self, path: Path) -> None:
        """Read and verify the journal at path, which need not exist yet. Raises as read_journal does."""
        self.path = path
        reading = read_journal(path)
        self.entries = reading.entries
        self.torn = reading.torn
        self._sound = reading.sound

    @property
    def head(self) -> str:
        """The hash of the last entry."""
        return self.entries[-1].hash if self.entries else FIRST

    def append(self, steps: Sequence[Step], who: str, time: Moment) -> tuple[Entry, ...]:
        """Append the steps, force them to disk, and return them as entries: they are acknowledged then, all
        or none.

        Raises OutputError where it cannot be written (nothing is added), ReviewError where another review has
        added to the journal since this one read it.
        """
        steps = list(steps)
        if self.torn:
            put_aside = {"bytes": len(self.torn), "sha256": hashlib.sha256(self.torn).hexdigest()}
            steps.insert(0, Step(TORN, before=put_aside))
        entries: list[Entry] = []
        for step in steps:
            previous = entries[-1].hash if entries else self.head
            entries.append(Entry.make(step, who, time, previous))
        self._write(b"".join(entry.line() for entry in entries))
        self.entries += tuple(entries)
        return tuple(entry for entry in entries if entry.what != TORN)

    def _write(self, lines: bytes) -> None:
        new = not self.path.exists()
        try:
            descriptor = os.open(self.path, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o600)
        except OSError as err:
            raise output_error(self.path, err) from err
        try:
            with _locked(descriptor):
                # without the torn bytes too: an append that failed has already cut them off
                if os.fstat(descriptor).st_size not in (self._sound, self._sound + len(self.torn)):
                    raise ReviewError(
                        f"Another review has added to {self.path.name} since this one read it; start "
                        "the review again to see it."
                    )
                os.chmod(self.path, 0o600)
                os.ftruncate(descriptor, self._sound)
                try:
                    if os.write(descriptor, lines) != len(lines):
                        raise OSError(28, "short write")  # ENOSPC: a disk that fills up part of the way through
                    os.fsync(descriptor)
                except BaseException:
                    with contextlib.suppress(OSError):
                        os.ftruncate(descriptor, self._sound)
                    raise
        except OSError as err:
            raise output_error(self.path, err) from err
        finally:
            os.close(descriptor)
        if new:
            sync_folder(self.path.parent)
        self._sound += len(lines)
        self.torn = b""


@contextlib.contextmanager
def _locked(descriptor: int) -> Iterator[None]:
    """Hold the file against other reviews; where the system has no such lock, the size comparison alone
    stands guard.
    """
    try:
        import fcntl
    except ImportError:
        yield
        return
    fcntl.flock(descriptor, fcntl.LOCK_EX)
    try:
        yield
    finally:
        fcntl.flock(descriptor, fcntl.LOCK_UN)
