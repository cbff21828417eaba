"""Sound from any file, each bad file a sentence; and where in it somebody speaks."""

from __future__ import annotations

import contextlib
import itertools
import struct
import subprocess
import sys
import tracemalloc
import wave
from pathlib import Path

import numpy as np
import pytest
from scipy.signal import resample_poly
from sounds_for_tests import SAMPLES, sample_part, tone, write_sound

from dictation import audio
from dictation.audio import RATE_HZ, Samples, find_speech, read_audio, resampled
from dictation.errors import AudioError, InputError

KINDS = [  # suffix, codec, rate, channels
    ("wav", "pcm_s16le", 8000, 1),
    ("wav", "pcm_s24le", 44100, 2),
    ("wav", "pcm_f32le", 96000, 1),
    ("flac", "flac", 22050, 2),
    ("ogg", "libopus", 48000, 1),
    ("m4a", "aac", 44100, 2),
    ("mp3", "libmp3lame", 44100, 2),
    ("mka", "flac", 16000, 1),
]


@pytest.mark.parametrize(("suffix", "codec", "rate", "channels"), KINDS)
def test_any_container_codec_rate_and_channels(tmp_path: Path, suffix: str, codec: str, rate: int, channels: int) -> None:
    path = write_sound(tmp_path / f"tone.{suffix}", tone(1.5, rate, channels), rate, codec)
    samples = read_audio(path)
    assert samples.rate_hz == 16_000
    assert samples.duration_s == pytest.approx(1.5, abs=0.11)  # lossy codecs pad
    assert samples.mixed_down is (channels == 2)
    middle = samples.values[4000:20000]
    assert middle.dtype == np.float32
    loudest_hz = np.argmax(np.abs(np.fft.rfft(middle))) * 16_000 / len(middle)
    assert loudest_hz == pytest.approx(440, abs=2)
    assert np.sqrt(np.mean(middle**2)) == pytest.approx(0.5 / np.sqrt(2), rel=0.05)


def test_channels_are_averaged(tmp_path: Path) -> None:
    sound = tone(1, 16_000, 2)
    sound[1] = 0
    samples = read_audio(write_sound(tmp_path / "left_only.wav", sound, 16_000, "pcm_s16le"))
    assert samples.mixed_down
    assert np.max(np.abs(samples.values)) == pytest.approx(0.25, rel=0.05)


@pytest.mark.parametrize(
    ("suffix", "codec", "rate"), [("wav", "pcm_s16le", 16_000), ("flac", "flac", 44_100), ("mp3", "libmp3lame", 44_100)]
)
def test_channels_that_cancel_each_other_give_the_louder(tmp_path: Path, suffix: str, codec: str, rate: int) -> None:
    sound = tone(1, rate, 2)
    sound[0] = -(sound[1] // 20 * 19)
    samples = read_audio(write_sound(tmp_path / f"swapped.{suffix}", sound, rate, codec))
    assert samples.mixed_down
    middle = samples.values[4000:12000]
    assert np.sqrt(np.mean(middle**2)) == pytest.approx(0.5 / np.sqrt(2), rel=0.05)
    sound[0] = sound[1]
    assert len(samples.pcm) == len(read_audio(write_sound(tmp_path / f"right.{suffix}", sound, rate, codec)).pcm)


def test_channels_of_opposite_sign_that_do_not_cancel_are_averaged(tmp_path: Path) -> None:
    sound = tone(1, 16_000, 2)
    sound[0] = -(sound[1] // 2)
    samples = read_audio(write_sound(tmp_path / "a.wav", sound, 16_000, "pcm_s16le"))
    assert np.max(np.abs(samples.values)) == pytest.approx(0.125, rel=0.05)


def test_same_file_same_samples(tmp_path: Path) -> None:
    path = write_sound(tmp_path / "a.flac", tone(0.5, 16_000), 16_000, "flac")
    first, second = read_audio(path), read_audio(path)
    assert first.sha256 == second.sha256
    assert np.array_equal(first.pcm, second.pcm)


@pytest.mark.parametrize("rate", [16_000, 44_100])
def test_the_samples_do_not_depend_on_the_pieces_a_file_is_read_in(tmp_path: Path, rate: int) -> None:
    """WAV comes in pieces of a fixed size, FLAC in its own frames: the same sound all the same, also where it is resampled."""
    draw = np.random.default_rng(7)
    sound = np.clip(draw.normal(0, 3000, (1, 2 * rate + 123)), -32768, 32767).astype(np.int16)
    wav = read_audio(write_sound(tmp_path / "a.wav", sound, rate, "pcm_s16le"))
    flac = read_audio(write_sound(tmp_path / "a.flac", sound, rate, "flac"))
    assert len(wav.pcm) > 16_000
    assert np.array_equal(wav.pcm, flac.pcm)


def half(path: Path) -> Path:
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    return path


def test_bad_files_are_told_apart(tmp_path: Path) -> None:
    sound = tone(3, 16_000)
    (tmp_path / "empty.wav").touch()
    (tmp_path / "letter.wav").write_text("Dear Doctor, thank you for your letter. " * 50)
    (tmp_path / "noise.mp3").write_bytes(np.random.default_rng(1).bytes(40_000))
    no_samples = tmp_path / "no_samples.wav"
    with wave.open(str(no_samples), "wb") as file:
        file.setparams((1, 2, 16_000, 0, "NONE", ""))
    cases = {
        tmp_path / "missing.wav": (InputError, "There is no file"),
        tmp_path: (InputError, "is a folder"),
        tmp_path / "empty.wav": (AudioError, "is empty"),
        tmp_path / "letter.wav": (AudioError, "not sound that can be read"),
        tmp_path / "noise.mp3": (AudioError, "is"),
        no_samples: (AudioError, "no sound"),
        half(write_sound(tmp_path / "cut.ogg", sound, 48_000, "libopus")): (AudioError, "breaks off"),
        half(write_sound(tmp_path / "cut.flac", sound, 16_000, "flac")): (AudioError, "breaks off|damaged"),
        half(write_sound(tmp_path / "cut.wav", sound, 16_000, "pcm_s16le")): (AudioError, "breaks off"),
        half(write_sound(tmp_path / "cut.mp3", sound, 16_000, "libmp3lame")): (AudioError, "breaks off|damaged"),
        half(write_sound(tmp_path / "cut.mka", sound, 16_000, "flac")): (AudioError, "breaks off|damaged"),
        half(write_sound(tmp_path / "cut.m4a", sound, 16_000, "aac")): (AudioError, "not sound that can be read|breaks off"),
    }
    assert len(cases) == 12
    for path, (kind, sentence) in cases.items():
        with pytest.raises(kind, match=sentence) as caught:
            read_audio(path)
        assert type(caught.value) is kind, path
        assert str(caught.value).endswith(".")
        assert "; " in str(caught.value), "says what to do next"


def test_a_header_that_claims_hours_and_sixty_channels_takes_no_memory(tmp_path: Path) -> None:
    path = tmp_path / "claims.wav"
    for channels, claimed in ((60, 0xFFFFFFF0), (2, 0x7FFFFFF0), (65_535, 0xFFFFFFF0)):
        form = struct.pack("<HHIIHH", 1, channels, 16_000, 16_000 * 2 * channels, 2 * channels & 0xFFFF, 16)
        head = b"RIFF" + struct.pack("<I", 0xFFFFFFFF) + b"WAVEfmt " + struct.pack("<I", 16) + form
        path.write_bytes(head + b"data" + struct.pack("<I", claimed) + b"\0\0" * 3_000)
        tracemalloc.start()
        with contextlib.suppress(AudioError):  # refusing it is as good
            assert read_audio(path).duration_s < 1
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        assert peak < 50_000_000


def test_a_picture_is_not_sound(tmp_path: Path) -> None:
    path = tmp_path / "film.mkv"
    import av

    with av.open(str(path), "w") as container:
        stream = container.add_stream("mpeg4", rate=25)
        stream.width = stream.height = 64
        stream.pix_fmt = "yuv420p"
        for _ in range(5):
            container.mux(stream.encode(av.VideoFrame.from_ndarray(np.zeros((64, 64, 3), np.uint8))))
        container.mux(stream.encode(None))
    with pytest.raises(AudioError, match="no sound in it"):
        read_audio(path)


def test_a_damaged_middle_is_not_read_over(tmp_path: Path) -> None:
    path = write_sound(tmp_path / "hurt.flac", tone(6, 16_000), 16_000, "flac")
    data = bytearray(path.read_bytes())
    data[len(data) // 2 : len(data) // 2 + 2000] = b"\xa5" * 2000
    path.write_bytes(data)
    with pytest.raises(AudioError):
        read_audio(path)


def recording(values: np.ndarray) -> Samples:
    return Samples((values * 32767).astype(np.int16), "0" * 64)


def test_silence_and_noise_hold_no_speech() -> None:
    draw = np.random.default_rng(5)
    assert find_speech(recording(np.zeros(16_000 * 5))) == []
    assert find_speech(recording(draw.standard_normal(16_000 * 20).clip(-4, 4) * 0.05)) == []
    assert find_speech(recording(np.zeros(100))) == []


def test_speech_is_found_and_pauses_part_it() -> None:
    samples = sample_part("small_talk_only", 0, 20)
    segments = find_speech(samples)
    assert len(segments) >= 4
    spoken_s = sum(s.end - s.start for s in segments)
    assert 0.6 < spoken_s / samples.duration_s < 1
    for one, after in itertools.pairwise(segments):
        assert 0 <= one.start < one.end <= after.start
    assert segments[-1].end <= samples.duration_s


def test_block_length_changes_no_segment(monkeypatch: pytest.MonkeyPatch) -> None:
    samples = sample_part("self_corrections", 0, 20)
    whole = find_speech(samples)
    for frames in (1, 7, 100):
        monkeypatch.setattr(audio, "BLOCK_FRAMES", frames)
        assert find_speech(samples) == whole


def test_long_speech_is_cut_without_loss(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(audio, "LONGEST_SEGMENT_S", 2.0)
    samples = sample_part("normal_hand", 0, 20)
    segments = find_speech(samples)
    assert all(s.end - s.start <= 2.0 + 2 * audio.PADDING_S + 0.05 for s in segments)
    assert all(a.end <= b.start for a, b in itertools.pairwise(segments))


@pytest.mark.slow
def test_two_hours_stay_under_the_memory_bound(tmp_path: Path) -> None:
    path = tmp_path / "long.wav"
    once = read_audio(SAMPLES / "small_talk_only.opus").pcm.tobytes()
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, 16_000, 0, "NONE", ""))
        for _ in range(2 * 3600 * 32_000 // len(once) + 1):
            file.writeframesraw(once)
    code = (  # the peak by /proc: that of getrusage begins with the memory of the process that started this one
        "import sys; from pathlib import Path; from dictation.audio import find_speech, read_audio\n"
        "s = read_audio(Path(sys.argv[1])); n = len(find_speech(s))\n"
        "status = dict(line.split(':', 1) for line in open('/proc/self/status'))\n"
        "print(s.duration_s, n, int(status['VmHWM'].split()[0]) // 1024)"
    )
    done = subprocess.run([sys.executable, "-c", code, str(path)], check=True, capture_output=True, text=True)
    seconds, segments, peak_mb = map(float, done.stdout.split())
    assert seconds >= 7200
    assert segments > 1000
    assert peak_mb < 500  # the decoders, 130 MB, come on top


TONE = (8000 * np.sin(2 * np.pi * 440 * np.arange(RATE_HZ) / RATE_HZ)).astype(np.int16)


@pytest.mark.parametrize("rate_hz", [15_000, 17_000])
def test_a_tone_moves_by_the_ratio_of_the_rates(rate_hz: int) -> None:
    got = resampled(TONE, rate_hz)
    assert len(got) == pytest.approx(rate_hz, abs=2)
    spectrum = np.abs(np.fft.rfft(got * np.hanning(len(got))))
    assert np.argmax(spectrum) * RATE_HZ / len(got) == pytest.approx(440 * RATE_HZ / rate_hz, abs=2)


@pytest.mark.parametrize("rate_hz", [15_000, 17_000])
def test_it_is_what_another_resampler_gives(rate_hz: int) -> None:
    """Reference: scipy.signal.resample_poly."""
    sound = np.convolve(np.random.default_rng(2).normal(0, 3000, RATE_HZ), np.ones(8) / 8, "same")
    ratio = rate_hz // 1000
    other = resample_poly(sound.round(), ratio, 16)
    got = resampled(sound.round().astype(np.int16), rate_hz)
    n = min(len(got), len(other))
    assert np.corrcoef(got[100 : n - 100], other[100 : n - 100])[0, 1] > 0.995


def test_at_its_own_rate_and_of_nothing_it_is_the_same() -> None:
    assert resampled(TONE, RATE_HZ) is TONE
    assert len(resampled(TONE[:0], (15_000, 17_000)[0])) == 0
