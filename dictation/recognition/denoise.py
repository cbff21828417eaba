"""Steady noise taken out of a recording before it is recognised, only where there is enough of it to hurt; and the upper
half of a telephone's sound filled.

A spectral Wiener filter with the decision-directed estimate of the signal-to-noise ratio.
Source: Ephraim and Malah 1984, "Speech enhancement using a minimum mean-square error short-time spectral amplitude
estimator" (the decision-directed rule, equation 51), with the Wiener gain instead of their amplitude estimator.
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
# Published is 0.98, for listening; recognition in white and fan noise loses fewer words with less (tests/benchmarks).
SMOOTHING = 0.92
FLOOR = 0.2  # least gain: what is left of the noise hides the filter's own artefacts
QUIET_S = 10.0  # the noise is measured in so much quiet before an utterance
LEAST_FRAMES = 10
MIRROR = 0.1  # 20 dB under the sound itself; chosen on tuning voices (tests/benchmarks)
CLEAN_DB = 30.0  # speech this far over the noise is left as it is


class Noise:
    """The mean power spectrum of the latest QUIET_S of sound in which nobody speaks."""

    def __init__(self) -> None:
        self._frames: deque[NDArray[np.float32]] = deque(maxlen=(round(QUIET_S * 16_000) - FRAME) // HOP + 1)

    def hear(self, pcm: NDArray[np.int16]) -> None:
        """Take a stretch of quiet, int16 (n_samples,), 16 000 Hz, mono; what is shorter than a frame adds nothing."""
        pcm = pcm[-round(QUIET_S * 16_000) :]
        if len(pcm) >= FRAME:
            frames = np.lib.stride_tricks.sliding_window_view(pcm, FRAME)[::HOP].astype(np.float32)
            frames -= frames.mean(axis=1, keepdims=True)
            self._frames.extend((np.abs(np.fft.rfft(frames * np.hanning(FRAME))) ** 2).astype(np.float32))

    def spectrum(self) -> NDArray[np.float64] | None:
        """Return (FRAME // 2 + 1,); None under LEAST_FRAMES, a tenth of a second."""
        if len(self._frames) < LEAST_FRAMES:
            return None
        return np.asarray(np.mean(np.stack(self._frames), axis=0, dtype=np.float64))


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


def speech_over_noise_db(part: NDArray[np.int16], noise: NDArray[np.float64]) -> float:
    """Return how far the sound of a segment stands over the noise, in decibels."""
    power = float(np.mean(part.astype(np.float64) ** 2))
    noise_power = float(noise.sum() - noise[0] / 2) * 2 / FRAME / float(np.sum(np.hanning(FRAME) ** 2))
    return 10 * float(np.log10(max(power, 1e-9) / max(noise_power, 1e-9)))


def denoised(part: NDArray[np.int16], noise: NDArray[np.float64]) -> NDArray[np.int16]:
    """Return the segment with the noise taken out; the same length."""
    window = np.sqrt(np.hanning(FRAME + 1)[:-1])
    padded = np.pad(part.astype(np.float64), (FRAME, FRAME + (-len(part)) % HOP))
    frames = np.lib.stride_tricks.sliding_window_view(padded, FRAME)[::HOP] * window
    spectra = np.fft.rfft(frames)
    # The square-root window halves the noise power that the full window measured by this share.
    share = float(np.sum(window**2) / np.sum(np.hanning(FRAME) ** 2))
    noise = np.maximum(noise * share, 1e-9)
    gain = np.ones(spectra.shape[1])
    before = np.zeros(spectra.shape[1])
    for i in range(len(spectra)):
        posterior = np.abs(spectra[i]) ** 2 / noise
        prior = SMOOTHING * before + (1 - SMOOTHING) * np.maximum(posterior - 1, 0)
        gain = np.maximum(prior / (1 + prior), FLOOR)
        before = gain**2 * posterior
        spectra[i] *= gain
    out = np.zeros(len(padded))
    weight = np.zeros(len(padded))
    for i, frame in enumerate(np.fft.irfft(spectra, FRAME) * window):
        out[i * HOP : i * HOP + FRAME] += frame
        weight[i * HOP : i * HOP + FRAME] += window**2
    out = (out / np.maximum(weight, 1e-6))[FRAME : FRAME + len(part)]
    return np.clip(np.round(out), -32768, 32767).astype(np.int16)
