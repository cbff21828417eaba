"""One dictation going on: sound comes in and is kept first, words come out, and a draft of all of it after each utterance.

The sound is on disk before anything else is done with it. One thread owns the recogniser: where that dies it is started again
on the sound not read yet; where it cannot be, the sound is kept all the same, to be drafted afterwards. What a screen shows is
one frozen value, made anew with each change. Imports kept, recognition, audio, record, transcript and errors.
"""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from dictation.audio import RATE_HZ, Segment
from dictation.errors import DictationError, RecogniserUnavailable
from dictation.live.kept import Kept, Mark
from dictation.recognition.listening import Utterance, WordsSoFar
from dictation.recognition.streaming import Event, Stream
from dictation.transcript import Transcript, Unread, Word, joined

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from dictation.recognition.protocol import Recogniser
    from dictation.record import DraftRecord, Side

State = Literal["beginning", "listening", "paused", "ending", "ended"]
Drafting = Callable[[Transcript, float, tuple[str, str | None]], "tuple[DraftRecord, tuple[Side, ...]]"]
"""Makes the draft so far of a transcript, given the seconds recorded and who recognised it; with the sides in force."""

TAKE_S = 0.05  # for words to come, before new sound is looked for
AT_ONCE = RATE_HZ  # samples given to the recogniser before its words are looked at again
FORCE_S = 1.0  # so often what is kept is forced to disk: what a loss of power may cost
PAUSE = np.zeros(RATE_HZ // 2, np.int16)
"""Silence kept for a pause, so that words before and after it are never one utterance."""
RESTARTS = 3
"""So often in a row, with nothing read between, the recogniser is started again."""
KEPT_ON = "The recogniser does not run; your words are not shown any more, but the sound is kept and can be drafted afterwards."
AGAIN = "The recogniser stopped and was started again; no sound is lost."


@dataclass(frozen=True, slots=True)
class Now:
    """How a dictation stands. version: counts the changes. sides: in force, none, one or both.

    late_s: seconds of sound kept that the recogniser has not come to yet. so_far: words of the utterance going on, a
    guess. utterances: those read, in order. message: what a person should know, None where all is well.
    """

    version: int = 0
    state: State = "beginning"
    recorded_s: float = 0.0
    late_s: float = 0.0
    so_far: tuple[str, ...] = ()
    utterances: tuple[Utterance, ...] = ()
    draft: DraftRecord | None = None
    sides: tuple[Side, ...] = ()
    marks: tuple[Mark, ...] = ()
    message: str | None = None


class Dictating:
    """See the module. A context manager: leaving it stops the recogniser, and keeps all that came."""

    def __init__(
        self, kept: Kept, make: Callable[[], Recogniser], drafting: Drafting, changed: Callable[[Now], None] | None = None
    ) -> None:
        """Begin, or take up a dictation that was broken off.

        make: builds the recogniser, in another process: it pickles. changed: told of each change, from another thread.
        """
        self._kept, self._make, self._drafting = kept, make, drafting
        self._changed = changed or (lambda _: None)
        self._lock = threading.Lock()  # of what is kept, and of now
        found = kept.utterances()
        if kept.samples:
            kept.mark("taken up again")
        self._now = Now(
            utterances=tuple(found), marks=tuple(kept.marks()), recorded_s=kept.duration_s,
            state="listening" if kept.samples else "beginning",
        )  # fmt: skip
        self._read_to_s = found[-1].segment.end if found else 0.0
        self._by: tuple[str, str | None] | None = None
        self._deaf = False  # no recogniser can be had any more
        self._sound: queue.SimpleQueue[NDArray[np.int16]] = queue.SimpleQueue()
        self._sound.put(kept.sound_from(self._read_to_s))
        self._over, self._left = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._listen, daemon=True)
        self._thread.start()

    def __enter__(self) -> Dictating:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Stop the recogniser and close the files, ended or not; may be called again."""
        self._left.set()
        self._thread.join()
        self._kept.close()

    @property
    def now(self) -> Now:
        """How it stands."""
        return self._now

    @property
    def recogniser(self) -> tuple[str, str | None] | None:
        """Name and model of the recogniser, None where none ever was ready."""
        return self._by

    def push(self, pcm: NDArray[np.int16]) -> float:
        """Keep the next samples, int16 (n_samples,), 16 000 Hz, mono, and return the seconds kept.

        Sound of a pause is not kept. Raises OutputError where they cannot be written: nothing of them is kept then.
        """
        with self._lock:
            if self._now.state in {"paused", "ending", "ended"}:
                return self._kept.duration_s
            self._add(pcm)
            self._now = replace(self._now, state="listening", recorded_s=self._kept.duration_s)
            return self._kept.duration_s

    def pause(self) -> None:
        """Keep no sound until ``go_on``. Raises OutputError."""
        with self._lock:
            if self._now.state not in {"beginning", "listening"}:
                return
            self._add(PAUSE)
            self._mark("paused")
        self._change(state="paused")

    def go_on(self) -> None:
        """Go on after a pause. Raises OutputError."""
        with self._lock:
            if self._now.state != "paused":
                return
            self._mark("went on")
        self._change(state="listening")

    def mark(self) -> None:
        """Mark this moment, to come back to in review. Raises OutputError."""
        with self._lock:
            self._mark("marked")
        self._change()

    def finish(self) -> None:
        """No more sound comes; what is left is read, and then the state is "ended"."""
        self._change(state="ending")
        self._over.set()

    def wait(self, timeout_s: float | None = None) -> bool:
        """Wait until it has ended, and return whether it has."""
        self._thread.join(timeout_s)
        return not self._thread.is_alive()

    def transcript(self) -> Transcript:
        """Return the words of all utterances read."""
        return joined(u.transcript for u in self._now.utterances)

    def segments(self) -> list[Segment]:
        """Return where somebody spoke, as far as it was read."""
        return [u.segment for u in self._now.utterances]

    @property
    def all_read(self) -> bool:
        """Whether the recogniser has read all the sound there is; else it is to be drafted from the file."""
        return self._now.state == "ended" and self._by is not None and not self._deaf

    def _add(self, pcm: NDArray[np.int16]) -> None:
        self._kept.add(pcm)
        self._sound.put(pcm)

    def _mark(self, what: Literal["paused", "went on", "marked", "recogniser started again"]) -> None:
        mark = self._kept.mark(what)
        self._now = replace(self._now, marks=(*self._now.marks, mark))

    def _change(self, **changes: Any) -> None:
        with self._lock:
            version = self._now.version + 1
            self._now = now = replace(self._now, version=version, recorded_s=self._kept.duration_s, **changes)
        self._changed(now)

    def _listen(self) -> None:
        """The thread that owns the recogniser: one after another, until the dictation has ended or was left."""
        failures, stream = 0, None
        try:
            while not self._left.is_set() and failures < RESTARTS:
                read_before = self._read_to_s
                stream = Stream(self._make)
                try:
                    self._follow(stream)
                    break
                except RecogniserUnavailable:
                    failures = 1 if self._read_to_s > read_before else failures + 1
                    stream.cancel()
                    if failures < RESTARTS:
                        self._begin_again()
            else:
                self._keep_on()
        except DictationError as err:  # such as a full disk: said, and the sound before it is there
            self._change(message=str(err))
        finally:
            if stream is not None:
                stream.cancel()
        if self._over.is_set() and not self._left.is_set():
            self._change(state="ended", so_far=())

    def _begin_again(self) -> None:
        """Put the sound not read yet before what comes."""
        with self._lock:
            while not self._sound.empty():
                self._sound.get()
            self._sound.put(self._kept.sound_from(self._read_to_s))
            self._mark("recogniser started again")
        self._change(so_far=(), message=AGAIN)

    def _keep_on(self) -> None:
        """No recogniser: the sound is on disk already; let go of what waits for one."""
        self._deaf = True
        self._change(so_far=(), message=KEPT_ON)
        while not (self._left.is_set() or self._over.is_set()):
            while not self._sound.empty():
                self._sound.get()
            self._left.wait(FORCE_S)
            self._kept.force()

    def _follow(self, stream: Stream) -> None:
        """Feed one recogniser and take its words. Raises RecogniserUnavailable where it dies."""
        from_s, pushed, forced = self._read_to_s, 0, time.monotonic()
        if self._now.utterances and self._now.draft is None:
            self._redraft(())
        while not self._left.is_set():
            ending = self._over.is_set()  # looked at first: all sound put before it is in the queue
            given = 0
            while not self._sound.empty() and (ending or given < AT_ONCE):
                piece = self._sound.get()
                given, pushed = given + len(piece), pushed + len(piece)
                stream.push(piece)
            if ending:
                stream.end()
            events = stream.take(TAKE_S)
            self._by = stream.recogniser or self._by
            self._handle(events, from_s)
            self._read_to_s = max(self._read_to_s, from_s + pushed / RATE_HZ - stream.behind_s)
            with self._lock:
                read_s = from_s + pushed / RATE_HZ - stream.late_s
                self._now = replace(self._now, late_s=max(0.0, self._kept.duration_s - read_s))
            if time.monotonic() - forced > FORCE_S:
                self._kept.force()
                forced = time.monotonic()
            if ending and stream.ended and not events:
                return

    def _handle(self, events: list[Event], from_s: float) -> None:
        fresh = tuple(_later(e, from_s) for e in events if isinstance(e, Utterance))
        guess = next((e.words for e in reversed(events) if isinstance(e, WordsSoFar)), None)
        if fresh:
            for utterance in fresh:
                self._kept.heard(utterance)
            self._redraft(fresh)
            self._read_to_s = fresh[-1].segment.end
        if fresh and not isinstance(events[-1], WordsSoFar):
            guess = ()
        if guess is not None and guess != self._now.so_far:
            self._change(so_far=guess)

    def _redraft(self, fresh: tuple[Utterance, ...]) -> None:
        utterances = (*self._now.utterances, *fresh)
        by = self._by or ("", None)
        draft, sides = self._drafting(joined(u.transcript for u in utterances), self._kept.duration_s, by)
        self._change(utterances=utterances, draft=draft, sides=sides, message=None)


def _later(utterance: Utterance, by_s: float) -> Utterance:
    """The utterance of a recogniser that was begun by_s into the dictation, in the dictation's own time."""
    if not by_s:
        return utterance

    def moved(at: float | None) -> float | None:
        return None if at is None else round(at + by_s, 2)

    def word(w: Word) -> Word:
        return replace(w, start=moved(w.start), end=moved(w.end))

    transcript = utterance.transcript
    later = Transcript(
        tuple(map(word, transcript.words)),
        transcript.breaks,
        tuple(map(word, transcript.second_reading)),
        tuple(Unread(u.start + by_s, u.end + by_s, u.text, u.reason) for u in transcript.unread),
    )
    return Utterance(Segment(utterance.segment.start + by_s, utterance.segment.end + by_s), later)
