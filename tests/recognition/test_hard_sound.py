"""Recordings as they come: quiet, stereo, over a telephone, after long silence. The words stay, or nearly all of them.

One synthetic voice and two sentences, read from files as the program reads them: a guard, no figure.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from sounds_for_tests import write_sound
from spoken_for_tests import plain, spoken

from dictation.audio import RATE_HZ, find_speech, read_audio
from dictation.lexicon.loading import load_lexicon
from dictation.recognition.sphinx import EmbeddedRecogniser

pytestmark = pytest.mark.sound


@pytest.fixture(scope="module")
def recogniser() -> EmbeddedRecogniser:
    return EmbeddedRecogniser(load_lexicon())


@pytest.fixture(scope="module")
def sound() -> NDArray[np.int16]:
    """Two sentences with a pause between them."""
    return spoken("slt")[0].part(0, 11.2)


def heard(recogniser: EmbeddedRecogniser, path: Path) -> list[str]:
    samples = read_audio(path)
    return [plain(w.said) for w in recogniser.recognise(samples, find_speech(samples)).words]


@pytest.fixture(scope="module")
def words(recogniser: EmbeddedRecogniser, sound: NDArray[np.int16], tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    path = write_sound(tmp_path_factory.mktemp("plain") / "a.wav", sound[None, :], RATE_HZ, "pcm_s16le")
    found = heard(recogniser, path)
    assert found == [plain(k.text) for k in spoken("slt")[1] if k.sentence < 2]
    return found


@pytest.mark.parametrize("gain", [0.03, 0.3, 1.6])
def test_at_any_level(
    recogniser: EmbeddedRecogniser, sound: NDArray[np.int16], words: list[str], tmp_path: Path, gain: float
) -> None:
    changed = (sound * gain).clip(-32768, 32767).astype(np.int16)
    assert heard(recogniser, write_sound(tmp_path / "a.wav", changed[None, :], RATE_HZ, "pcm_s16le")) == words


@pytest.mark.parametrize("other", [0.0, 1.0, 0.3])
def test_in_stereo_with_the_voice_on_one_side_or_both(
    recogniser: EmbeddedRecogniser, sound: NDArray[np.int16], words: list[str], tmp_path: Path, other: float
) -> None:
    both = np.stack([sound, (sound * other).astype(np.int16)])
    assert heard(recogniser, write_sound(tmp_path / "a.flac", both, RATE_HZ, "flac")) == words


def test_over_a_telephone(recogniser: EmbeddedRecogniser, sound: NDArray[np.int16], words: list[str], tmp_path: Path) -> None:
    """8 kHz, companded as telephones do (G.711). Most words stay; all of the lines are still found as speech."""
    spectrum, hz = np.fft.rfft(sound.astype(float)), np.fft.rfftfreq(len(sound), 1 / RATE_HZ)
    narrow = np.fft.irfft(np.where(hz < 3400, spectrum, 0), len(sound))[::2].clip(-32768, 32767).astype(np.int16)
    found = heard(recogniser, write_sound(tmp_path / "a.wav", narrow[None, :], 8000, "pcm_mulaw"))
    assert len(set(words) & set(found)) >= 0.75 * len(set(words))


def test_after_and_before_minutes_of_silence(
    recogniser: EmbeddedRecogniser, sound: NDArray[np.int16], words: list[str], tmp_path: Path
) -> None:
    silence = np.random.default_rng(3).normal(0, 12, 120 * RATE_HZ).astype(np.int16)
    long = np.concatenate([silence, sound, silence])
    path = write_sound(tmp_path / "a.wav", long[None, :], RATE_HZ, "pcm_s16le")
    assert heard(recogniser, path) == words
    (first, *_) = find_speech(read_audio(path))
    assert first.start == pytest.approx(120.5, abs=0.4)
