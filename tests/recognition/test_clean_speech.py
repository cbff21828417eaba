"""Speech under noise comes out nearer to what it was without; synthetic voices, a guard and no figure."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from spoken_for_tests import VOICES, spoken

from dictation.audio import RATE_HZ
from dictation.recognition.clean_speech import CleanSpeech
from dictation.recognition.denoise import Noise, spectra_of

SECONDS = 5


@pytest.fixture(scope="module")
def clean_speech() -> CleanSpeech:
    return CleanSpeech()


def in_noise(voice: str, over_noise_db: float) -> tuple[NDArray[np.int16], NDArray[np.int16], NDArray[np.float32]]:
    """The voice, the same in white noise, and the noise as measured in two other seconds of it."""
    clean = spoken(voice)[0].part(0.5, 0.5 + SECONDS)
    level = float(np.sqrt(np.mean(clean.astype(float) ** 2))) * 10 ** (-over_noise_db / 20)
    hiss = np.random.default_rng(3).normal(0, level, (SECONDS + 2) * RATE_HZ)
    noise = Noise()
    noise.hear(hiss[-2 * RATE_HZ :].astype(np.int16))
    frames = noise.frames()
    assert frames is not None
    return clean, (clean + hiss[: len(clean)]).clip(-32768, 32767).astype(np.int16), frames


def unlike_db(one: NDArray[np.int16], other: NDArray[np.int16]) -> float:
    """Mean distance of their spectra, in sixteen bands, of frames where there is something to hear."""
    levels = [np.abs(spectra_of(part)[:, :256]) ** 2 for part in (one, other)]
    a, b = (10 * np.log10(level.reshape(len(level), 16, 16).mean(axis=2) + 1e4) for level in levels)
    return float(np.mean(np.abs(a - b)))


@pytest.mark.parametrize("voice", VOICES)
@pytest.mark.parametrize("over_noise_db", [5.0, 10.0, 20.0])
def test_what_comes_out_is_more_like_the_clean_voice(clean_speech: CleanSpeech, voice: str, over_noise_db: float) -> None:
    clean, noisy, noise = in_noise(voice, over_noise_db)
    got = clean_speech.estimate(noisy, noise)
    assert got.shape == noisy.shape
    assert got.dtype == np.int16
    assert unlike_db(got, clean) < 0.6 * unlike_db(noisy, clean)


def test_the_same_sound_gives_the_same_whatever_came_before(clean_speech: CleanSpeech) -> None:
    _, noisy, noise = in_noise("slt", 10.0)
    first = clean_speech.estimate(noisy, noise)
    clean_speech.estimate(noisy[::-1], noise * 9)
    assert np.array_equal(clean_speech.estimate(noisy, noise), first)


def test_noise_far_under_the_voice_changes_next_to_nothing(clean_speech: CleanSpeech) -> None:
    clean, noisy, noise = in_noise("rms", 60.0)
    wrong = clean_speech.estimate(noisy, noise).astype(float) - clean
    assert 10 * np.log10(np.mean(clean.astype(float) ** 2) / np.mean(wrong**2)) > 15


@pytest.mark.parametrize("length", [1, 160, 500, 1600])
def test_however_short(clean_speech: CleanSpeech, length: int) -> None:
    _, noisy, noise = in_noise("slt", 10.0)
    got = clean_speech.estimate(noisy[:length], noise)
    assert got.shape == (length,)


def test_silence_and_dead_air_stay_silent(clean_speech: CleanSpeech) -> None:
    dead = np.zeros(RATE_HZ, np.int16)
    assert not clean_speech.estimate(dead, np.zeros((20, 257), np.float32)).any()
