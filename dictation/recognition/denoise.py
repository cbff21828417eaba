"""Noise measured in the quiet before speech, and how far speech stands over it; sound as overlapping spectra and back; and
the upper half of a telephone's sound filled. What takes the noise out is in clean_speech.py.
"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

import numpy as np

from dictation.audio import RATE_HZ
from dictation.quality import MUFFLED_DB, NARROW_HZ

if TYPE_CHECKING:
    from numpy.typing import NDArray

FRAME = 400  # 25 ms at 16 kHz
HOP = 160
FFT = 512
WINDOW = np.sqrt(np.hanning(FRAME + 1)[:-1])  # before and after the filter
QUIET_S = 10.0  # the noise is measured in so much quiet before an utterance
LEAST_FRAMES = 10
MIRROR = 0.1  # 20 dB under the sound itself; chosen on tuning voices (tests/benchmarks)
CLEAN_DB = 30.0  # speech this far over the noise is left as it is


class Noise:
    """The power spectra of the latest QUIET_S of sound in which nobody speaks."""

    def __init__(self) -> None:
        self._frames: deque[NDArray[np.float32]] = deque(maxlen=(round(QUIET_S * 16_000) - FRAME) // HOP + 1)

    def hear(self, pcm: NDArray[np.int16]) -> None:
        """Take a stretch of quiet, int16 (n_samples,), 16 000 Hz, mono; what is shorter than a frame adds nothing."""
        pcm = pcm[-round(QUIET_S * 16_000) :]
        if len(pcm) >= FRAME:
            frames = np.lib.stride_tricks.sliding_window_view(pcm, FRAME)[::HOP].astype(np.float32)
            frames -= frames.mean(axis=1, keepdims=True)
            self._frames.extend((np.abs(np.fft.rfft(frames * WINDOW, FFT)) ** 2).astype(np.float32))

    def frames(self) -> NDArray[np.float32] | None:
        """Return the power spectrum of each frame, (n_frames, FFT // 2 + 1); None under LEAST_FRAMES, a tenth of a second."""
        return np.stack(self._frames) if len(self._frames) >= LEAST_FRAMES else None


def is_narrow(part: NDArray[np.int16]) -> bool:
    """Tell whether the sound has next to nothing over 4 kHz, as over a telephone; by the measure of quality.py."""
    power = np.abs(np.fft.rfft(part.astype(np.float64))) ** 2
    return float(power[round(len(part) * NARROW_HZ / RATE_HZ) :].sum()) < 10 ** (MUFFLED_DB / 10) * float(power.sum())


def unfolded(part: NDArray[np.int16]) -> NDArray[np.int16]:
    """Return narrow sound with its mirror image, fainter, in the empty half over 4 kHz.

    The acoustic model looks for fricatives and plosives there and takes an empty half for silence; what the mirror puts
    there rises and falls with them. Source: Makhoul and Berouti 1979, "High-frequency regeneration in speech coding systems".
    """
    sign = np.where(np.arange(len(part)) % 2, -1.0, 1.0)
    return np.asarray(np.clip(np.round(part * (1 + MIRROR * sign)), -32768, 32767), np.int16)


def centred(part: NDArray[np.int16]) -> NDArray[np.int16]:
    """Return the sound without a constant offset, which is neither voice nor noise."""
    offset = round(float(np.mean(part))) if len(part) else 0
    return np.asarray(np.clip(part.astype(np.int32) - offset, -32768, 32767), np.int16) if offset else part


def speech_over_noise_db(part: NDArray[np.int16], noise: NDArray[np.float32]) -> float:
    """Return how far the sound of a segment stands over the noise, in decibels. noise: see Noise.frames."""
    power = float(np.mean(part.astype(np.float64) ** 2))
    spectrum = noise.mean(axis=0, dtype=np.float64)
    noise_power = float(spectrum.sum() - spectrum[0] / 2) * 2 / FFT / float(np.sum(WINDOW**2))
    return 10 * float(np.log10(max(power, 1e-9) / max(noise_power, 1e-9)))


def spectra_of(part: NDArray[np.int16]) -> NDArray[np.complex128]:
    """Return the spectra of overlapping frames, (n_frames, FFT // 2 + 1), with quiet added at either end."""
    padded = np.pad(part.astype(np.float64), (FRAME, FRAME + (-len(part)) % HOP))
    return np.fft.rfft(np.lib.stride_tricks.sliding_window_view(padded, FRAME)[::HOP] * WINDOW, FFT)


def overlapped(spectra: NDArray[np.complex128], length: int) -> NDArray[np.int16]:
    """Return the sound whose `spectra_of` these are, or nearly so where they were filtered; length: of that sound."""
    out = np.zeros(FRAME + (len(spectra) - 1) * HOP)
    weight = np.zeros(len(out))
    for i, frame in enumerate(np.fft.irfft(spectra, FFT)[:, :FRAME] * WINDOW):
        out[i * HOP : i * HOP + FRAME] += frame
        weight[i * HOP : i * HOP + FRAME] += WINDOW**2
    out = (out / np.maximum(weight, 1e-6))[FRAME : FRAME + length]
    return np.clip(np.round(out), -32768, 32767).astype(np.int16)
