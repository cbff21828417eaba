"""What a person sees while many recordings are drafted: bars on a terminal, else one plain line a recording.

The time left is reckoned by the sizes of the files, which are known before any is opened: right where they are of one kind,
rough where they are not. Imports printable and tables.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Mapping, Sequence
from types import TracebackType
from typing import TYPE_CHECKING

from rich.console import Console
from rich.progress import BarColumn, Progress, TaskID, TextColumn

from dictation.counting import counted
from dictation.note.printable import printable
from dictation.terminal.tables import plain_table

if TYPE_CHECKING:
    from dictation.bulk.work import Row

class TimeLeft:
    """How much of a run is done, and how long the rest will take at the pace so far. sizes: of each recording's file."""

    def __init__(self, sizes: Mapping[str, int], clock: Callable[[], float] = time.monotonic) -> None:
        self._sizes = sizes
        self._clock = clock
        self._begun = clock()
        self._share: dict[str, float] = {}

    def heard(self, name: str, share: float) -> None:
        """So much of a recording, 0 to 1, is done."""
        self._share[name] = min(1.0, max(share, self._share.get(name, 0.0)))

    def share(self) -> float:
        """Return how much of all is done, 0 to 1."""
        total = sum(self._sizes.values())
        done = sum(size * self._share.get(name, 0.0) for name, size in self._sizes.items())
        return done / total if total else 1.0

    def left_s(self) -> float | None:
        """Return the seconds left, None before anything is done."""
        share = self.share()
        return (self._clock() - self._begun) * (1 - share) / share if share > 0 else None


def duration(seconds: float | None) -> str:
    """Return a length of time for a person.

    >>> duration(5430), duration(75), duration(4.2), duration(None)
    ('1:30:30', '1:15', '0:04', '')
    """
    if seconds is None:
        return ""
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


class BulkProgress:
    """Tells of each recording of a run, on stderr."""

    def __init__(self, sizes: Mapping[str, int]) -> None:
        self._time = TimeLeft(sizes)
        self._count, self._ended = len(sizes), 0
        self._bars: Progress | None = None
        self._all: TaskID | None = None
        self._one: dict[str, TaskID] = {}

    def __enter__(self) -> BulkProgress:
        if sys.stderr.isatty():
            columns = (TextColumn("{task.description}", markup=False), BarColumn(), TextColumn("{task.fields[left]}"))
            self._bars = Progress(*columns, console=Console(stderr=True), transient=True)
            self._bars.start()
            self._all = self._bars.add_task(f"0 of {self._count}", total=1.0, left="")
        return self

    def __exit__(self, kind: type[BaseException] | None, err: BaseException | None, trace: TracebackType | None) -> None:
        if self._bars is not None:
            self._bars.stop()

    def begun(self, name: str) -> None:
        """A worker has taken up a recording."""
        if self._bars is not None and name not in self._one:
            self._one[name] = self._bars.add_task(f"  {printable(name)}", total=1.0, left="")

    def heard(self, name: str, done_s: float, total_s: float) -> None:
        """So many seconds of a recording, of so many, are done."""
        self._time.heard(name, done_s / total_s if total_s else 0.0)
        if self._bars is not None and name in self._one:
            self._bars.update(self._one[name], completed=done_s / total_s if total_s else 0.0)
        self._show()

    def ended(self, name: str, row: Row | None, error: str | None) -> None:
        """A recording is done with, its draft kept or not."""
        self._ended += 1
        self._time.heard(name, 1.0)
        if self._bars is not None and name in self._one:
            self._bars.remove_task(self._one.pop(name))
        self._show()
        if error is not None:
            self._say(printable(error))
        elif row is not None:
            statements = counted(row.fields, "statement")
            self._say(f"{printable(name)}: {statements}, {row.doubtful} to check first{self._so_far()}")

    def _so_far(self) -> str:
        left = self._time.left_s()
        ahead = f", about {duration(left)} left" if left and self._ended < self._count else ""
        return "" if self._bars is not None else f" ({self._ended} of {self._count}{ahead})"

    def _say(self, line: str) -> None:
        if self._bars is not None:
            self._bars.console.print(line, markup=False, highlight=False)
        else:
            print(line, file=sys.stderr, flush=True)

    def _show(self) -> None:
        if self._bars is not None and self._all is not None:
            left = self._time.left_s()
            self._bars.update(
                self._all, completed=self._time.share(), description=f"{self._ended} of {self._count}",
                left=f"about {duration(left)} left" if left is not None else "",
            )  # fmt: skip


def bulk_table(rows: Sequence[tuple[str, Row]], width: int | None = None) -> str:
    """Return the table at the end of a run: each recording, how long it is, and what its draft holds."""
    lines = []
    for name, row in rows:
        parting = "put each into a file of its own" if row.duration_s is None else "part them with dictation split"
        several = [f"{row.examinations} examinations: {parting}."] if row.examinations > 1 else []
        warnings = " ".join([*several, *row.warnings])
        lines.append((name, duration(row.duration_s), row.fields, row.doubtful, row.unplaced, warnings))
    return plain_table(("file", "length", "fields", "doubtful", "unplaced", "warnings"), lines, width)
