"""Steady noise taken out of a recording before it is recognised, only where there is enough of it to hurt.

A spectral Wiener filter with the decision-directed estimate of the signal-to-noise ratio.
Source: Ephraim and Malah 1984, "Speech enhancement using a minimum mean-square error short-time spectral amplitude
estimator" (the decision-directed rule, equation 51), with the Wiener gain instead of their amplitude estimator.
"""

from __future__ import annotations

from itertools import islice, pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

FRAME = 400  # 25 ms at 16 kHz
HOP = 160
SMOOTHING = 0.98  # of the decision-directed rule, as published
FLOOR = 0.1  # least gain: what is left of the noise hides the filter's own artefacts
CLEAN_DB = 30.0  # speech this far over the noise is left as it is


def noise_spectrum(pcm: NDArray[np.int16], speech: NDArray[np.bool_]) -> NDArray[np.float64] | None:
    """Return the mean power spectrum of the sound outside speech, (FRAME // 2 + 1,); None under 0.2 s of it.

    speech: bool (n_samples,), true where somebody speaks.
    """
    if int(np.count_nonzero(~speech)) < 3200:
        return None
    edges = np.flatnonzero(speech[1:] != speech[:-1]) + 1
    bounds = [0, *edges.tolist(), len(speech)]
    quiet = [(a, b) for a, b in pairwise(bounds) if not speech[a] and b - a >= FRAME]
    starts = (at for a, b in quiet for at in range(a, b - FRAME + 1, HOP))
    frames = [pcm[at : at + FRAME] for at in islice(starts, 6000)]
    if len(frames) < 10:
        return None
    spectra = np.abs(np.fft.rfft(np.stack(frames).astype(np.float64) * np.hanning(FRAME))) ** 2
    return np.asarray(spectra.mean(axis=0))


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
