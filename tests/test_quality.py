"""What a recording is like, measured on sound made to be so, and warned of in plain sentences."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from sounds_for_tests import SAMPLES, sample_part

from dictation.audio import RATE_HZ, Samples, Segment, find_speech
from dictation.quality import CLIPPED, CLIPPED_POOR, POOR_DB, SoundQuality, sound_quality
from dictation.recognition.denoise import is_narrow

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


def test_both_judge_a_telephones_sound_by_the_same_edge() -> None:
    for top_hz, narrow in ((3400, True), (4200, True), (4400, False), (7000, False)):
        samples = voiced(0.1, 0.000001, top_hz=top_hz)
        assert is_narrow(samples.part(1.0, 3.0)) is narrow, top_hz
        assert any("telephone" in w for w in sound_quality(samples, SPEECH).warnings) is narrow, top_hz


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


def test_where_nobody_speaks_the_noise_alone_is_told_and_that_nobody_does() -> None:
    for level, told in ((0, "-120"), (300, "-41")):
        pcm = np.random.default_rng(2).normal(0, level, RATE_HZ).astype(np.int16)
        found = sound_quality(Samples(pcm, "0" * 64), [])
        assert found.summary == f"no speech in it; noise {told} dB of full scale."
        assert found.warnings == ["Nobody is heard to speak: check that the right microphone was on."]
        assert not found.poor
    nothing = sound_quality(Samples(np.zeros(100, np.int16), "0" * 64), [])
    assert nothing.summary == "no speech in it; noise not to be measured."


def test_a_constant_offset_is_neither_noise_nor_voice() -> None:
    samples = voiced(0.1, 0.0005)
    moved = Samples(samples.pcm.clip(-32000, 32000) + np.int16(330), samples.sha256)
    for segments in (SPEECH, [Segment(0.0, 4.0)]):
        plain, offset = sound_quality(samples, segments), sound_quality(moved, segments)
        for name in ("over_noise_db", "noise_db", "level_db", "high_db"):
            assert getattr(offset, name) == pytest.approx(getattr(plain, name), abs=0.1), name


def overdriven(gain: float, then: float) -> SoundQuality:
    """Twenty seconds of a sample recorded too loud by gain, and made quieter afterwards."""
    samples = sample_part("normal_hand", 0, 20)
    pcm = (samples.pcm * float(gain)).clip(-32768, 32767) * then
    return sound_quality(Samples(pcm.astype(np.int16), samples.sha256), find_speech(samples))


@pytest.mark.parametrize("then", [1.0, 0.3, 0.02])
def test_overdriven_sound_is_known_by_its_flat_tops_however_quiet_it_was_made(then: float) -> None:
    found = overdriven(40, then)
    assert found.clipped_share > 0.3
    assert any("overdriven" in sentence for sentence in found.warnings)
    assert found.poor
    assert CLIPPED < overdriven(2, then).clipped_share < CLIPPED_POOR, "overdriven, and not yet too poor to trust"


def test_sound_that_is_not_overdriven_has_no_flat_tops_at_any_level() -> None:
    for path in sorted(SAMPLES.glob("*.opus")):
        samples = sample_part(path.stem, 0, 20)
        segments = find_speech(samples)
        for gain in (1.0, 0.1, 0.0001):
            quiet = Samples((samples.pcm * gain).round().astype(np.int16), samples.sha256)
            assert sound_quality(quiet, segments).clipped_share < CLIPPED / 10, (path.stem, gain)


def test_sound_is_poor_for_its_noise_or_for_being_overdriven() -> None:
    good = SoundQuality(0.5, -20.0, 0.0, -60.0, 40.0, -10.0)
    assert not good.poor
    assert replace(good, over_noise_db=POOR_DB - 0.1).poor
    assert not replace(good, clipped_share=CLIPPED_POOR).poor
    assert replace(good, clipped_share=CLIPPED_POOR + 0.001).poor
    assert not replace(good, over_noise_db=None).poor
