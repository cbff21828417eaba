"""The entries of a journal and their chain: who did what, when, what it was before, and what it is after.

Each entry names the hash of the entry before it, so accidental or partial change shows; the head's hash is printed in
the note and in every export, so a journal rewritten as a whole shows there too. A name in an entry is named, not
authenticated. Entries keep the order they were written in, whatever the clock said. Pure: no file and no database.
Imports errors.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from itertools import pairwise
from typing import Any

from dictation.errors import RecordError

FIRST = "0" * 64
"""What the first entry names as the entry before it."""


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
    """One entry to be made. draft: checksum of the draft it is about; field: what in it; before, after: JSON."""

    what: str
    field: str | None = None
    before: Any = None
    after: Any = None
    draft: str | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry as it stands. number: its place in the journal, from 1. previous: the hash of the entry before it."""

    number: int
    time: Moment
    who: str
    what: str
    draft: str | None
    field: str | None
    before: Any
    after: Any
    previous: str
    hash: str

    @classmethod
    def read(cls, number: int, content: str, hash_: str) -> Entry:
        """Return the entry that a stored content holds. Raises ValueError, KeyError or TypeError where it holds none."""
        data = json.loads(content)
        time = Moment(data["time"]["at"], data["time"]["utc_offset_min"])
        time.local()
        for key in ("who", "what", "previous"):
            if not isinstance(data[key], str):
                raise TypeError(key)
        if not isinstance(data["draft"], str | None) or not isinstance(data["field"], str | None):
            raise TypeError
        return cls(
            number, time, data["who"], data["what"], data["draft"], data["field"], data["before"], data["after"],
            data["previous"], hash_,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Line:
    """An entry as it is stored and handed over: the JSON text that is hashed, and its SHA-256."""

    content: str
    hash: str


def write_lines(steps: Iterable[Step], who: str, time: Moment, previous: str) -> list[Line]:
    """Return the lines of the steps, chained on from the hash of the entry before them."""
    lines = []
    for step in steps:
        content = canonical({
            "time": {"at": time.at, "utc_offset_min": time.utc_offset_min}, "who": who, "what": step.what, "draft": step.draft,
            "field": step.field, "before": step.before, "after": step.after, "previous": previous,
        })  # fmt: skip
        previous = digest(content)
        lines.append(Line(content, previous))
    return lines


def read_lines(lines: Sequence[Line], name: str, *, after: int = 0, previous: str = FIRST) -> tuple[Entry, ...]:
    """Return the entries of lines, their chain verified from the entry ``previous`` with the number ``after`` on.

    Raises RecordError naming the first broken entry, and the journal by name; it quotes nothing of either.
    """
    entries = []
    for number, line in enumerate(lines, after + 1):
        if digest(line.content) != line.hash:
            raise broken(name, number, "was changed after it was written")
        try:
            entry = Entry.read(number, line.content, line.hash)
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError, OverflowError) as err:
            raise broken(name, number, "cannot be read") from err
        if entry.previous != previous:
            raise broken(name, number, "does not follow from the entry before it")
        entries.append(entry)
        previous = entry.hash
    return tuple(entries)


def dated_back(entries: Sequence[Entry]) -> list[int]:
    """Return the numbers of the entries whose clock stood earlier than that of the entry before them."""
    return [entry.number for before, entry in pairwise(entries) if entry.time.at < before.time.at]


def broken(name: str, number: int, what: str) -> RecordError:
    """Return the error that names the first broken entry of a journal."""
    return RecordError(
        f"Entry {number} of {name} {what}, so what it decides cannot be trusted; restore the store from a back-up."
    )


def canonical(value: Any) -> str:
    """Return a value as the one JSON text it is hashed as."""
    return json.dumps(value, ensure_ascii=True, sort_keys=True, separators=(",", ":"), allow_nan=False)


def digest(content: str) -> str:
    """Return the SHA-256 of a text, as lower-case hex."""
    return hashlib.sha256(content.encode("utf-8", "surrogatepass")).hexdigest()
