"""Recordings dropped onto the work list: kept in the store's folder while they wait, drafted by one worker, taken in.

The worker is a process of its own, so that the page stays quick while it listens. What waits here is a copy; where the program
is stopped, the next start clears it away, and the recordings are dropped again. Imports bulk, review, store and settings.
"""

from __future__ import annotations

import contextlib
import fcntl
import os
import queue
import secrets
import shutil
import threading
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from dictation.bulk.work import Job, Outcome, checksum, how_to_draft
from dictation.bulk.workers import Begun, Heard, LocalWorkers
from dictation.counting import counted
from dictation.errors import DictationError, InputError
from dictation.faults import fault_error
from dictation.note.printable import printable
from dictation.record import parse_draft
from dictation.review.opening import DraftFile, take_in
from dictation.settings import Settings
from dictation.splitting.several import refuse_several
from dictation.store.facts import read_reference
from dictation.store.journal import now
from dictation.store.sound import add_sound
from dictation.store.store import Store
from dictation.writing import output_error

MOST_BYTES = 2 << 30
"""No recording that is dropped is larger: three hours of stereo at 48 kHz."""

IDLE_S = 60.0
"""How long the worker waits for another recording before it ends."""

FOLDER, LOCK = "dropped", "in-use"


@dataclass(frozen=True, slots=True)
class Drop:
    """One recording. state: waiting, drafting, done, failed or stopped. share: 0 to 1 of it heard. path: of its review."""

    id: str
    name: str
    reference: str
    who: str
    file: Path
    state: str = "waiting"
    share: float = 0.0
    message: str = ""
    path: str = ""

    @property
    def open(self) -> bool:
        """Whether something is still to happen with it."""
        return self.state in {"waiting", "drafting"}


class Dropping:
    """The recordings dropped since the page was opened."""

    def __init__(self, store: Store, settings: Settings) -> None:
        self.store = store
        self.settings = settings
        self._lock = threading.Lock()
        self._drops: dict[str, Drop] = {}
        self._waiting: queue.Queue[str] = queue.Queue()
        self._thread: threading.Thread | None = None
        self._folder: Path | None = None
        self._held = -1

    def drops(self) -> list[Drop]:
        """Return what was dropped, the last first."""
        with self._lock:
            return list(reversed(self._drops.values()))

    def check(self, name: str, reference: str, *, known: bool) -> str:
        """Return the reference that a recording is dropped under. known: it is meant for an encounter that is there.

        Raises InputError where it cannot be one, or where such an encounter is there and that was not said.
        """
        wanted = read_reference(reference)
        there = self.store.find(wanted)
        if there is not None and there.facts.drafts and not known:
            raise InputError(f"There is an encounter {wanted} already; give another reference, or say that it belongs there.")
        if not Path(name).name.strip(". "):
            raise InputError("The recording has no name; name it, and drop it again.")
        return wanted

    def place(self, name: str) -> Path:
        """Return where the bytes of a recording are to be written, in a folder of its own. Raises OutputError."""
        with self._lock:
            if self._folder is None:
                self._folder, self._held = _claim(self.store.folder / FOLDER)
        folder = self._folder / secrets.token_hex(8)
        plain = printable(Path(name).name).replace("/", "-").replace("\0", "")[-120:]
        try:
            folder.mkdir(mode=0o700)
        except OSError as err:
            raise output_error(folder, err) from err
        return folder / plain

    def add(self, file: Path, reference: str, who: str) -> Drop:
        """Have a recording drafted that was written to its place."""
        drop = Drop(secrets.token_hex(8), file.name, reference, who, file)
        with self._lock:
            self._drops[drop.id] = drop
            self._waiting.put(drop.id)
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, daemon=True)
                self._thread.start()
        return drop

    def stop(self, id_: str) -> None:
        """Give a recording up: what is heard of it yet is not kept."""
        with self._lock:
            drop = self._drops.get(id_)
            if drop is not None and drop.open:
                self._drops[id_] = replace(drop, state="stopped", message="Stopped; nothing of it was kept.")

    def close(self) -> None:
        """Remove what waits."""
        with self._lock:
            if self._folder is not None:
                shutil.rmtree(self._folder, ignore_errors=True)
                os.close(self._held)  # and the lock with it
                self._folder = None

    def _set(self, id_: str, **changed: object) -> Drop | None:
        """Change what is known of a drop; None where it was stopped."""
        with self._lock:
            drop = self._drops[id_]
            if not drop.open:
                return None
            self._drops[id_] = replace(drop, **changed)  # type: ignore[arg-type]  # fields of a drop
            return self._drops[id_]

    def _work(self) -> None:
        try:
            how = how_to_draft(self.settings.recogniser, self.settings)
            with LocalWorkers(how, 1) as workers:
                for event in workers.run(self._jobs()):
                    if isinstance(event, Begun):
                        self._set(event.name, state="drafting")
                    elif isinstance(event, Heard):
                        self._set(event.name, share=event.done_s / event.total_s if event.total_s else 0.0)
                    else:
                        self._end(event)
        except DictationError as err:
            self._fail_all(err)
        except Exception as err:
            self._fail_all(fault_error(err, "Recordings were not drafted"))
        finally:
            with self._lock:
                if self._thread is threading.current_thread():
                    self._thread = None

    def _jobs(self) -> Iterator[Job]:
        """What waits, one after the other, until nothing came for a while."""
        while True:
            try:
                drop = self._drops[self._waiting.get(timeout=IDLE_S)]
            except queue.Empty:
                with self._lock:  # what comes from now on starts a thread of its own
                    if self._waiting.empty():
                        self._thread = None
                        return
                continue
            if not drop.open:
                continue
            try:
                yield Job(drop.id, drop.file, checksum(drop.file))
            except DictationError as err:
                self._end(Outcome(drop.id, None, None, err))

    def _end(self, outcome: Outcome) -> None:
        """Take a draft with its sound into its encounter, or keep why there is none; the copy that waited goes."""
        drop = self._drops[outcome.name]
        try:
            if drop.open and outcome.error is not None:
                raise outcome.error
            if drop.open and outcome.text is not None:
                self._take_in(drop, outcome.text.encode(), outcome.row.examinations if outcome.row else 1)
        except DictationError as err:
            message = str(err).replace(str(drop.file), drop.name).replace(drop.id, drop.name)  # it knows no other name for it
            self._set(drop.id, state="failed", message=printable(message))
        finally:
            shutil.rmtree(drop.file.parent, ignore_errors=True)

    def _take_in(self, drop: Drop, content: bytes, examinations: int) -> None:
        draft = DraftFile(drop.file, content, parse_draft(content, drop.name))
        refuse_several(draft.draft, examinations, drop.name)
        encounter = take_in(self.store, draft, drop.reference, drop.who, now())
        fields = draft.draft.fields
        message = f"{counted(len(fields), 'statement')}, {sum(field.checked() for field in fields)} to check first"
        if draft.draft.source.recogniser != "text":
            try:
                add_sound(encounter, drop.file, keep=True, who=drop.who, time=now())
            except DictationError as err:
                message += f". Its sound is not kept: {err}"
        path = f"/review/{encounter.id}/{draft.sha256}"
        self._set(drop.id, state="done", share=1.0, message=printable(message), path=path)

    def _fail_all(self, err: DictationError) -> None:
        for drop in self.drops():
            if self._set(drop.id, state="failed", message=printable(str(err))):
                shutil.rmtree(drop.file.parent, ignore_errors=True)


def _claim(folder: Path) -> tuple[Path, int]:
    """Make a folder for this program's own, held by a lock, and clear away those that nobody holds. Raises OutputError."""
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
        for left in folder.iterdir():
            with contextlib.suppress(OSError):
                held = _hold(left / LOCK)
                shutil.rmtree(left, ignore_errors=True)
                os.close(held)
        mine = folder / secrets.token_hex(8)
        mine.mkdir(mode=0o700)
        return mine, _hold(mine / LOCK)
    except OSError as err:
        raise output_error(folder, err) from err


def _hold(lock: Path) -> int:
    """Return a descriptor of a file that this process alone holds. Raises OSError where another does."""
    descriptor = os.open(lock, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(descriptor)
        raise
    return descriptor
