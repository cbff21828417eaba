"""What a recording is like, measured on sound made to be so, and warned of in plain sentences."""

from __future__ import annotations

import numpy as np
import pytest
from sounds_for_tests import sample_part

from dictation.audio import RATE_HZ, Samples, Segment, find_speech
from dictation.quality import POOR_DB, SoundQuality, sound_quality

SPEECH = [Segment(1.0, 3.0)]


def voiced(level: float, noise: float, top_hz: float = 7000.0) -> Samples:
    """Four seconds; from 1 to 3 s a sound of root mean square level, all through noise of root mean square noise."""
    draw = np.random.default_rng(11)
    spectrum = np.fft.rfft(draw.standard_normal(2 * RATE_HZ))
    spectrum[np.fft.rfftfreq(2 * RATE_HZ, 1 / RATE_HZ) > top_hz] = 0
    voice = np.fft.irfft(spectrum, 2 * RATE_HZ)
    sound = np.zeros(4 * RATE_HZ)
    sound[RATE_HZ : 3 * RATE_HZ] = voice * level / np.sqrt(np.mean(voice**2))
    sound += draw.standard_normal(len(sound)) * noise
    return Samples(np.round(sound * 32768).clip(-32768, 32767).astype(np.int16), "0" * 64)


@pytest.mark.parametrize("over_db", [5.0, 10.0, 20.0, 40.0])
def test_level_share_and_noise_are_measured(over_db: float) -> None:
    found = sound_quality(voiced(0.1, 0.1 * 10 ** (-over_db / 20)), SPEECH)
    assert found.speech_share == pytest.approx(0.5)
    assert found.over_noise_db == pytest.approx(over_db, abs=0.5)
    assert found.noise_db == pytest.approx(-20 - over_db, abs=0.5)
    assert found.level_db == pytest.approx(10 * np.log10(0.01 + 0.01 * 10 ** (-over_db / 10)), abs=0.3)
    assert found.poor is (over_db < POOR_DB)


def test_good_sound_gives_no_warning() -> None:
    assert sound_quality(voiced(0.1, 0.0005), SPEECH).warnings == []
    samples = sample_part("normal_hand", 0, 30)
    assert sound_quality(samples, find_speech(samples)).warnings == []


@pytest.mark.parametrize(
    ("samples", "segments", "words"),
    [
        (voiced(0.1, 0.03), SPEECH, "noise is loud: the voice stands only 10 dB"),
        (voiced(0.1, 0.05), SPEECH, "too poor to trust"),
        (voiced(0.8, 0.0005), SPEECH, "overdriven"),
        (voiced(0.001, 0.00003), SPEECH, "very quiet"),
        (voiced(0.1, 0.00003, top_hz=3400), SPEECH, "as over a telephone"),
        (voiced(0.1, 0.0005), [Segment(1.0, 1.15)], "hardly any speech"),
    ],
)
def test_each_fault_is_a_sentence(samples: Samples, segments: list[Segment], words: str) -> None:
    found = sound_quality(samples, segments).warnings
    assert any(words in sentence for sentence in found)
    assert all(sentence.endswith(".") for sentence in found)


def test_worse_noise_never_makes_sound_better() -> None:
    over = [sound_quality(voiced(0.1, n), SPEECH).over_noise_db or 0.0 for n in (0.001, 0.01, 0.05, 0.2, 0.5)]
    assert over == sorted(over, reverse=True)


def test_without_quiet_the_noise_is_measured_between_words() -> None:
    whole = [Segment(0.0, 4.0)]  # voice activity that found no pause
    assert sound_quality(voiced(0.1, 0.01), whole).over_noise_db == pytest.approx(17, abs=2)  # half of it is silence: -3 dB
    assert sound_quality(voiced(0.1, 0.08), whole).poor


def test_too_little_sound_to_measure_the_noise_is_not_called_poor() -> None:
    found = sound_quality(voiced(0.1, 0.05), [Segment(0.0, 0.3)])
    assert found.over_noise_db is not None  # the rest of it is quiet
    short = Samples(voiced(0.1, 0.05).part(1.0, 1.5), "0" * 64)
    found = sound_quality(short, [Segment(0.0, 0.5)])
    assert found.noise_db is None
    assert not found.poor


def test_nothing_at_all_is_measured_without_a_fault() -> None:
    found = sound_quality(Samples(np.zeros(16_000, np.int16), "0" * 64), [])
    assert isinstance(found, SoundQuality)
    assert found.speech_share == 0
    assert any("hardly any speech" in w for w in found.warnings)
