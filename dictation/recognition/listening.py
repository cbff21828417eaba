"""One recording as it comes in: where somebody speaks, the words so far, and each utterance once it has ended.

Runs in the process that decodes (streaming.py starts it), but knows nothing of processes. The final words come from one
call on the whole utterance, so they are those of a file with the same sound. That call is made as soon as the silence fills
the segment's padding, half-way to its end: if the silence lasts, the words are already there; if not, they are dropped.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from dictation.audio import RATE_HZ, Segment, SpeechFinder
from dictation.recognition.denoise import QUIET_S
from dictation.transcript import Transcript

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from dictation.recognition.protocol import Listener

KEPT_QUIET = round((QUIET_S + 1.0) * RATE_HZ)  # samples of silence kept, for the noise of the next utterance
UNDECIDED = RATE_HZ  # the latest samples, which may turn out to belong to an utterance though none is open yet
GUESS_EVERY = round(0.25 * RATE_HZ)  # new samples before the words so far are guessed anew


@dataclass(frozen=True, slots=True)
class WordsSoFar:
    """A guess at an utterance still going on, that began start seconds into the recording. For the screen alone."""

    start: float
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Utterance:
    """A finished utterance: where it was, and its transcript with times from the start of the recording."""

    segment: Segment
    transcript: Transcript


class Listening:
    """See the module. Memory is bounded by the longest segment and KEPT_QUIET."""

    def __init__(self, listener: Listener) -> None:
        self._listener = listener
        self._finder = SpeechFinder()
        self._pcm: NDArray[np.int16] = np.zeros(0, np.int16)
        self._from = 0  # where in the recording _pcm begins, in samples
        self._ended_s = 0.0  # end of the latest utterance
        self._opened_s: float | None = None  # start of the utterance whose quiet the listener has heard
        self._ready: Utterance | None = None  # read ahead, in case the silence lasts
        self._followed = -1  # samples of the open utterance the words so far rest on; -1: none, begin afresh

    @property
    def read_to(self) -> int:
        """Samples from the start of the recording that no later utterance holds."""
        quiet = self._from + len(self._pcm) - UNDECIDED if self._finder.speaking is None else 0
        return max(round(self._ended_s * RATE_HZ), quiet)

    def push(self, pcm: NDArray[np.int16]) -> Iterator[Utterance]:
        """Take the next samples; give the utterances that have ended."""
        self._pcm = np.concatenate([self._pcm, pcm])
        for segment in self._finder.push(pcm):
            yield self._end(segment)
        self._forget()

    def finish(self) -> Iterator[Utterance]:
        """The recording has ended: give what was still open."""
        for segment in self._finder.finish():
            yield self._end(segment)

    def ahead(self) -> WordsSoFar | None:
        """Use idle time: read a segment that may just have ended, or guess the words so far; None where nothing is new."""
        open_ = self._finder.speaking
        if open_ is None:
            return None
        if open_.end < self._seen_s():  # its padding is complete
            if self._ready is None or self._ready.segment != open_:
                self._ready = self._read(open_)
                return WordsSoFar(open_.start, tuple(w.said for w in self._ready.transcript.words))
            return None
        begin, end = round(open_.start * RATE_HZ), self._from + len(self._pcm)
        if self._followed >= 0 and end - self._followed < GUESS_EVERY:
            return None
        fresh = self._followed < 0
        words = self._listener.follow(self._between(begin if fresh else self._followed, end), fresh)
        self._followed = end
        return WordsSoFar(open_.start, words) if words else None

    def _end(self, segment: Segment) -> Utterance:
        done = self._ready if self._ready is not None and self._ready.segment == segment else self._read(segment)
        self._ended_s, self._opened_s, self._ready, self._followed = segment.end, None, None, -1
        return done

    def _read(self, segment: Segment) -> Utterance:
        if self._opened_s != segment.start:
            begin_s = max(self._ended_s, segment.start - QUIET_S)
            self._listener.quiet(self._between(round(begin_s * RATE_HZ), round(segment.start * RATE_HZ)))
            self._opened_s = segment.start
        self._followed = -1
        part = self._between(round(segment.start * RATE_HZ), round(segment.end * RATE_HZ))
        return Utterance(segment, self._listener.utterance(part, segment.start))

    def _between(self, begin: int, end: int) -> NDArray[np.int16]:
        return self._pcm[max(0, begin - self._from) : max(0, end - self._from)]

    def _seen_s(self) -> float:
        return (self._from + len(self._pcm)) / RATE_HZ

    def _forget(self) -> None:
        keep_from = round(self._ended_s * RATE_HZ)
        if self._finder.speaking is None:
            keep_from = max(keep_from, self._from + len(self._pcm) - KEPT_QUIET)
        else:
            keep_from = max(keep_from, round(self._finder.speaking.start * RATE_HZ) - KEPT_QUIET)
        if keep_from > self._from:
            self._pcm = self._pcm[keep_from - self._from :].copy()
            self._from = keep_from
