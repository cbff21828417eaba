"""Sound from any file PyAV can read, as 16 kHz mono, and where in it somebody speaks.

The sound is kept as 16-bit integers: two hours are 230 MB, half of what float32 would take. Voice activity is found by
the model that ships inside faster-whisper, run in blocks that carry its state, so that results do not depend on the
block length. Imports nothing of ours but errors.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from dictation.errors import AudioError, InputError

if TYPE_CHECKING:
    from numpy.typing import NDArray

RATE_HZ = 16_000
FRAME = 512  # samples the voice-activity model judges at a time: 32 ms
CONTEXT = 64  # samples of the frame before that it also looks at
BLOCK_FRAMES = 1000  # 32 s at once: bounds the memory, changes no result
SPEECH_LEVEL = 0.5  # the model's own default
SILENCE_LEVEL = 0.35  # the same: speech goes on until the level falls under this
SHORTEST_SPEECH_S = 0.1
PAUSE_S = 12 * FRAME / RATE_HZ  # silence that ends a segment: 384 ms
PADDING_S = 0.2  # kept on either side, half a pause at most, so that segments never overlap
LONGEST_SEGMENT_S = 25.0  # longer speech is cut where the voice is weakest
CANCELLED = 0.01  # a mix with less than this share of its loudest channel's power has lost it
SHORTFALL_S = 0.2  # sound missing at the end that still counts as a whole file: codec delay and rounding


@dataclass(frozen=True, eq=False)
class Samples:
    """One recording. pcm: int16 (n_samples,), 16 000 Hz, mono. sha256: of the file. mixed_down: it had more channels."""

    pcm: NDArray[np.int16]
    sha256: str
    mixed_down: bool = False
    rate_hz: int = RATE_HZ

    @property
    def values(self) -> NDArray[np.float32]:
        """The whole recording as float32 (n_samples,), −1 to 1; made anew at each call."""
        return self.pcm.astype(np.float32) / np.float32(32768)

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return len(self.pcm) / self.rate_hz

    def part(self, start_s: float, end_s: float) -> NDArray[np.int16]:
        """Return the samples from start to end, in seconds; a view, shorter at the ends of the recording."""
        return self.pcm[max(0, round(start_s * self.rate_hz)) : max(0, round(end_s * self.rate_hz))]


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch of speech, in seconds from the start of the recording."""

    start: float
    end: float


def read_audio(path: Path) -> Samples:
    """Return the first sound stream of a file as 16 kHz mono; more channels are averaged.

    Where they cancel each other, as with the wires of one swapped, the loudest alone is taken.

    Raises InputError for a missing file or a folder, AudioError for anything that is not whole, readable sound.
    """
    if path.is_dir():
        raise InputError(f"{path} is a folder; name a sound file in it.")
    try:
        with path.open("rb") as file:
            sha256 = hashlib.file_digest(file, "sha256").hexdigest()
            size = file.tell()
            whole = _ends_as_ogg_should(path, size) and _as_long_as_riff_says(path, size)
    except FileNotFoundError as err:
        raise InputError(f"There is no file {path}; check the name and the folder.") from err
    except OSError as err:
        raise InputError(f"{path} cannot be opened ({err.strerror}); check its permissions.") from err
    if size == 0:
        raise AudioError(f"{path} is empty (0 bytes); record or copy it again.")
    if not whole:
        raise AudioError(f"{path} breaks off before its end; copy or record it again.")
    pcm, channels = _decode(path)
    if len(pcm) == 0:
        raise AudioError(f"{path} holds no sound (0 seconds); record or copy it again.")
    if channels > 1:
        pcm = _unless_cancelled(pcm, path)
    return Samples(pcm, sha256, mixed_down=channels > 1)


def _decode(path: Path) -> tuple[NDArray[np.int16], int]:
    import av

    data = bytearray()
    try:
        with av.open(str(path)) as container:
            if not container.streams.audio:
                raise AudioError(f"{path} has no sound in it; name a sound file, or a film with a sound track.")
            stream = container.streams.audio[0]
            declared_s = _declared_s(container, stream, path)
            resampler = av.AudioResampler(format="s16", layout="mono", rate=RATE_HZ)
            for frame in container.decode(stream):
                for piece in resampler.resample(frame):
                    data += _bytes(piece)
            for piece in resampler.resample(None):
                data += _bytes(piece)
            channels = stream.codec_context.channels
    except av.error.FFmpegError as err:
        heard_s = len(data) / 2 / RATE_HZ
        if heard_s > 0:
            raise AudioError(f"{path} is damaged after {heard_s:.1f} seconds of sound; copy or record it again.") from err
        raise AudioError(f"{path} is not sound that can be read, or is damaged; try another file.") from err
    pcm = np.frombuffer(data, dtype="<i2")
    if len(pcm) and len(pcm) / RATE_HZ < declared_s - SHORTFALL_S:
        raise AudioError(
            f"{path} breaks off after {len(pcm) / RATE_HZ:.1f} of {declared_s:.1f} seconds; copy or record it again."
        )
    return pcm, channels


def _unless_cancelled(mixed: NDArray[np.int16], path: Path) -> NDArray[np.int16]:
    """Return the mix of a file's channels, or its loudest channel where the mix has next to nothing of it."""
    powers = sum((np.sum(piece.astype(np.float64) ** 2, axis=1) for piece in _channels(path)), np.zeros(1))
    power = sum(float(np.sum(part.astype(np.float64) ** 2)) for part in np.array_split(mixed, 1 + len(mixed) // RATE_HZ))
    if power >= CANCELLED * powers.max():
        return mixed
    loudest = int(powers.argmax())
    return np.concatenate([piece[loudest] for piece in _channels(path)])


def _channels(path: Path) -> Iterator[NDArray[np.int16]]:
    """Yield the sound of a file that was read before, int16 (channels, n), piece by piece."""
    import av

    with av.open(str(path)) as container:
        resampler = av.AudioResampler(format="s16p", rate=RATE_HZ)
        for frame in chain(container.decode(container.streams.audio[0]), [None]):
            for piece in resampler.resample(frame):
                yield np.asarray(piece.to_ndarray(), np.int16)


def _declared_s(container: Any, stream: Any, path: Path) -> float:
    """The length the file gives itself, 0 where it gives none or where FFmpeg only guesses it from the bit rate."""
    if container.format.name in ("mp3", "aac"):
        with path.open("rb") as file:
            head = file.read(65_536)
        if b"Xing" not in head and b"Info" not in head:
            return 0.0
    own = float(stream.duration * stream.time_base) if stream.duration and stream.time_base else 0.0
    only_sound = all(other.type == "audio" for other in container.streams)
    return max(own, container.duration / 1_000_000 if container.duration and only_sound else 0.0)


def _bytes(piece: Any) -> bytes:
    # A plane can be longer than its sound, by padding.
    return bytes(piece.planes[0])[: piece.samples * 2]


def _ends_as_ogg_should(path: Path, size: int) -> bool:
    """False for an Ogg file whose last page is cut or lacks the end mark (RFC 3533, section 6); True for all else.

    FFmpeg reads such a file without a word: its length is taken from the last page that is there.
    """
    with path.open("rb") as file:
        if file.read(4) != b"OggS":
            return True
        start = max(0, size - 131_072)  # a page is at most 65 307 bytes
        file.seek(start)
        tail = file.read()
    at = tail.rfind(b"OggS")
    if at < 0 or at + 27 > len(tail):
        return False
    segments = tail[at + 26]
    table = tail[at + 27 : at + 27 + segments]
    length = 27 + segments + sum(table)
    return len(table) == segments and at + length <= len(tail) and bool(tail[at + 5] & 4)


def _as_long_as_riff_says(path: Path, size: int) -> bool:
    """False for a WAV file shorter than its head says; true where the head leaves the length open, and for all else.

    FFmpeg believes the file, not the head.
    """
    with path.open("rb") as file:
        head = file.read(8)
    said = int.from_bytes(head[4:8], "little")
    return head[:4] != b"RIFF" or said in (0, 0xFFFFFFFF) or said + 8 <= size + 1  # one byte of padding may be left out


def resampled(pcm: NDArray[np.int16], rate_hz: int) -> NDArray[np.int16]:
    """Return sound of 16 000 Hz at another rate; taken for 16 000 Hz again, it is that sound at another speed."""
    if rate_hz == RATE_HZ or not len(pcm):
        return pcm
    import av

    whole = av.AudioFrame.from_ndarray(np.ascontiguousarray(pcm, np.int16)[None, :], format="s16", layout="mono")
    whole.sample_rate = RATE_HZ
    resampler = av.AudioResampler(format="s16", layout="mono", rate=rate_hz)
    return np.concatenate([piece.to_ndarray()[0] for given in (whole, None) for piece in resampler.resample(given)])


def find_speech(samples: Samples) -> list[Segment]:
    """Return the stretches of speech in order, none overlapping; an empty list where nobody speaks."""
    finder = SpeechFinder()
    segments: list[Segment] = []
    for at in range(0, len(samples.pcm), FRAME * BLOCK_FRAMES):
        segments += finder.push(samples.pcm[at : at + FRAME * BLOCK_FRAMES])
    return segments + finder.finish()


class SpeechFinder:
    """Finds speech in sound that comes bit by bit; the segments do not depend on how it was cut into bits.

    A segment is given as soon as PAUSE_S of silence follow it, so that a stream and a file have the same ones. Memory is
    bounded by LONGEST_SEGMENT_S.
    """

    def __init__(self) -> None:
        from faster_whisper.vad import get_vad_model

        self._session = get_vad_model().session
        self._h = self._c = np.zeros((1, 1, 128), np.float32)
        self._before = np.zeros(CONTEXT, np.float32)
        self._rest = np.zeros(0, np.int16)  # less than a frame
        self._seen = 0  # samples pushed
        self._frames = 0  # frames judged
        self._levels: list[float] = []  # since _start
        self._start = self._last = -1  # frames: where the running speech began, and its latest speech
        self._cut = False  # the running speech is the rest of a longer stretch
        self._ended_s = 0.0  # end of the segment before

    @property
    def speaking(self) -> Segment | None:
        """The segment now open, as it will be if only silence follows; None where there is none long enough yet."""
        if self._start < 0 or not self._long_enough():
            return None
        return Segment(self._begin_s(), min(self._seen / RATE_HZ, (self._last + 1) * FRAME / RATE_HZ + PADDING_S))

    def push(self, pcm: NDArray[np.int16]) -> list[Segment]:
        """Take the next samples; return the segments that have ended."""
        self._seen += len(pcm)
        pcm = np.concatenate([self._rest, pcm])
        whole = len(pcm) - len(pcm) % FRAME
        self._rest = pcm[whole:].copy()
        return list(self._follow(self._judge(pcm[:whole])))

    def finish(self) -> list[Segment]:
        """The sound has ended: return the segments that were still open."""
        found = list(self._follow(self._judge(np.pad(self._rest, (0, -len(self._rest) % FRAME)))))
        self._rest = self._rest[:0]
        if self._start >= 0 and self._long_enough():
            found.append(self._segment(self._last + 1, PADDING_S))
        self._start = -1
        return found

    def _judge(self, pcm: NDArray[np.int16]) -> list[float]:
        """The model's probability of speech, one a frame; pcm: whole frames."""
        if not len(pcm):
            return []
        sound = pcm.astype(np.float32) / np.float32(32768)
        joined = np.concatenate([self._before, sound])
        frames = np.lib.stride_tricks.sliding_window_view(joined, FRAME + CONTEXT)[::FRAME]
        output, self._h, self._c = self._session.run(None, {"input": np.ascontiguousarray(frames), "h": self._h, "c": self._c})
        self._before = sound[-CONTEXT:]
        levels: list[float] = np.asarray(output, np.float32).reshape(-1).tolist()
        return levels

    def _follow(self, levels: Sequence[float]) -> Iterator[Segment]:
        """Speech goes from a frame over SPEECH_LEVEL until PAUSE_S under SILENCE_LEVEL."""
        for level in levels:
            i, self._frames = self._frames, self._frames + 1
            if self._start < 0:
                if level >= SPEECH_LEVEL:
                    self._start = self._last = i
                    self._levels = [level]
                continue
            self._levels.append(level)
            if level >= SILENCE_LEVEL:
                self._last = i
                if self._last + 1 - self._start > LONGEST_SEGMENT_S * RATE_HZ // FRAME:
                    yield self._cut_off()
            elif i - self._last >= PAUSE_S * RATE_HZ / FRAME:
                if self._long_enough():
                    yield self._segment(self._last + 1, PADDING_S)
                self._start, self._cut = -1, False

    def _long_enough(self) -> bool:
        return self._cut or self._last + 1 - self._start >= SHORTEST_SPEECH_S * RATE_HZ / FRAME

    def _cut_off(self) -> Segment:
        """Speech that is too long is cut where the voice is weakest in its second half."""
        longest = int(LONGEST_SEGMENT_S * RATE_HZ / FRAME)
        cut = longest // 2 + int(np.argmin(self._levels[longest // 2 : longest]))
        done = self._segment(self._start + cut, 0.0)  # no padding: the rest begins where this ends
        self._start, self._cut = self._start + cut, True
        del self._levels[:cut]
        return done

    def _begin_s(self) -> float:
        begin_s = self._start * FRAME / RATE_HZ
        room_s = begin_s - self._ended_s if self._ended_s else begin_s
        return begin_s - max(0.0, min(PADDING_S, room_s))

    def _segment(self, end_frame: int, padding_s: float) -> Segment:
        begin_s = self._begin_s()
        self._ended_s = min(self._seen / RATE_HZ, end_frame * FRAME / RATE_HZ + padding_s)
        return Segment(begin_s, self._ended_s)
