"""The recording of a draft for the page's player: a stretch of it as WAV, which every browser plays, whole or by range.

Decoded sound is kept in memory for the last recordings, never on disk. Imports audio, review and reviewing.
"""

from __future__ import annotations

import re
import struct
from collections import OrderedDict
from threading import Lock

from dictation.audio import Samples, read_audio
from dictation.review.rules import Review
from dictation.reviewing import recording_of

KEPT = 2
"""Recordings kept decoded: 230 MB each where they are two hours long."""

LONGEST_S = 600.0
"""No stretch that is played at once is longer."""

_RANGE = re.compile(r"bytes=(\d*)-(\d*)")


class RecordedSound:
    """Gives stretches of recordings."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._kept: OrderedDict[str, Samples] = OrderedDict()

    def stretch(self, review: Review, start_s: float, end_s: float) -> bytes:
        """Return a stretch of the recording of a draft as a WAV file. Raises InputError where it cannot be heard."""
        samples = self._samples(review)
        start_s = min(max(0.0, start_s), samples.duration_s)
        return wav(samples.part(start_s, min(end_s, start_s + LONGEST_S)).tobytes(), samples.rate_hz)

    def _samples(self, review: Review) -> Samples:
        encounter = review.journal.encounter
        recording = encounter.facts.drafts[review.draft_sha256].recording
        gone = recording not in encounter.facts.recordings or encounter.facts.recordings[recording].deleted is not None
        with self._lock:
            if gone or recording not in self._kept:
                self._kept.pop(recording, None)
                self._kept[recording] = read_audio(recording_of(encounter, review.draft_sha256))
            self._kept.move_to_end(recording)
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
            return self._kept[recording]


def wav(pcm: bytes, rate_hz: int) -> bytes:
    """Return 16-bit mono samples as a WAV file (RIFF, PCM)."""
    head = struct.pack("<4sI4s4sIHHIIHH4sI", b"RIFF", 36 + len(pcm), b"WAVE", b"fmt ", 16, 1, 1, rate_hz, rate_hz * 2, 2, 16,
                       b"data", len(pcm))  # fmt: skip
    return head + pcm


def byte_range(header: str | None, size: int) -> tuple[int, int] | None:
    """Return the first and last byte that a header Range asks for (RFC 9110, section 14); None for all of it.

    Only a single range is answered as one. Raises ValueError for one that lies outside.
    """
    match = _RANGE.fullmatch((header or "").strip())
    if match is None or match[1] == match[2] == "":
        return None
    if not match[1]:
        first, last = max(0, size - int(match[2])), size - 1
        if int(match[2]) == 0:
            raise ValueError
    else:
        first, last = int(match[1]), min(int(match[2]) if match[2] else size - 1, size - 1)
    if first >= size or first > last:
        raise ValueError
    return first, last
