"""Short sounds for tests, made on the spot or cut from the samples."""

from __future__ import annotations

from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray

from dictation.audio import Samples, read_audio

SAMPLES = Path(__file__).parents[1] / "samples"


def tone(seconds: float, rate_hz: int, channels: int = 1) -> NDArray[np.int16]:
    """Return a 440 Hz tone, int16 (channels, n), half of full scale."""
    wave = np.sin(2 * np.pi * 440 * np.arange(int(seconds * rate_hz)) / rate_hz) * 16384
    return np.tile(wave.astype(np.int16), (channels, 1))


def write_sound(path: Path, sound: NDArray[np.int16], rate_hz: int, codec: str) -> Path:
    """Write int16 (channels, n) in the container of the path's suffix; return the path."""
    with av.open(str(path), "w") as container:
        stream = container.add_stream(codec, rate=rate_hz, layout="stereo" if len(sound) == 2 else "mono")
        resampler = av.AudioResampler(format=stream.codec_context.format, layout=stream.codec_context.layout, rate=rate_hz)
        frame = av.AudioFrame.from_ndarray(sound, format="s16p", layout=stream.codec_context.layout.name)
        frame.sample_rate = rate_hz
        fifo = av.AudioFifo()
        for piece in [*resampler.resample(frame), *resampler.resample(None)]:
            fifo.write(piece)
        size = stream.codec_context.frame_size or 1024
        while piece := fifo.read(size) or fifo.read():
            container.mux(stream.encode(piece))
        container.mux(stream.encode(None))
    return path


def sample_part(name: str, start_s: float, end_s: float) -> Samples:
    """Return a stretch of a shipped sample."""
    whole = read_audio(SAMPLES / f"{name}.opus")
    return Samples(whole.part(start_s, end_s), whole.sha256)
