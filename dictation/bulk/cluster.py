"""Workers on many machines: the same work, handed out by a Dask scheduler that the department runs.

A worker that dies costs nothing but time: the scheduler gives its recordings to others. Speech goes over the network
encrypted, or stays on this machine. distributed is an extra. Imports work, workers, hosts, faults and errors.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Iterator
from dataclasses import replace
from types import TracebackType
from typing import Any
from urllib.parse import urlsplit

from dictation.bulk.work import How, Job, Outcome, draft_job
from dictation.bulk.workers import Begun, Event, lost
from dictation.errors import ClusterUnavailable
from dictation.faults import fault_error
from dictation.hosts import is_here

CONNECT_S = 10
WAIT_S = 30
"""How long the scheduler is tried, and how long workers are waited for where it has none."""

AHEAD = 2
"""Recordings a worker has at once: the one it drafts, and the next."""

NO_EXTRA = "A scheduler needs an extra of this program; install it with its extra cluster."


class ClusterWorkers:
    """A Runner of the workers of a Dask scheduler. Raises ClusterUnavailable where it cannot be reached, or has none."""

    def __init__(self, how: How, address: str) -> None:
        self._how = replace(how, settings=None)  # each worker has those of its own machine
        check_address(address)
        try:
            from distributed import Client
        except ImportError as err:
            raise ClusterUnavailable(NO_EXTRA) from err
        try:
            self._client: Any = Client(address, timeout=CONNECT_S, set_as_default=False)
        except (OSError, TimeoutError, ValueError, TypeError, ImportError) as err:
            raise ClusterUnavailable(
                "The scheduler cannot be reached; check that it runs, its address, and the certificates in Dask's settings."
            ) from err

    def __enter__(self) -> ClusterWorkers:
        return self

    def __exit__(self, kind: type[BaseException] | None, err: BaseException | None, trace: TracebackType | None) -> None:
        self._client.close()

    def run(self, jobs: Iterable[Job]) -> Iterator[Event]:
        """See Runner."""
        from distributed import as_completed

        left = iter(jobs)
        coming: Any = as_completed(loop=self._client.loop)
        flying: dict[str, Job] = {}
        try:
            yield from self._hand_out(left, flying, coming)
            while flying:
                future = next(coming)
                yield self._outcome(future, flying.pop(future.key))
                future.release()
                yield from self._hand_out(left, flying, coming)
        finally:
            coming.clear()

    def _hand_out(self, left: Iterator[Job], flying: dict[str, Job], coming: Any) -> Iterator[Event]:
        while len(flying) < AHEAD * self._workers():
            job = next(left, None)
            if job is None:
                return
            future = self._client.submit(draft_job, job, self._how, key=f"draft-{uuid.uuid4().hex}", pure=False)
            flying[future.key] = job
            coming.add(future)
            yield Begun(job.name)

    def _workers(self) -> int:
        found = len(self._client.nthreads())
        if not found:
            try:
                self._client.wait_for_workers(1, timeout=WAIT_S)
            except TimeoutError as err:
                raise ClusterUnavailable("The scheduler has no workers; start some, with this program installed.") from err
            found = len(self._client.nthreads())
        return found

    def _outcome(self, future: Any, job: Job) -> Outcome:
        from distributed import KilledWorker

        try:
            outcome: Outcome = future.result()
        except KilledWorker:
            return Outcome(job.name, None, None, lost(job))
        except (ImportError, AttributeError) as err:
            told = f"{job.name} was not drafted: a worker has not this program, or another version of it; install it there."
            return Outcome(job.name, None, None, ClusterUnavailable(told).with_traceback(err.__traceback__))
        except Exception as err:
            return Outcome(job.name, None, None, fault_error(err, f"{job.name} was not drafted"))
        return outcome


def check_address(address: str) -> None:
    """Raise ClusterUnavailable for an address that is none, or by which speech would go over the network in clear."""
    try:
        parts = urlsplit(address)
        whole = parts.scheme in {"tcp", "tls"} and parts.hostname is not None and parts.port is not None
    except ValueError:
        whole = False
    if not whole:
        raise ClusterUnavailable("The scheduler's address is not one; give it as tls://machine:8786.")
    if parts.scheme == "tcp" and not is_here(parts.hostname):
        raise ClusterUnavailable(
            "By this address patients' speech would go over the network unencrypted; set the scheduler up for TLS (Dask's "
            "own documentation says how) and give tls://machine:8786."
        )
