"""One run over recordings: what is done is skipped, the rest is drafted and kept as it comes, a bad one stops no other.

Imports the rest of the room, interruption, faults, writing and errors.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from dictation.bulk.keeping import Keeping, Standing
from dictation.bulk.parts import cuts_of, parts_of
from dictation.bulk.recordings import Recording, Recordings
from dictation.bulk.work import How, Job, Made, Outcome, Row, checksum, to_be_made
from dictation.bulk.workers import Event, Runner
from dictation.errors import DictationError, InputError
from dictation.faults import fault_error
from dictation.interruption import stop_if_pressed
from dictation.store.journal import now
from dictation.writing import output_error

if TYPE_CHECKING:
    from dictation.store.queue import Hold

AGAIN_S = 2.0
"""How long a recording that another room drafts is left before it is looked at again."""


@dataclass
class Report:
    """What became of a run's recordings, by name. left_out_s: seconds that a recording's cuts leave out. skipped: drafted
    before. decided: drafted before with other words or another recogniser, and left alone as that draft is under review.
    """

    rows: dict[str, Row] = field(default_factory=dict)
    failed: dict[str, DictationError] = field(default_factory=dict)
    left_out_s: dict[str, float] = field(default_factory=dict)
    skipped: list[str] = field(default_factory=list)
    decided: list[str] = field(default_factory=list)

    @property
    def exit_code(self) -> int:
        """That of the first recording, by name, that failed; 0 where none did."""
        return self.failed[min(self.failed)].exit_code if self.failed else 0


@dataclass(frozen=True, slots=True)
class Todo:
    """One recording to draft. made: what its draft will be made of. size: of its file, by which the time left is reckoned."""

    recording: Recording
    made: Made
    size: int


def find_todo(found: Recordings, how: How, keeping: Keeping, report: Report) -> list[Todo]:
    """Return what is left to draft, the largest first, so that no worker is left with a long one at the end; what was drafted
    and did not reach the store is taken in.
    """
    for one in found.clashing:
        report.failed[one.name] = InputError(
            f"{one.name} was not drafted: another recording beside it would have a draft of the same name; rename one."
        )
    left: list[Todo] = []
    whole: list[Recording] = []
    for one in found.found:
        stop_if_pressed()
        with _isolated(one.name, report):
            cuts = cuts_of(one)
            parts, left_out_s = parts_of(one, cuts, keeping) if cuts is not None else ([one], 0.0)
            whole += parts
            if left_out_s >= 1.0:
                report.left_out_s[one.name] = left_out_s
    for recording in whole:
        stop_if_pressed()
        with _isolated(recording.name, report):
            made = to_be_made(recording.path, checksum(recording.path), how)
            match keeping.standing(recording, made):
                case Standing.new:
                    left.append(Todo(recording, made, recording.path.stat().st_size))
                case Standing.decided:
                    report.decided.append(recording.name)
                case Standing.drafted:
                    keeping.take_in(recording)
                    report.skipped.append(recording.name)
                case Standing.done:
                    report.skipped.append(recording.name)
    return sorted(left, key=lambda one: -one.size)


def draft_all(
    todo: Sequence[Todo], runner: Runner, keeping: Keeping, report: Report, tell: Callable[[Event], None], *, send: bool = False
) -> None:
    """Draft and keep what is left, and put what became of each into the report. tell: told of it, once it is kept.

    send: the sound itself goes to the workers, who cannot reach its path. What another room drafts meanwhile is waited for,
    and taken over where that room ends before it is done.
    """
    left = list(todo)
    while left:
        left = _Pass(left, keeping, report, send).draft(runner, tell)
        if left:
            time.sleep(AGAIN_S)


class _Pass:
    """One pass over recordings; those that another room holds are left over."""

    def __init__(self, todo: Sequence[Todo], keeping: Keeping, report: Report, send: bool) -> None:
        self._todo = {one.recording.name: one for one in todo}
        self._keeping, self._report, self._send = keeping, report, send
        self._held: dict[str, Hold] = {}
        self._left: list[Todo] = []

    def draft(self, runner: Runner, tell: Callable[[Event], None]) -> list[Todo]:
        """Draft what is free, and return what is left over."""
        try:
            for event in runner.run(self._jobs()):
                stop_if_pressed()
                if isinstance(event, Outcome):
                    self._keep(event)
                tell(event)
        finally:
            for hold in self._held.values():
                hold.let_go()
        return self._left

    def _jobs(self) -> Iterator[Job]:
        for name, one in self._todo.items():
            stop_if_pressed()
            job = None
            with _isolated(name, self._report):
                if not self._keeping.shared or self._take(one):
                    content = one.recording.path.read_bytes() if self._send else None
                    job = Job(name, one.recording.path.resolve(), one.made.recording, content)
            if job is not None:
                yield job

    def _take(self, one: Todo) -> bool:
        """Hold a recording against the other rooms; False where one of them has it, or has done it."""
        name = one.recording.name
        hold = self._keeping.hold(one.made)
        if hold is not None:
            self._held[name] = hold
        elif self._keeping.standing(one.recording, one.made) is Standing.done:
            self._report.skipped.append(name)
        else:
            self._left.append(one)
        return hold is not None

    def _keep(self, outcome: Outcome) -> None:
        name, hold = outcome.name, self._held.pop(outcome.name, None)
        if outcome.error is not None:
            self._report.failed[name] = outcome.error
        with _isolated(name, self._report):
            if outcome.row is not None:
                self._keeping.keep(self._todo[name].recording, outcome)
                self._report.rows[name] = outcome.row
        if hold is not None:
            with _isolated(name, self._report):
                if name in self._report.rows:
                    hold.done(now())
                else:
                    hold.let_go()


@contextlib.contextmanager
def _isolated(name: str, report: Report) -> Iterator[None]:
    """Put what goes wrong with one recording into the report, so that the others go through."""
    try:
        yield
    except DictationError as err:
        report.failed[name] = err
    except OSError as err:
        report.failed[name] = output_error(err.filename or name, err)
    except Exception as err:
        report.failed[name] = fault_error(err, f"{name} was not drafted")
