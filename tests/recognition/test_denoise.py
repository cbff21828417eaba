"""Noise is measured in the quiet, and a telephone's empty half is filled."""

from __future__ import annotations

import numpy as np
import pytest

from dictation.recognition.denoise import (
    CLEAN_DB,
    QUIET_S,
    Noise,
    centred,
    is_narrow,
    overlapped,
    spectra_of,
    speech_over_noise_db,
    unfolded,
)

RATE_HZ = 16_000


def voice_like(seconds: float) -> np.ndarray:
    """A swelling harmonic sound, 150 Hz and its overtones, root mean square about 0.1."""
    t = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    return sum(np.sin(2 * np.pi * 150 * k * t) / k for k in range(1, 12)) * (0.5 + 0.5 * np.sin(2 * np.pi * 3 * t)) * 0.14


def recording(snr_db: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """One second of noise, two of voice in noise: (noisy int16, clean float, speech mask)."""
    clean = np.concatenate([np.zeros(RATE_HZ), voice_like(2)])
    level = np.sqrt(np.mean(clean[RATE_HZ:] ** 2)) * 10 ** (-snr_db / 20)
    noisy = clean + np.random.default_rng(3).standard_normal(len(clean)) * level
    return (noisy * 32767).clip(-32768, 32767).astype(np.int16), clean, np.arange(len(clean)) >= RATE_HZ


def noise_of(quiet: np.ndarray) -> np.ndarray | None:
    noise = Noise()
    noise.hear(quiet)
    return noise.frames()


@pytest.mark.parametrize("snr_db", [5.0, 10.0, 15.0])
def test_how_far_speech_stands_over_the_noise(snr_db: float) -> None:
    noisy, _, speech = recording(snr_db)
    noise = noise_of(noisy[~speech])
    assert noise is not None
    assert speech_over_noise_db(noisy[RATE_HZ:], noise) == pytest.approx(10 * np.log10(1 + 10 ** (snr_db / 10)), abs=0.5)


def test_a_constant_offset_is_no_noise_and_is_taken_off() -> None:
    noisy, _, speech = recording(20.0)
    moved = noisy.clip(-32000, 32000) + np.int16(330)
    noise, same = noise_of(noisy[~speech]), noise_of(moved[~speech])
    assert noise is not None
    assert same is not None
    assert same.mean(axis=0) == pytest.approx(noise.mean(axis=0), rel=0.01)
    assert centred(moved[speech]) == pytest.approx(noisy[speech].clip(-32000, 32000), abs=5)
    assert centred(noisy[:0]).shape == (0,)


def test_clean_sound_counts_as_clean() -> None:
    noisy, _, speech = recording(45.0)
    noise = noise_of(noisy[~speech])
    assert noise is not None
    assert speech_over_noise_db(noisy[RATE_HZ:], noise) > CLEAN_DB


@pytest.mark.parametrize("length", [1, 399, 400, 16_000, 16_001])
def test_spectra_left_as_they_are_give_the_sound_back(length: int) -> None:
    part = (voice_like(2) * 32767).astype(np.int16)[:length]
    got = overlapped(spectra_of(part), length)
    assert got.shape == part.shape
    assert np.max(np.abs(got.astype(int) - part)) <= 1


def test_no_quiet_no_estimate() -> None:
    noisy, _, _ = recording(10.0)
    assert noise_of(noisy[:0]) is None
    assert noise_of(noisy[:1000]) is None


def test_only_the_latest_quiet_counts_and_memory_is_bounded() -> None:
    draw = np.random.default_rng(7)
    old, new = (draw.normal(0, level, round(QUIET_S * RATE_HZ)).astype(np.int16) for level in (3000, 30))
    noise = Noise()
    for _ in range(5):
        noise.hear(old)
    noise.hear(new)
    after, alone = noise.frames(), noise_of(new)
    assert after is not None
    assert alone is not None
    assert np.median(after.mean(axis=0) / alone.mean(axis=0)) == pytest.approx(1, abs=0.1)


def test_quiet_in_two_stretches_counts_as_both() -> None:
    noisy, _, _ = recording(10.0)
    noise = Noise()
    for part in (noisy[:3000], noisy[3000:3200], noisy[3200:RATE_HZ]):  # the middle one is shorter than a frame
        noise.hear(part)
    together, whole = noise.frames(), noise_of(noisy[:RATE_HZ])
    assert together is not None
    assert whole is not None
    assert np.median(together.mean(axis=0) / whole.mean(axis=0)) == pytest.approx(1, abs=0.1)


def band(sound: np.ndarray, top_hz: float) -> np.ndarray:
    spectrum = np.fft.rfft(sound)
    spectrum[np.fft.rfftfreq(len(sound), 1 / RATE_HZ) > top_hz] = 0
    return np.fft.irfft(spectrum, len(sound))


def test_a_telephones_sound_is_told_by_its_empty_upper_half() -> None:
    wide = np.random.default_rng(5).normal(0, 3000, 2 * RATE_HZ)
    assert not is_narrow(wide.astype(np.int16))
    assert is_narrow(band(wide, 3400).astype(np.int16))
    assert is_narrow(band(wide, 4000).astype(np.int16))


def test_the_empty_half_is_filled_with_a_faint_mirror_and_the_rest_left_alone() -> None:
    narrow = band(np.random.default_rng(5).normal(0, 3000, 2 * RATE_HZ), 3400).astype(np.int16)
    got = unfolded(narrow)
    assert got.shape == narrow.shape
    assert got.dtype == np.int16
    before, after = (np.abs(np.fft.rfft(x.astype(float))) for x in (narrow, got))
    low, high = slice(200, 6000), slice(len(before) - 6000, len(before) - 200)
    assert after[low] == pytest.approx(before[low], rel=0.05, abs=3000)
    assert 20 * np.log10(np.mean(after[high]) / np.mean(before[low])) == pytest.approx(-20, abs=0.5)
