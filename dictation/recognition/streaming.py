"""Live recognition: push samples in, take words out. Decoding runs in a process of its own.

The decoder holds Python's interpreter lock while it works, so in the caller's process it would stop the microphone and the
screen. Whatever happens to that process, no sound is lost: what it has not finished is kept here, and `unread` gives it back.
"""

from __future__ import annotations

import multiprocessing
import queue
import signal
import threading
import time
from collections import deque
from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from dictation.audio import RATE_HZ
from dictation.errors import DictationError, RecogniserStopped
from dictation.recognition.listening import Listening, Utterance, WordsSoFar
from dictation.recognition.protocol import Recogniser

if TYPE_CHECKING:
    from multiprocessing.connection import Connection

    from numpy.typing import NDArray

Event = Utterance | WordsSoFar
PIECE = RATE_HZ // 10  # samples sent at once
GRACE_S = 2.0  # for the process to end by itself
STOPPED = "The recogniser stopped while it listened; the sound since its last utterance is kept, start it again on that."


class Stream:
    """One recording in progress, decoded elsewhere. A context manager: leaving it ends the process, finished or not.

    make: builds the recogniser, called in the other process: a function of a module, or a partial of one, that pickles.
    Memory here is bounded by how far the decoder is behind (behind_s), 2 MB a minute.
    Every method but cancel raises RecogniserStopped once the process has died, and what make raised if it could not begin.
    """

    def __init__(self, make: Callable[[], Recogniser]) -> None:
        context = multiprocessing.get_context("spawn")  # a fork of a process with threads can hang
        self._pipe, theirs = context.Pipe()
        self._process = context.Process(target=_work, args=(theirs, make), daemon=True)
        self._process.start()
        theirs.close()
        self._unread: deque[NDArray[np.int16]] = deque()  # pushed, and not yet part of what was read
        self._unread_from = 0  # where in the recording the first of them begins, in samples
        self._pushed = self._looked_at = 0
        self._done = self._ended = False
        self._recogniser: tuple[str, str | None] | None = None
        self._events: list[Event] = []
        self._failure: DictationError | None = None
        self._lock = threading.Lock()
        self._outbox: queue.SimpleQueue[bytes | None] = queue.SimpleQueue()
        self._sender = threading.Thread(target=_send, args=(self._pipe, self._outbox), daemon=True)
        self._sender.start()

    def __enter__(self) -> Stream:
        return self

    def __exit__(self, *_: object) -> None:
        self.cancel()

    @property
    def pid(self) -> int | None:
        """The process that decodes."""
        return self._process.pid

    @property
    def recogniser(self) -> tuple[str, str | None] | None:
        """Name and model of what decodes, as a record states them; None until it is ready."""
        return self._recogniser

    @property
    def ended(self) -> bool:
        """Whether all that was pushed before ``end`` has been read."""
        return self._ended

    @property
    def behind_s(self) -> float:
        """Seconds of sound pushed and not yet read, a running utterance and the silence now included."""
        return (self._pushed - self._unread_from) / RATE_HZ

    @property
    def late_s(self) -> float:
        """Seconds of sound pushed that the decoder has not come to yet: how late what it says is."""
        return (self._pushed - self._looked_at) / RATE_HZ

    def push(self, pcm: NDArray[np.int16]) -> None:
        """Take the next samples, int16 (n_samples,), 16 000 Hz, mono; returns at once."""
        self._stop_if_dead()
        with self._lock:
            for at in range(0, len(pcm), PIECE):
                piece = np.array(pcm[at : at + PIECE], "<i2")
                self._unread.append(piece)
                self._pushed += len(piece)
                self._outbox.put(piece.tobytes())

    def take(self, timeout_s: float = 0.0) -> list[Event]:
        """Return what has come since, in order; waits up to timeout_s for the first of it."""
        self._receive(timeout_s)
        if not self._events and self._failure is not None:
            raise self._failure
        events, self._events = self._events, []
        return events

    def end(self) -> None:
        """The recording is over: ``take`` gives what is left, until ``ended``."""
        self._stop_if_dead()
        if not self._done:
            self._done = True
            self._outbox.put(b"")

    def finish(self, timeout_s: float | None = None) -> list[Event]:
        """The recording is over: wait for what is left and return it.

        timeout_s: None waits as long as it takes; when it has passed, raises RecogniserStopped.
        """
        self.end()
        until = None if timeout_s is None else time.monotonic() + timeout_s
        events: list[Event] = []
        while not self._ended:
            if until is not None and time.monotonic() > until:
                raise RecogniserStopped(STOPPED)
            events += self.take(0.2)
        return events + self.take()

    def unread(self) -> tuple[float, NDArray[np.int16]]:
        """Return the sound that is in no utterance given yet, and where in the recording it begins, in seconds.

        To be pushed to a new Stream after RecogniserStopped; the times of that one begin there.
        """
        with self._lock:
            return self._unread_from / RATE_HZ, np.concatenate([np.zeros(0, np.int16), *self._unread])

    def cancel(self) -> None:
        """End the process now, whatever it was doing; may be called again. `unread` still gives what was not read."""
        self._outbox.put(None)
        if self._process.is_alive() and not self._ended:
            self._process.kill()
        self._process.join(GRACE_S)
        if self._process.is_alive():
            self._process.kill()
            self._process.join(GRACE_S)
        self._sender.join(GRACE_S)
        self._pipe.close()
        if not self._ended and self._failure is None:
            self._failure = RecogniserStopped("This recording was cancelled; start another.")

    def _receive(self, timeout_s: float) -> None:
        """Take in every message that is there, waiting up to timeout_s where there is no event yet."""
        until = time.monotonic() + timeout_s
        while not self._ended and self._failure is None:
            try:
                if not self._pipe.poll(0 if self._events else max(0.0, until - time.monotonic())):
                    return
                kind, value = self._pipe.recv()
            except (EOFError, OSError):
                self._failure = RecogniserStopped(STOPPED)
                return
            if kind == "event":
                self._events.append(value)
                if isinstance(value, Utterance):
                    self._forget(round(value.segment.end * RATE_HZ))
            elif kind == "read_to":
                read_to, self._looked_at = value
                self._forget(read_to)
            elif kind == "ready":
                self._recogniser = value
            elif kind == "failed":
                self._failure = value
            else:
                self._forget(self._pushed)
                self._looked_at = self._pushed
                self._ended = True

    def _forget(self, read_to: int) -> None:
        with self._lock:
            while self._unread and self._unread_from < read_to:
                first = self._unread.popleft()
                extra = self._unread_from + len(first) - read_to
                if extra > 0:
                    self._unread.appendleft(first[-extra:])
                self._unread_from += len(first) - max(0, extra)

    def _stop_if_dead(self) -> None:
        if not self._process.is_alive():
            self._receive(0.0)
        if self._failure is not None:
            raise self._failure


def _send(pipe: Connection, outbox: queue.SimpleQueue[bytes | None]) -> None:
    """Pass the outbox on; a thread of its own, because a full pipe waits for the decoder."""
    while (piece := outbox.get()) is not None:
        try:
            pipe.send_bytes(piece)
        except (OSError, ValueError):
            return  # the other process has ended: take() says so


def _work(pipe: Connection, make: Callable[[], Recogniser]) -> None:
    """What runs in the other process, until the sound ends or the caller goes away."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the caller's to answer
    try:
        recogniser = make()
        listening = Listening(recogniser.begin())
        pipe.send(("ready", (recogniser.name, recogniser.model)))
        over, looked_at = False, 0
        while not over:
            pieces = [pipe.recv_bytes()]
            while pipe.poll():
                pieces.append(pipe.recv_bytes())
            over = b"" in pieces
            pcm = np.frombuffer(b"".join(pieces), "<i2").astype(np.int16)
            looked_at += len(pcm)
            for utterance in listening.push(pcm):
                pipe.send(("event", utterance))
            if over:
                for utterance in listening.finish():
                    pipe.send(("event", utterance))
                break
            pipe.send(("read_to", (listening.read_to, looked_at)))
            guess = listening.ahead()
            if guess is not None:
                pipe.send(("event", guess))
        pipe.send(("end", None))
    except (EOFError, BrokenPipeError, ConnectionResetError):
        return  # nobody listens any more
    except DictationError as err:
        pipe.send(("failed", err))
    except Exception as err:
        name = type(err).__name__
        pipe.send(("failed", RecogniserStopped(f"A fault in the program ({name}) stopped the recogniser; start it again.")))
