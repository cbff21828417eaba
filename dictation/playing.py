"""Plays a stretch of a recording, so that a person can hear again what a statement rests on.

Through sounddevice where it is installed with a sound library that works, else through the machine's own player; what is
played goes to it through a pipe and is written to no file. Imports audio and errors.
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from dictation.audio import RATE_HZ, Samples, read_audio
from dictation.errors import AudioError

MARGIN_S = 0.7
"""Heard before and after the words, so that they do not begin and end in mid-word."""

PLAYERS: tuple[tuple[str, ...], ...] = (
    ("aplay", "-q", "-t", "raw", "-f", "S16_LE", "-r", str(RATE_HZ), "-c", "1", "-"),
    ("pacat", "--playback", "--format=s16le", f"--rate={RATE_HZ}", "--channels=1"),
)
"""Players of common systems that take plain samples on standard input: ALSA's and PulseAudio's."""

_NONE = "There is nothing to play sound with here; install the extra named play, or open the recording in a player, at {at}."
_SILENT = "The sound could not be played: {why}. Check the loudspeaker, or open the recording in a player, at {at}."

Span = tuple[float, float]


def player(file: Callable[[], Path]) -> Callable[[Sequence[Span]], None]:
    """Return what plays stretches of a recording, given in seconds, one after the other.

    file: gives the recording, or raises a DictationError saying what became of it; asked for, and read, when something is
    first played. What is returned raises AudioError where nothing can be played, InputError where the file cannot be read.
    """
    read: list[Samples] = []

    def play(spans: Sequence[Span]) -> None:
        if not read:
            read.append(read_audio(file()))
        for start, end in widened(spans):
            _play(read[0].part(start, end).tobytes(), f"{int(start) // 60}:{int(start) % 60:02}")

    return play


def widened(spans: Iterable[Span]) -> list[Span]:
    """Return the stretches with a margin around each, those that meet made one, in the order of the recording.

    >>> widened([(5.0, 6.0), (1.0, 2.0), (2.5, 3.0)])
    [(0.3, 3.7), (4.3, 6.7)]
    """
    out: list[Span] = []
    for start, end in sorted((max(0.0, round(start - MARGIN_S, 3)), round(end + MARGIN_S, 3)) for start, end in spans):
        if out and start <= out[-1][1]:
            out[-1] = (out[-1][0], max(end, out[-1][1]))
        else:
            out.append((start, end))
    return out


def _play(pcm: bytes, at: str) -> None:
    """Play int16 samples, mono, 16 000 Hz, and return once they were heard."""
    try:
        import sounddevice
    except (ImportError, OSError):  # not installed; no sound library
        _play_by_system(pcm, at, _NONE.format(at=at))
        return
    try:
        with sounddevice.RawOutputStream(samplerate=RATE_HZ, channels=1, dtype="int16") as stream:
            stream.write(pcm)
    except sounddevice.PortAudioError:
        _play_by_system(pcm, at, _SILENT.format(why="the sound library found no way to play it", at=at))


def _play_by_system(pcm: bytes, at: str, otherwise: str) -> None:
    """Play with the first of PLAYERS that is there. otherwise: what is said where none is."""
    for name, *options in PLAYERS:
        if found := shutil.which(name):
            try:
                subprocess.run([found, *options], input=pcm, check=True, capture_output=True)
            except (OSError, subprocess.CalledProcessError) as err:
                raise AudioError(_SILENT.format(why=f"{name} found no way to play it", at=at)) from err
            return
    raise AudioError(otherwise)
