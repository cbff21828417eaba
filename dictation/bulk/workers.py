"""Workers on this machine: processes of their own, each with one model, that draft what they are given.

A worker that dies over a recording costs that recording a second try and nobody else anything; one that has grown is ended
and a fresh one takes its place. A worker whose program is gone ends itself. Imports work, interruption and errors.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from types import TracebackType
from typing import Protocol

from dictation.bulk.work import How, Job, Outcome, Told, draft_job
from dictation.errors import DictationError

MOST_MB = 1200.0
"""A worker that has ever held more is ended after its recording: four times what an hour of speech takes. Chosen by us."""
MOST_FILES = 500
TRIES = 2
TOLD_EVERY_S = 0.2
PATIENCE_S = 5.0
"""How long an ending worker is waited for before it is killed."""


@dataclass(frozen=True, slots=True)
class Begun:
    """A worker has taken up a recording."""

    name: str


@dataclass(frozen=True, slots=True)
class Heard:
    """So many seconds of a recording, of so many, are done."""

    name: str
    done_s: float
    total_s: float


Event = Begun | Heard | Outcome


class Runner(Protocol):
    """Where recordings are drafted: here, or on a cluster. Called several times while a folder is watched."""

    def run(self, jobs: Iterable[Job]) -> Iterator[Event]:
        """Draft each job and say what happens, one Outcome a job, in the order they end; a job is asked for when a worker is
        free.
        """
        ...

    def __enter__(self) -> Runner: ...

    def __exit__(self, kind: type[BaseException] | None, err: BaseException | None, trace: TracebackType | None) -> None: ...


class _Worker:
    """One process, what it works on, and how many recordings it has had."""

    def __init__(self, how: How) -> None:
        spawn = multiprocessing.get_context("spawn")
        self.pipe, far = spawn.Pipe()
        self.process: BaseProcess = spawn.Process(target=serve, args=(far, how), daemon=True)
        with _one_thread_each():
            self.process.start()
        far.close()
        self.job: Job | None = None
        self.tries = 0
        self.files = 0

    def give(self, job: Job, tries: int) -> bool:
        """Give a recording; False where the worker has died meanwhile."""
        self.job, self.tries = job, tries
        try:
            self.pipe.send(job)
        except (BrokenPipeError, ConnectionError):
            self.job = None
            return False
        return True

    def end(self) -> None:
        """End the process, by force where it does not end."""
        with contextlib.suppress(BrokenPipeError, OSError):
            if self.job is None:
                self.pipe.send(None)
            else:
                self.process.terminate()
        self.process.join(PATIENCE_S)
        if self.process.is_alive():
            self.process.kill()
            self.process.join()
        self.pipe.close()


class LocalWorkers:
    """A Runner of so many processes on this machine."""

    def __init__(self, how: How, count: int) -> None:
        self._how = how
        self._count = count
        self._workers: list[_Worker] = []
        self._again: list[tuple[Job, int]] = []

    def __enter__(self) -> LocalWorkers:
        return self

    def __exit__(self, kind: type[BaseException] | None, err: BaseException | None, trace: TracebackType | None) -> None:
        for worker in self._workers:
            if worker.job is not None:
                worker.process.terminate()
        for worker in self._workers:
            worker.end()
        self._workers.clear()

    def run(self, jobs: Iterable[Job]) -> Iterator[Event]:
        """See Runner."""
        left = iter(jobs)
        while True:
            yield from self._hand_out(left)
            busy = [worker for worker in self._workers if worker.job is not None]
            if not busy:
                return
            ready = wait([end for worker in busy for end in (worker.pipe, worker.process.sentinel)])
            for worker in busy:
                if worker.pipe in ready or worker.process.sentinel in ready:
                    yield from self._hear(worker)

    def _hand_out(self, left: Iterator[Job]) -> Iterator[Event]:
        """Give every worker that is free a recording, as long as there are any; a worker is started for one alone."""
        while sum(worker.job is not None for worker in self._workers) < self._count:
            job, tries = self._again.pop(0) if self._again else (next(left, None), 1)
            if job is None:
                return
            free = next((worker for worker in self._workers if worker.job is None), None)
            if free is None:
                free = _Worker(self._how)
                self._workers.append(free)
            if free.give(job, tries):
                yield Begun(job.name)
            else:
                self._part_with(free)
                self._again.append((job, tries))

    def _hear(self, worker: _Worker) -> Iterator[Event]:
        """Take what a worker says; where it died, its recording is tried once more, or is the one at fault."""
        job = worker.job
        assert job is not None, "only a worker at work is listened to"
        try:
            said = worker.pipe.recv()
        except (EOFError, OSError):
            self._part_with(worker)
            if worker.tries < TRIES:
                self._again.append((job, worker.tries + 1))
            else:
                yield Outcome(job.name, None, None, lost(job))
            return
        if isinstance(said, Heard):
            yield said
            return
        outcome, peak_mb = said
        worker.job, worker.files = None, worker.files + 1
        if peak_mb > MOST_MB or worker.files >= MOST_FILES:
            self._part_with(worker)
        yield outcome

    def _part_with(self, worker: _Worker) -> None:
        worker.job = None
        self._workers.remove(worker)
        worker.end()


def lost(job: Job) -> DictationError:
    """Return the error for a recording over which worker after worker died."""
    return DictationError(
        f"{job.name} was not drafted: the worker died over it {TRIES} times, for want of memory or by a fault in a library; "
        "draft it by itself, with nothing else running."
    )


@contextlib.contextmanager
def _one_thread_each() -> Iterator[None]:
    """Have the libraries of a process that starts meanwhile compute in one thread: the same sums anywhere, and a core each."""
    names = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
    before = {name: os.environ.get(name) for name in names}
    os.environ.update(dict.fromkeys(names, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


def serve(pipe: Connection, how: How) -> None:
    """Draft what comes through a pipe until None comes, or the program at its other end is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the program's to hear, which ends its workers
    threading.Thread(target=_end_with_parent, daemon=True).start()
    with contextlib.suppress(EOFError, BrokenPipeError, ConnectionError):
        while (job := pipe.recv()) is not None:
            outcome = draft_job(job, how, _teller(pipe, job.name))
            pipe.send((outcome, peak_mb()))


def _teller(pipe: Connection, name: str) -> Told:
    last = 0.0

    def told(done_s: float, total_s: float) -> None:
        nonlocal last
        if time.monotonic() - last > TOLD_EVERY_S:
            last = time.monotonic()
            pipe.send(Heard(name, done_s, total_s))

    return told


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)


def peak_mb() -> float:
    """Return the most memory this process ever held."""
    import resource
    import sys

    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / 1e6 if sys.platform == "darwin" else peak / 1e3
