"""Ctrl-C, once: the command unwinds and clears up, and a person who leans on the key does not disturb that.

Imports nothing of ours.
"""

from __future__ import annotations

import contextlib
import signal
import sys
import threading
import time
from collections.abc import Iterator
from types import FrameType

REPEAT_S = 2.0
"""Presses of Ctrl-C this close together count as one."""

AGAIN_S = 0.05
"""After this a press is tried again that Python dropped."""


class Interrupted(KeyboardInterrupt):
    """Ctrl-C was pressed.

    A type of its own: once a plain KeyboardInterrupt has passed through ``exec`` of a text, as libraries do
    while they load, CPython 3.11 ends the process by the signal whatever exit code is asked for.
    """


_pressed: float | None = None
"""When Ctrl-C was last heard by the command that runs."""


def stop_if_pressed() -> None:
    """Raise Interrupted where Ctrl-C was pressed and the exception was swallowed, as by a library that catches all.

    For the pauses of a long command, between one file and the next.
    """
    if _pressed is not None:
        raise Interrupted


@contextlib.contextmanager
def interruptible() -> Iterator[None]:
    """Have Ctrl-C raise Interrupted, once, for the length of a command.

    Once it was raised the process is about to end, and Ctrl-C stays without effect. Where Ctrl-C is ignored
    already, as in a background job, and outside the main thread, nothing changes.
    """
    global _pressed
    before = signal.getsignal(signal.SIGINT)
    if threading.current_thread() is not threading.main_thread() or before is signal.SIG_IGN:
        yield
        return
    _pressed = None
    unraisable_before = sys.unraisablehook

    def press_again() -> None:
        if signal.getsignal(signal.SIGINT) is interrupt:
            signal.raise_signal(signal.SIGINT)

    def unraisable(lost: sys.UnraisableHookArgs) -> None:
        # Python drops what is raised while it destroys an object, as while a module loads: the press would be lost.
        global _pressed
        if lost.exc_type is Interrupted:
            _pressed = None
            threading.Timer(AGAIN_S, press_again).start()
        else:
            unraisable_before(lost)

    def interrupt(number: int, frame: FrameType | None) -> None:
        global _pressed
        repeated = _pressed is not None and time.monotonic() - _pressed < REPEAT_S
        if not repeated:
            _pressed = time.monotonic()
            raise Interrupted

    signal.signal(signal.SIGINT, interrupt)
    sys.unraisablehook = unraisable
    try:
        yield
    finally:
        sys.unraisablehook = unraisable_before
        signal.signal(signal.SIGINT, before if _pressed is None else signal.SIG_IGN)
        _pressed = None
