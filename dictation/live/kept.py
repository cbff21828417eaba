"""What a live dictation leaves on disk as it comes: its sound, the utterances read from it, and the moments marked.

A folder of its own for each dictation, for its owner alone. The sound is a WAV file whose head leaves its length open until it
is closed, so that whatever ends the program, the file is one that can be heard up to its last sample; the utterances and
marks are lines of JSON. Everything is taken up again from there. Imports audio, recognition, transcript, errors and writing.
"""

from __future__ import annotations

import contextlib
import json
import os
import struct
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, Literal

import numpy as np

from dictation.audio import RATE_HZ, Segment
from dictation.errors import OutputError, RecordError
from dictation.recognition.listening import Utterance
from dictation.transcript import Transcript, Unread, Word
from dictation.writing import output_error, sync_folder

if TYPE_CHECKING:
    from numpy.typing import NDArray

HEARD, MARKS = "heard.jsonl", "marks.jsonl"
HEAD = struct.Struct("<4sI4s4sIHHIIHH4sI")
OPEN = 0xFFFFFFFF
"""What the head of a WAV file says of a length not known yet."""
SAMPLE = 2  # bytes

MarkKind = Literal["consent given", "paused", "went on", "marked", "recogniser started again", "taken up again"]


@dataclass(frozen=True, slots=True)
class Mark:
    """A moment of the dictation, in seconds of its sound."""

    at: float
    what: MarkKind


class Kept:
    """The files of one dictation, written as it goes on. Every method that writes raises OutputError where it cannot."""

    def __init__(self, folder: Path) -> None:
        """Begin in a folder, or take up what is there: half a line or half a sample at its end is dropped."""
        self.folder = folder
        try:
            for one in (folder.parent.parent, folder.parent, folder):  # only the last of new folders would get the mode
                one.mkdir(parents=True, exist_ok=True, mode=0o700)
            self._sound = _opened(self.path)
            self._lines = {name: _opened(folder / name) for name in (HEARD, MARKS)}
            for file in self._lines.values():
                _drop_half_line(file)
            self.samples = self._take_up()
            sync_folder(folder)
        except OSError as err:
            raise output_error(folder, err) from err

    @property
    def duration_s(self) -> float:
        """Seconds of sound kept."""
        return self.samples / RATE_HZ

    @property
    def path(self) -> Path:
        """The sound file, named as its folder is: a recording is known by its name."""
        return self.folder / f"{self.folder.name}.wav"

    def add(self, pcm: NDArray[np.int16]) -> None:
        """Write the next samples, int16 (n_samples,), 16 000 Hz, mono: they outlive this process once this returns."""
        try:
            self._write(self._sound, np.ascontiguousarray(pcm, "<i2").tobytes())
        except OutputError:
            with contextlib.suppress(OSError):  # no half sample, so that what comes later is whole again
                self._sound.truncate(HEAD.size + self.samples * SAMPLE)
                self._sound.seek(0, os.SEEK_END)
            raise
        self.samples += len(pcm)

    def heard(self, utterance: Utterance) -> None:
        """Write an utterance that was read; its times are from the start of the dictation."""
        self._write_line(HEARD, {"segment": asdict(utterance.segment), **_transcript_json(utterance.transcript)})

    def mark(self, what: MarkKind) -> Mark:
        """Write a mark at the end of the sound so far, and return it."""
        mark = Mark(round(self.duration_s, 2), what)
        self._write_line(MARKS, asdict(mark))
        return mark

    def utterances(self) -> list[Utterance]:
        """Return the utterances read so far. Raises RecordError where the file is damaged."""
        return [_utterance(line) for line in self._read(HEARD)]

    def marks(self) -> list[Mark]:
        """Return the marks made so far. Raises RecordError where the file is damaged."""
        return [Mark(line["at"], line["what"]) for line in self._read(MARKS)]

    def sound_from(self, start_s: float) -> NDArray[np.int16]:
        """Return the samples kept from start_s on."""
        with self.path.open("rb") as file:
            file.seek(HEAD.size + round(start_s * RATE_HZ) * SAMPLE)
            return np.frombuffer(file.read(), "<i2").astype(np.int16)

    def force(self) -> None:
        """Force what was written to the disk itself, so that it outlives a loss of power as well."""
        try:
            for file in (self._sound, *self._lines.values()):
                os.fsync(file.fileno())
        except OSError as err:
            raise output_error(self.folder, err) from err

    def close(self) -> None:
        """Write the length into the head of the sound, and force all of it to disk; may be called again."""
        if self._sound.closed:
            return
        try:
            os.pwrite(self._sound.fileno(), _head(self.samples), 0)
        except OSError as err:
            raise output_error(self.path, err) from err
        self.force()
        for file in (self._sound, *self._lines.values()):
            file.close()

    def _take_up(self) -> int:
        """Bring an existing file to whole samples under an open head, and return how many it holds."""
        size = self._sound.seek(0, os.SEEK_END)
        count = max(0, size - HEAD.size) // SAMPLE
        os.pwrite(self._sound.fileno(), _head(None), 0)
        self._sound.truncate(HEAD.size + count * SAMPLE)
        self._sound.seek(0, os.SEEK_END)
        return count

    def _write(self, file: IO[bytes], data: bytes) -> None:
        try:
            view = memoryview(data)
            while view:  # an unbuffered file may take a part only
                view = view[file.write(view) :]
        except OSError as err:
            raise output_error(self.folder, err) from err

    def _write_line(self, name: str, value: dict[str, Any]) -> None:
        self._write(self._lines[name], json.dumps(value, separators=(",", ":")).encode() + b"\n")

    def _read(self, name: str) -> Iterator[dict[str, Any]]:
        for number, line in enumerate((self.folder / name).read_bytes().splitlines(), 1):
            try:
                yield json.loads(line)
            except ValueError as err:
                raise RecordError(f"Line {number} of {name} of a dictation is damaged; draft its sound again.") from err


def _opened(path: Path) -> IO[bytes]:
    """The file, unbuffered: what is written is the system's at once, and outlives this process."""
    descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    file = os.fdopen(descriptor, "r+b", buffering=0)
    file.seek(0, os.SEEK_END)
    return file


def _drop_half_line(file: IO[bytes]) -> None:
    size = file.seek(0, os.SEEK_END)
    file.seek(0)
    content = file.read()
    whole = content.rfind(b"\n") + 1
    if whole < size:
        file.truncate(whole)
    file.seek(0, os.SEEK_END)


def _head(samples: int | None) -> bytes:
    """The head of a WAV file, 16-bit mono. samples: None where the length is open."""
    length = OPEN if samples is None or samples * SAMPLE + HEAD.size > OPEN else samples * SAMPLE
    whole = OPEN if length == OPEN else length + HEAD.size - 8
    return HEAD.pack(
        b"RIFF", whole, b"WAVE", b"fmt ", 16, 1, 1, RATE_HZ, RATE_HZ * SAMPLE, SAMPLE, 8 * SAMPLE, b"data", length
    )  # fmt: skip


def _transcript_json(transcript: Transcript) -> dict[str, Any]:
    return asdict(transcript) | {"breaks": sorted(transcript.breaks)}


def _utterance(line: dict[str, Any]) -> Utterance:
    try:
        transcript = Transcript(
            tuple(Word(**word) for word in line["words"]),
            frozenset(line["breaks"]),
            tuple(Word(**word) for word in line["second_reading"]),
            tuple(Unread(**one) for one in line["unread"]),
        )
        return Utterance(Segment(**line["segment"]), transcript)
    except (KeyError, TypeError) as err:
        raise RecordError("An utterance of a dictation does not fit; draft its sound again.") from err
