"""Where drafts go: each into its file and, where that is asked for, into the store, as an encounter of its own.

What was kept is looked up there and nowhere else, so that a run goes on where any earlier one ended, however that did.
Imports work, recordings, review, store, drafting, settings, writing and errors.
"""

from __future__ import annotations

import contextlib
import fcntl
import hashlib
import os
import time
from collections.abc import Iterator, Mapping, Sequence
from enum import StrEnum
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING

from dictation.bulk.recordings import Recording
from dictation.bulk.work import Made, Outcome, as_made
from dictation.errors import InputError, OutputError
from dictation.settings import Settings
from dictation.splitting.cutting import WHOLE, parts_folder
from dictation.splitting.marks import examinations
from dictation.splitting.several import refuse_several
from dictation.store.facts import suggest_reference
from dictation.store.sound import remove_file
from dictation.writing import UNFINISHED, make_folder, output_error, write_whole

if TYPE_CHECKING:
    from dictation.store.queue import Hold, Key, Queue
    from dictation.store.store import Encounter, Store

LOCK = ".bulk.lock"

LEFT_AFTER_S = 600.0
"""A file half-written that nothing has touched for so long was left by a run that was killed. Chosen by us."""


class Standing(StrEnum):
    """How far a recording is."""

    new = "to be drafted"
    drafted = "drafted, not in the store yet"
    done = "done"
    decided = "under review"


class Keeping:
    """Keeps the drafts of one run. who: the name under which they are taken into the store; None: they are not. room: what
    their references begin with, where several rooms share a store. resets: the lexicon's phrases of a new patient.
    """

    def __init__(
        self, out_dir: Path, settings: Settings, who: str | None = None, room: str | None = None,
        resets: Mapping[str, Sequence[str]] | None = None,
    ) -> None:  # fmt: skip
        self.out_dir = out_dir
        self._settings = settings
        self._who = who
        self._room = f"{room}/" if room else ""
        self._resets = resets or {}
        self._store: Store | None = None
        self._queue: Queue | None = None

    def __enter__(self) -> Keeping:
        from dictation.store.store import find_store, open_store

        make_folder(self.out_dir)
        open_ = find_store if self._who is None else open_store
        self._store = open_(self._settings.store_folder, self._settings.store_url)
        if self._who is not None and self._store is not None and self._store.shared:
            from dictation.store.queue import Queue

            self._queue = Queue(self._store)
        return self

    def __exit__(self, kind: type[BaseException] | None, err: BaseException | None, trace: TracebackType | None) -> None:
        if self._store is not None:
            self._store.close()

    def hold(self, wanted: Made) -> Hold | None:
        """Return a recording held against other rooms' workers, None where one of them has it or has done it."""
        assert self._queue is not None, "only a department's store has a queue"
        return self._queue.hold(_key(wanted))

    @property
    def shared(self) -> bool:
        """Whether other rooms draft into the same store, so that each recording must be held."""
        return self._queue is not None

    def standing(self, recording: Recording, wanted: Made) -> Standing:
        """Return how far a recording is, by its draft's file and the store. Raises OutputError where that cannot be read."""
        if self._queue is not None and self._queue.is_done(_key(wanted)):
            return Standing.done
        try:
            content = recording.target.read_bytes()
        except FileNotFoundError:
            return Standing.new
        except OSError as err:
            raise output_error(recording.target, err) from err
        holding = self._store.holding(hashlib.sha256(content).hexdigest()) if self._store is not None else []
        if as_made(content) != wanted:
            return Standing.decided if any(map(self._is_kept, holding)) else Standing.new
        if self._who is None:
            return Standing.done
        spoken = wanted.recogniser != "text"
        there = any(not spoken or wanted.recording in one.facts.recordings for one in holding)
        return Standing.done if there else Standing.drafted

    def _is_kept(self, encounter: Encounter) -> bool:
        """Whether a draft in the store must stay the one in its file: without --take-in always, else once it is decided on."""
        return self._who is None or any(entry.draft is not None for entry in encounter.entries)

    def keep(self, recording: Recording, outcome: Outcome) -> None:
        """Write a draft, then take it into the store. Raises OutputError, InputError or StoreError."""
        assert outcome.text is not None, "only what was drafted is kept"
        make_folder(recording.target.parent)
        write_whole(recording.target, outcome.text)
        self.take_in(recording)

    def give_way(self, recording: Recording) -> None:
        """Put the draft of a recording that is drafted in parts from now on among these. Raises InputError where the store has
        it.
        """
        try:
            content = recording.target.read_bytes()
        except FileNotFoundError:
            return
        make_folder(parts_folder(recording.target))
        if self._store is not None and self._store.holding(hashlib.sha256(content).hexdigest()):
            raise InputError(
                f"{recording.name} is in the store as one examination, so it is not drafted in parts; erase that first."
            )
        write_whole(parts_folder(recording.target) / WHOLE, content)
        remove_file(recording.target)

    def take_in(self, recording: Recording) -> None:
        """Take the draft in a file into the store, with its recording; what is there already is left as it is."""
        if self._who is None or self._store is None:
            return
        from dictation.review.opening import read_file, take_in
        from dictation.store.journal import now
        from dictation.store.sound import add_sound

        file = read_file(recording.target)
        source = file.draft.source
        if recording.reference is None:
            count = len(examinations(file.draft, self._resets))
            refuse_several(file.draft, count, recording.name, recording.target)
        reference = recording.reference or suggest_reference(self._room + str(Path(recording.name).with_suffix("")))
        if reference is None:
            raise InputError(f"The name of {recording.name} cannot serve as a reference; rename it, with no name of a patient.")
        there = self._store.find(reference)
        if there is not None and there.facts.drafts and source.sha256 not in {d.recording for d in there.facts.drafts.values()}:
            raise InputError(
                f"{recording.name} was drafted and not taken into the store: there is an encounter {reference} of another "
                "recording; rename one of the two."
            )
        encounter = take_in(self._store, file, reference, self._who, now())
        if source.recogniser != "text":
            keep = self._settings.keep_sound == "yes"
            add_sound(encounter, recording.path, keep=keep, who=self._who, time=now())


def _key(wanted: Made) -> Key:
    from dictation.store.queue import Key

    return Key(wanted.recording, wanted.made_with)


@contextlib.contextmanager
def alone(out_dir: Path) -> Iterator[None]:
    """Keep a second run on this machine out of a folder of drafts. Raises OutputError where there is one already."""
    path = out_dir / LOCK
    try:
        make_folder(out_dir)
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    except OSError as err:
        raise output_error(path, err) from err
    try:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as err:
            raise OutputError(f"Another run is drafting into {out_dir}; wait for it, or choose another folder.") from err
        _clear(out_dir)
        yield
    finally:
        os.close(descriptor)  # the lock goes with it, and with the process


def _clear(out_dir: Path) -> None:
    """Remove what a killed run left half-written: kill -9 lets nobody clear up."""
    for path in out_dir.rglob(UNFINISHED):
        with contextlib.suppress(OSError):
            if time.time() - path.stat().st_mtime > LEFT_AFTER_S:
                path.unlink()
