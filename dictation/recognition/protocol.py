"""What every recogniser offers: samples and speech segments in, a transcript out; or utterance by utterance, live."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Protocol

from dictation.audio import Samples, Segment
from dictation.transcript import Transcript

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Progress = Callable[[float, float], None]


class Listener(Protocol):
    """Hears one recording in its order, stretch by stretch. Sound: int16 (n_samples,), 16 000 Hz, mono."""

    def quiet(self, pcm: NDArray[np.int16]) -> None:
        """Take sound in which nobody speaks, from just before the next utterance; at most the last QUIET_S are of use."""
        ...

    def utterance(self, pcm: NDArray[np.int16], start_s: float) -> Transcript:
        """Return the words of one whole segment that begins start_s into the recording.

        Promises: depends on this sound and the quiet before it alone, not on follow() nor on other utterances.
        """
        ...

    def follow(self, pcm: NDArray[np.int16], fresh: bool) -> tuple[str, ...]:
        """Return the words so far of an utterance still going on; a guess, for the screen alone, empty where there is none.

        pcm: the next of its samples, all of them so far where fresh.
        """
        ...


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

    def begin(self) -> Listener:
        """Return a listener for a recording that is still going on; one at a time."""
        ...
