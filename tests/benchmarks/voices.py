"""Synthetic voices and bad sound for the benchmarks: any sentence spoken, then heard in noise, a room or a telephone.

Needs flite, festival, espeak-ng and ffmpeg. A voice at another speed is the same voice played faster or slower, so that
pitch and formants move with it: another speaker to a recogniser. Nothing made here is kept in the repository.
"""

from __future__ import annotations

import hashlib
import importlib.util
import re
import subprocess
import tempfile
import zlib
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dictation.lexicon.spoken_numbers import ways_to_say

Sound = NDArray[np.float64]
RATE_HZ = 16_000
SAMPLES = Path(__file__).parents[2] / "samples"
PAUSE_S = (0.45, 0.9)
EDGE_S = 1.0
QUIET_ROOM_DB = 45.0

VOICES: dict[str, tuple[str, str, float]] = {  # name: synthesiser, its name there, speed it is played at
    "slt": ("flite", "slt", 1.0),
    "awb": ("flite", "awb", 1.0),
    "kal diphone": ("festival", "voice_kal_diphone", 1.0),
    "rms, slower": ("flite", "rms", 0.94),
    "ked diphone": ("festival", "voice_ked_diphone", 1.0),
    "slt hts, faster": ("festival", "voice_cmu_us_slt_arctic_hts", 1.06),
    "rms, faster": ("flite", "rms", 1.08),
    "awb, slower": ("flite", "awb", 0.93),
    "espeak": ("espeak", "en-gb", 1.0),
}
TUNING_VOICES = ("slt", "awb", "kal diphone", "rms, slower")
UNSEEN_VOICES = ("ked diphone", "slt hts, faster", "rms, faster", "awb, slower")
ROBOTIC_VOICE = "espeak"  # put together from formants, and hardly heard at all: a test of silent errors alone


def _make_sound() -> Any:
    spec = importlib.util.spec_from_file_location("make_sound", SAMPLES / "make_sound.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


_SAMPLES_OWN = _make_sound()

_PAIR = re.compile(r"\b[A-Z]{2}\b")  # nobody says "ip" for IP
_GRADE_SIGNS = {"": "", "+": " plus", "-": " minus"}
_UNITS = {"mm": "millimetres", "cm": "centimetres", "kg": "kilograms", "°": "degrees", "%": "per cent"}


def as_said(text: str) -> str:
    """Return a written dictation as it is read aloud: figures, MRC grades and units in words.

    A question mark before a term is said "query".

    >>> as_said("APB 4-/5, scar 2.5 cm, flexion 110°.")
    'APB four minus out of five, scar two point five centimetres, flexion one hundred and ten degrees.'
    """
    text = re.sub(r"(?<!\S)\?(?=\w)", "query ", text)
    text = re.sub(r"(\d)([+-]?)/(\d)\b", lambda m: f"{m[1]}{_GRADE_SIGNS[m[2]]} out of {m[3]}", text)
    text = re.sub(r"(?<=\d) ?(mm|cm|kg|°|%)(?!\w)", lambda m: f" {_UNITS[m[1]]}", text)
    text = re.sub(r"\b(\d{1,3})\.(\d+)\b", lambda m: f"{m[1]} point {' '.join(m[2])}", text)
    return re.sub(r"(?<!\w)\d{1,3}(?!\w)", lambda m: ways_to_say(int(m[0]))[0], text)


def speak(sentence: str, voice: str, kept: Path) -> Sound:
    """Return one sentence, −1 to 1, 16 000 Hz, without the silence at its ends. kept: folder of what was spoken before."""
    synthesiser, name, speed = VOICES[voice]
    text = _PAIR.sub(lambda pair: " ".join(pair[0]), _SAMPLES_OWN.as_spoken(sentence))
    place = kept / (hashlib.sha256(f"{synthesiser} {name} {speed} {text}".encode()).hexdigest()[:24] + ".npy")
    if place.is_file():
        return np.asarray(np.load(place), np.float64) / 32768
    with tempfile.TemporaryDirectory() as folder:
        wave = Path(folder) / "sentence.wav"
        command = {
            "flite": ["flite", "-voice", name, "-t", text, "-o", str(wave)],
            "festival": ["text2wave", "-eval", f"({name})", "-o", str(wave)],
            "espeak": ["espeak-ng", "-v", name, "-s", "150", "-w", str(wave), text],
        }[synthesiser]
        subprocess.run(command, check=True, input=text, text=True, stdout=subprocess.DEVNULL)
        filters = ["-af", f"asetrate={RATE_HZ}*{speed},aresample={RATE_HZ}"] if speed != 1 else []
        decode = ["ffmpeg", "-v", "error", "-i", str(wave), "-ac", "1", "-ar", str(RATE_HZ), "-f", "wav", f"{wave}.16k.wav"]
        subprocess.run(decode, check=True)
        play = ["ffmpeg", "-v", "error", "-i", f"{wave}.16k.wav", *filters, "-f", "f32le", "-"]
        sound = np.frombuffer(subprocess.run(play, check=True, stdout=subprocess.PIPE).stdout, "<f4").astype(np.float64)
    loud = np.flatnonzero(np.abs(sound) > 0.01 * np.abs(sound).max())
    sound = sound[max(loud[0] - RATE_HZ // 50, 0) : loud[-1] + RATE_HZ // 50]
    sound = sound * 0.1 / np.sqrt(np.mean(sound**2))
    kept.mkdir(parents=True, exist_ok=True)
    np.save(place, (sound * 32768).clip(-32768, 32767).astype(np.int16))
    return np.asarray(np.load(place), np.float64) / 32768


def dictation(sentences: Sequence[str], voice: str, kept: Path) -> tuple[Sound, Sound]:
    """Return sentences with pauses between, root mean square of speech 0.1, and where somebody speaks (0 or 1)."""
    draw = np.random.default_rng(zlib.crc32(" ".join(sentences).encode()))
    sound, speech = [np.zeros(round(EDGE_S * RATE_HZ))], [np.zeros(round(EDGE_S * RATE_HZ))]
    for sentence in sentences:
        part, pause = speak(sentence, voice, kept), np.zeros(round(draw.uniform(*PAUSE_S) * RATE_HZ))
        sound += [part, pause]
        speech += [np.ones(len(part)), pause]
    return np.concatenate(sound), np.concatenate(speech)


def white(n: int, draw: np.random.Generator, kept: Path) -> Sound:
    """White noise."""
    return draw.standard_normal(n)


def fan(n: int, draw: np.random.Generator, kept: Path) -> Sound:
    """Noise stronger the lower it is."""
    return np.asarray(_SAMPLES_OWN.brown_noise(n, draw))


def babble(n: int, draw: np.random.Generator, kept: Path) -> Sound:
    """Six voices talking at once, none of them the one that dictates in the same set."""
    talk = [line for name in ("tuning", "unseen") for line in talk_sentences(name)]
    out = np.zeros(n)
    for voice in ("slt", "awb", "rms, slower", "ked diphone", "rms, faster", "slt hts, faster"):
        line = np.concatenate([speak(talk[i], voice, kept) for i in draw.permutation(len(talk))[:8]])
        out += np.roll(np.resize(line, n), int(draw.integers(n)))
    return out


def talk_sentences(name: str) -> list[str]:
    """Return the lines of talk and reading of a set, "tuning" or "unseen"."""
    return (Path(__file__).parent / f"talk_{name}.txt").read_text(encoding="utf-8").splitlines()


Noise = Callable[[int, np.random.Generator, Path], Sound]
NOISES: dict[str, tuple[Noise, float]] = {
    f"{name} {db} dB": (noise, float(db))
    for name, noise in (("white", white), ("fan", fan), ("babble", babble))
    for db in (20, 10, 5)
}
CONDITIONS = ("clean", *NOISES, "reverberation", "telephone 8 kHz")
TUNING_CONDITIONS = ("clean", "white 10 dB", "fan 20 dB", "babble 10 dB", "reverberation")
"""The others are unseen: nothing is chosen by them."""


def in_condition(sound: Sound, speech: Sound, condition: str, seed: str, kept: Path) -> NDArray[np.int16]:
    """Return the sound as a microphone would give it, int16; the noise's level is that of the speech less so many dB."""
    draw = np.random.default_rng(zlib.crc32(f"{seed} {condition}".encode()))
    level = float(np.sqrt(np.mean(sound[speech > 0] ** 2)))
    if condition == "reverberation":
        # An exponential tail that falls by 60 dB in half a second, direct sound 3 dB over it: a bare tiled room.
        tail = draw.standard_normal(RATE_HZ // 2) * 10 ** (-3 * np.arange(RATE_HZ // 2) / (RATE_HZ // 2))
        tail *= 10 ** (-3 / 20) / np.sqrt(np.sum(tail**2))
        tail[0] = 1.0
        size = 1 << (len(sound) + len(tail)).bit_length()
        sound = np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(tail, size), size)[: len(sound)]
        sound = sound * level / np.sqrt(np.mean(sound[speech > 0] ** 2))
    if condition == "telephone 8 kHz":
        # Butterworth slopes, second order under 300 Hz and fourth over 3400, and nothing over 4 kHz. With vertical edges
        # instead, voice activity takes most voices for no speech at all.
        spectrum, hz = np.fft.rfft(sound), np.fft.rfftfreq(len(sound), 1 / RATE_HZ)
        slope = np.sqrt(1 + (300 / np.maximum(hz, 1)) ** 4) * np.sqrt(1 + (hz / 3400) ** 8)
        sound = np.fft.irfft(np.where(hz < 4000, spectrum / slope, 0), len(sound))
    noise, db = NOISES.get(condition, (fan, QUIET_ROOM_DB))
    hiss = noise(len(sound), draw, kept)
    sound = sound + hiss * (level * 10 ** (-db / 20) / np.sqrt(np.mean(hiss**2)))
    peak = float(np.abs(sound).max())
    return np.round(sound * min(1.0, 0.95 / peak) * 32767).astype(np.int16)
