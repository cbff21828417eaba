"""Where live sound comes from at a terminal: the microphone of this machine, or a file played in its own time.

The microphone is reached through sounddevice, an optional extra that is imported here alone and when it is used.
"""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from dictation.audio import RATE_HZ, read_audio
from dictation.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import NDArray

PIECE = RATE_HZ // 20  # samples at once: 50 ms
NO_LIBRARY = (
    "Listening at the terminal needs the extra packages: install hand-examination-dictation[sound], and PortAudio from your "
    "system's packages; or dictate into the page."
)


@contextlib.contextmanager
def microphone(take: Callable[[NDArray[np.int16]], object], device: str | None = None) -> Iterator[str]:
    """Pass on what the microphone hears, int16 (n_samples,), 16 000 Hz, mono, from another thread; gives the device's name.

    device: part of its name, the system's own choice unless given. Raises InputError where there is no microphone, or no
    library to use it.
    """
    try:
        import sounddevice
    except (ImportError, OSError) as err:  # OSError: PortAudio is not there
        raise InputError(NO_LIBRARY) from err

    def hear(data: Any, frames: int, time: object, status: object) -> None:
        take(np.frombuffer(data, "<i2").astype(np.int16))

    try:
        stream = sounddevice.RawInputStream(RATE_HZ, PIECE, device=device, channels=1, dtype="int16", callback=hear)
        name = str(sounddevice.query_devices(stream.device, "input")["name"])
    except (sounddevice.PortAudioError, ValueError) as err:
        raise InputError(
            "There is no such microphone, or another program holds it; connect one, or name it with --device."
        ) from err
    with stream:
        yield name


@contextlib.contextmanager
def playing(take: Callable[[NDArray[np.int16]], object], file: Path) -> Iterator[str]:
    """Pass on a sound file in its own time, as a microphone would; gives its name. Raises what ``read_audio`` does."""
    samples, over = read_audio(file), threading.Event()

    def play() -> None:
        begun = time.monotonic()
        for at in range(0, len(samples.pcm), PIECE):
            if over.wait(max(0.0, begun + (at + PIECE) / RATE_HZ - time.monotonic())):
                return
            take(samples.pcm[at : at + PIECE])

    thread = threading.Thread(target=play, daemon=True)
    thread.start()
    try:
        yield file.name
    finally:
        over.set()
        thread.join()
