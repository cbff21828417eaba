"""What every recogniser offers: samples and speech segments in, a transcript out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

from dictation.audio import Samples, Segment
from dictation.transcript import Transcript

Progress = Callable[[float, float], None]


class Recogniser(Protocol):
    """name: "whisper" or "embedded". model: what it was told to use, for the record; never a machine path."""

    @property
    def name(self) -> str: ...

    @property
    def model(self) -> str | None: ...

    def recognise(self, samples: Samples, segments: Sequence[Segment], progress: Progress | None = None) -> Transcript:
        """Return the words in the segments.

        Takes:    progress, called with seconds done and seconds in all.
        Promises: the same recording and segments give the same transcript, whatever was heard before.
        """
        ...
