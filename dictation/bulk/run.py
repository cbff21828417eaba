"""One run over recordings: what is done is skipped, the rest is drafted and kept as it comes, a bad one stops no other.

Imports the rest of the room, interruption, faults, writing and errors.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from dictation.bulk.keeping import Keeping, Standing
from dictation.bulk.recordings import Recording, Recordings
from dictation.bulk.work import How, Job, Outcome, Row, checksum, to_be_made
from dictation.bulk.workers import Event, Runner
from dictation.errors import DictationError, InputError
from dictation.faults import fault_error
from dictation.interruption import stop_if_pressed
from dictation.writing import output_error


@dataclass
class Report:
    """What became of a run's recordings, by name. skipped: drafted before. decided: drafted before with other words or another
    recogniser, and left alone because that draft is under review.
    """

    rows: dict[str, Row] = field(default_factory=dict)
    failed: dict[str, DictationError] = field(default_factory=dict)
    skipped: list[str] = field(default_factory=list)
    decided: list[str] = field(default_factory=list)

    @property
    def exit_code(self) -> int:
        """That of the first recording, by name, that failed; 0 where none did."""
        return self.failed[min(self.failed)].exit_code if self.failed else 0


@dataclass(frozen=True, slots=True)
class Todo:
    """One recording to draft. size: of its file, by which the time left is reckoned."""

    recording: Recording
    sha256: str
    size: int


def find_todo(
    found: Recordings, how: How, keeping: Keeping, report: Report, looked: Callable[[int, int], None] = lambda done, of: None
) -> list[Todo]:
    """Return what is left to draft; what was drafted and did not reach the store is taken in. looked: told how far it is."""
    for one in found.clashing:
        report.failed[one.name] = InputError(
            f"{one.name} was not drafted: another recording beside it would have a draft of the same name; rename one."
        )
    left = []
    for number, recording in enumerate(found.found):
        stop_if_pressed()
        looked(number, len(found.found))
        with _isolated(recording.name, report):
            sha256 = checksum(recording.path)
            match keeping.standing(recording, to_be_made(recording.path, sha256, how)):
                case Standing.new:
                    left.append(Todo(recording, sha256, recording.path.stat().st_size))
                case Standing.decided:
                    report.decided.append(recording.name)
                case Standing.drafted:
                    keeping.take_in(recording)
                    report.skipped.append(recording.name)
                case Standing.done:
                    report.skipped.append(recording.name)
    return left


def draft_all(
    todo: Sequence[Todo], runner: Runner, keeping: Keeping, report: Report, tell: Callable[[Event], None], *, send: bool = False
) -> None:
    """Draft and keep what is left, and put what became of each into the report. tell: told of it, once it is kept.

    send: the sound itself goes to the workers, who cannot reach its path.
    """
    recordings = {one.recording.name: one.recording for one in todo}

    def jobs() -> Iterator[Job]:
        for one in todo:
            stop_if_pressed()
            job = None
            with _isolated(one.recording.name, report):
                content = one.recording.path.read_bytes() if send else None
                job = Job(one.recording.name, one.recording.path.resolve(), one.sha256, content)
            if job is not None:
                yield job

    for event in runner.run(jobs()):
        stop_if_pressed()
        if isinstance(event, Outcome):
            if event.error is not None:
                report.failed[event.name] = event.error
            else:
                with _isolated(event.name, report):
                    keeping.keep(recordings[event.name], event)
                    assert event.row is not None, "what was drafted has its row"
                    report.rows[event.name] = event.row
        tell(event)


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
