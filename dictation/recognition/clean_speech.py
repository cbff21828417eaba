"""Speech under noise, estimated from what pocketsphinx's acoustic model knows of clean speech.

Where noise covers a fricative, a gain rule that looks at the sound alone does not bring it back. The acoustic model holds
thousands of Gaussians of clean cepstra. Each is moved to where the measured noise would put it; a frame's clean cepstra are
then the mean over all of them, each weighted by how well the noisy frame agrees with it, and the sound is filtered until it
has those cepstra.
Sources: Moreno, Raj and Stern 1996, "A vector Taylor series approach for environment-independent speech recognition" (how
noise moves a Gaussian); Stouten, Van hamme and Wambacq 2006, "Model-based feature enhancement with uncertainty decoding for
noise robust ASR" (the mean of the clean cepstra, given the noisy ones).
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from dictation.recognition.denoise import FFT, overlapped, spectra_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

# The acoustic model's own features (its feat.params).
LOWEST_HZ, HIGHEST_HZ, BANDS = 130.0, 6800.0, 25
CEPSTRA, LIFTER = 13, 22
PRE_EMPHASIS = 0.97
RATE_HZ = 16_000

LEAST_VARIANCE = 0.01  # Gaussians under it were never trained
BLUR = 0.05  # added to each variance, so that none can be inverted into noise of its own
LEAST_GAIN = 0.1  # what is left of the noise hides the filter's own artefacts; chosen on tuning voices (tests/benchmarks)
FAINTEST = 0.05  # share of a noisy frame taken for speech at least, in the first guess at the voice and microphone
VOICE_EVERY = 4  # frames: the voice and microphone are a mean, for which one frame in so many does
EDGE_FRAMES = 3  # that reach over the ends of the sound
AT_ONCE = 256  # frames: bounds the memory


class CleanSpeech:
    """See the module. folder: of the acoustic model; default the one in pocketsphinx."""

    def __init__(self, folder: Path | None = None) -> None:
        if folder is None:
            from pocketsphinx import get_model_path

            folder = Path(get_model_path()) / "en-us" / "en-us"
        means, variances = (_gaussians(folder / name) for name in ("means", "variances"))
        trained = np.all(variances > LEAST_VARIANCE, axis=1)
        self._means, self._variances = means[trained], variances[trained]
        self._bank, centres_hz = _filters()
        self._to_cepstra, self._to_bands = _transforms()
        at_hz = np.linspace(0, RATE_HZ / 2, FFT // 2 + 1)
        self._to_bins = np.stack([np.interp(at_hz, centres_hz, row) for row in np.eye(BANDS)])

    def estimate(self, part: NDArray[np.int16], noise: NDArray[np.float32]) -> NDArray[np.int16]:
        """Return the segment as it may have been without the noise; the same length. noise: see Noise.frames."""
        spectra = spectra_of(part)
        heard, hiss = (self._log_bands(power) for power in (np.abs(spectra) ** 2, noise.astype(np.float64)))
        noisy, noise_cepstra = heard @ self._to_cepstra.T, hiss @ self._to_cepstra.T
        noise_mean, noise_spread = noise_cepstra.mean(axis=0), np.cov(noise_cepstra.T)
        # The model's cepstra have their mean over an utterance taken off: that mean is this voice and this microphone.
        inside = slice(EDGE_FRAMES, -EDGE_FRAMES) if len(noisy) > 3 * EDGE_FRAMES else slice(None)
        left = np.maximum(np.exp(heard) - np.exp(hiss).mean(axis=0), FAINTEST * np.exp(heard))
        voice = (np.log(left) @ self._to_cepstra.T)[inside].mean(axis=0)
        voice = voice + self._clean(noisy[inside][::VOICE_EVERY], voice, noise_mean, noise_spread).mean(axis=0)
        clean = self._clean(noisy, voice, noise_mean, noise_spread) + voice
        gain = np.exp(((clean - noisy) @ self._to_bands.T @ self._to_bins) / 2)
        return overlapped(spectra * np.clip(gain, LEAST_GAIN, 1.0), len(part))

    def _log_bands(self, power: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(np.log(np.maximum(power @ self._bank.T, 1e-3)))

    def _clean(
        self,
        noisy: NDArray[np.float64],
        voice: NDArray[np.float64],
        noise_mean: NDArray[np.float64],
        noise_spread: NDArray[np.float64],
    ) -> NDArray[np.float64]:
        """The expected clean cepstra of each noisy frame, less those of the voice; (n_frames, CEPSTRA)."""
        speech, hiss = (self._means + voice) @ self._to_bands.T, noise_mean @ self._to_bands.T
        both = np.logaddexp(speech, hiss)
        moved = both @ self._to_cepstra.T
        # How much of a small change in the speech, and of one in the noise, is left in the sum: the Taylor series.
        slope = (self._to_cepstra * np.exp(speech - both)[:, None, :]) @ self._to_bands
        rest = np.eye(CEPSTRA) - slope
        shared = slope * self._variances[:, None, :]
        spread = shared @ slope.transpose(0, 2, 1) + rest @ noise_spread @ rest.transpose(0, 2, 1) + BLUR * np.eye(CEPSTRA)
        precision = np.asarray(np.linalg.inv(spread), np.float64)
        log_spread = np.asarray(np.linalg.slogdet(spread)[1], np.float64)
        back = shared.transpose(0, 2, 1) @ precision
        constant = self._means - (back @ moved[:, :, None])[:, :, 0]
        clean = np.empty_like(noisy)
        for at in range(0, len(noisy), AT_ONCE):
            frames = noisy[at : at + AT_ONCE]
            weight = _agreement(frames, moved, precision, log_spread)
            mixed = (weight @ back.reshape(len(back), -1)).reshape(-1, CEPSTRA, CEPSTRA)
            clean[at : at + AT_ONCE] = weight @ constant + (mixed @ frames[:, :, None])[:, :, 0]
        return clean


def _agreement(
    frames: NDArray[np.float64], means: NDArray[np.float64], precision: NDArray[np.float64], log_spread: NDArray[np.float64]
) -> NDArray[np.float64]:
    """The probability of each Gaussian in each frame; (n_frames, n_gaussians). The squares are one matrix product."""
    pulled = (precision @ means[:, :, None])[:, :, 0]
    squares = (frames[:, :, None] * frames[:, None, :]).reshape(len(frames), -1) @ precision.reshape(len(precision), -1).T
    log = -0.5 * (squares - 2 * frames @ pulled.T + np.sum(pulled * means, axis=1) + log_spread)
    weight = np.exp(log - log.max(axis=1, keepdims=True))
    return np.asarray(weight / weight.sum(axis=1, keepdims=True))


def _gaussians(path: Path) -> NDArray[np.float64]:
    """Return the static cepstra in a parameter file of the acoustic model, (n_gaussians, CEPSTRA).

    The file: a text head; a word that tells the byte order; how many codebooks, streams and Gaussians, and the length of each
    stream; how many numbers; the numbers. The first stream is the static one.
    """
    data = path.read_bytes()
    at = data.index(b"endhdr\n") + len(b"endhdr\n")
    _, books, streams, size = np.frombuffer(data, "<i4", 4, at).tolist()
    numbers = np.frombuffer(data, "<f4", books * streams * size * CEPSTRA, at + 4 * (4 + streams + 1))
    return numbers.reshape(books, streams, size, CEPSTRA)[:, 0].reshape(-1, CEPSTRA).astype(np.float64)


def _filters() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the model's triangular filters with its pre-emphasis, (BANDS, FFT // 2 + 1), and their middles in hertz."""
    low, high = (2595 * np.log10(1 + hz / 700) for hz in (LOWEST_HZ, HIGHEST_HZ))
    edges = 700 * (10 ** (np.linspace(low, high, BANDS + 2) / 2595) - 1)
    bins = np.round(edges / (RATE_HZ / FFT))
    at = np.arange(FFT // 2 + 1)
    rising = (at - bins[:-2, None]) / (bins[1:-1] - bins[:-2])[:, None]
    falling = (bins[2:, None] - at) / (bins[2:] - bins[1:-1])[:, None]
    area = 2 / (bins[2:] - bins[:-2])[:, None]
    emphasis = np.abs(1 - PRE_EMPHASIS * np.exp(-2j * np.pi * at / FFT)) ** 2
    return np.maximum(0, np.minimum(rising, falling)) * area * emphasis, edges[1:-1]


def _transforms() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return what makes liftered cepstra of the logarithms of the bands, (CEPSTRA, BANDS), and what makes bands of those."""
    order = np.arange(CEPSTRA)
    cosines = np.sqrt(2 / BANDS) * np.cos(np.pi / BANDS * np.outer(order, np.arange(BANDS) + 0.5))
    cosines[0] /= np.sqrt(2)
    lifter = 1 + LIFTER / 2 * np.sin(np.pi * order / LIFTER)
    return cosines * lifter[:, None], cosines.T / lifter
