"""Sound from any file PyAV can read, as 16 kHz mono, and where in it somebody speaks.

The sound is kept as 16-bit integers: two hours are 230 MB, half of what float32 would take. Voice activity is found by
the model that ships inside faster-whisper, run in blocks that carry its state, so that results do not depend on the
block length. Imports nothing of ours but errors.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
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
PAUSE_S = 0.4  # silence that ends a segment
PADDING_S = 0.2  # kept on either side, half a pause at most, so that segments never overlap
LONGEST_SEGMENT_S = 25.0  # longer speech is cut where the voice is weakest
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


def find_speech(samples: Samples) -> list[Segment]:
    """Return the stretches of speech in order, none overlapping; an empty list where nobody speaks."""
    levels = np.concatenate([*_speech_levels(samples.pcm), np.zeros(0, np.float32)])
    segments: list[Segment] = []
    for start, end in _split(levels, _stretches(levels)):
        pad_before = PADDING_S if not segments else min(PADDING_S, (start * FRAME / RATE_HZ - segments[-1].end))
        segments.append(
            Segment(
                max(0.0, start * FRAME / RATE_HZ - max(0.0, pad_before)),
                min(samples.duration_s, end * FRAME / RATE_HZ + PADDING_S),
            )
        )
    # A cut inside speech leaves no room for padding: the earlier segment ends where the later starts.
    for i, after in enumerate(segments[1:]):
        segments[i] = Segment(segments[i].start, min(segments[i].end, after.start))
    return segments


def _speech_levels(pcm: NDArray[np.int16]) -> Iterator[NDArray[np.float32]]:
    """Yield the model's probability of speech, one a frame of 512 samples, block by block."""
    from faster_whisper.vad import get_vad_model

    session = get_vad_model().session
    h = c = np.zeros((1, 1, 128), np.float32)
    before = np.zeros(CONTEXT, np.float32)
    for at in range(0, len(pcm), FRAME * BLOCK_FRAMES):
        sound = pcm[at : at + FRAME * BLOCK_FRAMES].astype(np.float32) / np.float32(32768)
        sound = np.pad(sound, (0, -len(sound) % FRAME))
        joined = np.concatenate([before, sound])
        frames = np.lib.stride_tricks.sliding_window_view(joined, FRAME + CONTEXT)[::FRAME]
        output, h, c = session.run(None, {"input": np.ascontiguousarray(frames), "h": h, "c": c})
        before = sound[-CONTEXT:]
        yield np.asarray(output, np.float32).reshape(-1)


def _stretches(levels: NDArray[np.float32]) -> list[tuple[int, int]]:
    """Return spans of frames with speech: from a frame over SPEECH_LEVEL until PAUSE_S under SILENCE_LEVEL."""
    pause, shortest = PAUSE_S * RATE_HZ / FRAME, SHORTEST_SPEECH_S * RATE_HZ / FRAME
    found: list[tuple[int, int]] = []
    start = last = -1
    for i, level in enumerate(levels.tolist()):
        if start < 0:
            if level >= SPEECH_LEVEL:
                start = last = i
        elif level >= SILENCE_LEVEL:
            last = i
        elif i - last >= pause:
            found.append((start, last + 1))
            start = -1
    if start >= 0:
        found.append((start, last + 1))
    return [(a, b) for a, b in found if b - a >= shortest]


def _split(levels: NDArray[np.float32], spans: Sequence[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    """Yield the spans, those that are too long cut where the voice is weakest in their second half."""
    longest = int(LONGEST_SEGMENT_S * RATE_HZ / FRAME)
    for start, end in spans:
        while end - start > longest:
            from_ = start + longest // 2
            cut = from_ + int(np.argmin(levels[from_ : start + longest]))
            yield start, cut
            start = cut
        yield start, end
