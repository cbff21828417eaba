#!/usr/bin/env python3
"""Remake the sound of the samples from their scripts.

    python samples/make_sound.py [ID ...]

Reads samples/ID.txt (one sentence a line) and writes samples/ID.opus, 16 kHz mono. Needs flite, festival with
the voices named in VOICES, ffmpeg with libopus, and numpy. The same versions of these give the same sound
again: pauses and noise are drawn from a seed made of the ID.
"""
import re
import subprocess
import sys
import tempfile
import zlib
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
RATE_HZ = 16_000
BITRATE = "24k"
PAUSE_S = (0.35, 0.70)  # between sentences, as one dictates
EDGE_S = 0.4            # before the first and after the last sentence
PEAK = 0.7              # of full scale

VOICES = {  # name: (synthesiser, what that synthesiser calls the voice)
    "kal16": ("flite", "kal16"),
    "awb": ("flite", "awb"),
    "rms": ("flite", "rms"),
    "slt": ("flite", "slt"),
    "slt_hts": ("festival", "voice_cmu_us_slt_arctic_hts"),
    "kal_diphone": ("festival", "voice_kal_diphone"),
    "ked_diphone": ("festival", "voice_ked_diphone"),
}

QUIET_ROOM_DB = 45  # speech over noise; a pause in a room is never digital silence
SAMPLES = {  # id: (voice, speech over brown noise in dB)
    "normal_hand": ("slt", QUIET_ROOM_DB),
    "carpal_tunnel": ("rms", QUIET_ROOM_DB),
    "thumb_base_arthritis": ("slt_hts", QUIET_ROOM_DB),
    "wrist_fracture_follow_up": ("kal16", QUIET_ROOM_DB),
    "small_talk_between": ("kal_diphone", QUIET_ROOM_DB),
    "self_corrections": ("awb", QUIET_ROOM_DB),
    "background_noise": ("rms", 15),
    "small_talk_only": ("slt", QUIET_ROOM_DB),
    "dupuytren_clinic": ("ked_diphone", QUIET_ROOM_DB),
    "elbow_clinic": ("awb", QUIET_ROOM_DB),
}

# What the synthesisers mangle, respelt to come out near the way clinicians say it.
# The scripts keep the real spelling.
RESPELT = {
    "Tinel's": "tinnel's",
    "Phalen's": "faylin's",
    "Finkelstein's": "finkelstine's",
    "Froment's": "froemon's",
    "Dupuytren's": "doop wit ren's",
    "Bouchard's": "boo shard's",
    "Heberden's": "hebber dun's",
    "Kapandji": "kapandjee",
    "Guyon's": "ghee yon's",
    "Wartenberg's": "vartenberg's",
    "Cozen's": "coe zen's",
    "de Quervain's": "duh kervain's",
    "ballottement": "ba lotment",
    "centimetres": "centimeters",
    "cutaneous": "cue tain ee us",
    "erythema": "erra theema",
    "extensor": "extenser",
    "fasciectomy": "fashy ectomy",
    "flexion": "flection",
    "fovea": "foe vee uh",
    "hypothenar": "hypo theenar",
    "interosseous": "inter osseous",
    "millimetres": "millimeters",
    "neurovascularly": "neuro vascularly",
    "physiotherapy": "physio therapy",
    "pronation": "pro nation",
    "radiographs": "radio graphs",
    "supination": "soup ination",
    "synovitis": "sign oh vite us",
    "tenosynovitis": "teeno sign oh vite us",
    "thenar": "theenar",
    "varus": "vair us",
}
INITIALISM = re.compile(r"\b[A-Z]{3,4}\b")  # MCP is said "M C P"


def as_spoken(sentence: str) -> str:
    """The sentence as handed to a synthesiser: eponyms respelt, initialisms letter by letter."""
    for written, spoken in RESPELT.items():
        sentence = re.sub(rf"\b{re.escape(written)}(?!\w)", spoken, sentence, flags=re.IGNORECASE)
    return INITIALISM.sub(lambda match: " ".join(match.group()), sentence)


def speak(sentence: str, voice: str, folder: Path) -> np.ndarray:
    """One sentence as float32 (n_samples,), −1 to 1, 16 000 Hz mono, without the silence at its ends."""
    synthesiser, name = VOICES[voice]
    wave = folder / "sentence.wav"
    if synthesiser == "flite":
        command = ["flite", "-voice", name, "-t", as_spoken(sentence), "-o", str(wave)]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    else:
        command = ["text2wave", "-eval", f"({name})", "-o", str(wave)]
        subprocess.run(command, check=True, input=as_spoken(sentence), text=True)
    decode = ["ffmpeg", "-v", "error", "-i", str(wave), "-f", "f32le", "-ac", "1", "-ar", str(RATE_HZ), "-"]
    sound = np.frombuffer(subprocess.run(decode, check=True, stdout=subprocess.PIPE).stdout, dtype="<f4")
    loud = np.flatnonzero(np.abs(sound) > 0.01 * np.abs(sound).max())
    margin = RATE_HZ // 50  # keeps soft consonants at the ends
    return sound[max(loud[0] - margin, 0) : loud[-1] + margin]


def brown_noise(n: int, draw: np.random.Generator) -> np.ndarray:
    """Noise stronger the lower it is, as of a fan, unit root mean square; below 40 Hz it is taken out."""
    spectrum = np.fft.rfft(draw.standard_normal(n))
    frequency_hz = np.fft.rfftfreq(n, 1 / RATE_HZ)
    spectrum *= np.where(frequency_hz > 40, 1 / np.maximum(frequency_hz, 1), 0)
    noise = np.fft.irfft(spectrum, n)
    return np.asarray(noise / np.sqrt(np.mean(noise**2)))


def dictation(sample: str) -> np.ndarray:
    """The whole script spoken, with pauses and noise: float (n_samples,), peak at PEAK."""
    voice, snr_db = SAMPLES[sample]
    draw = np.random.default_rng(zlib.crc32(sample.encode()))
    sentences = (HERE / f"{sample}.txt").read_text(encoding="utf-8").splitlines()
    with tempfile.TemporaryDirectory() as folder:
        spoken = [speak(sentence, voice, Path(folder)) for sentence in sentences if sentence.strip()]
    speech_level = np.sqrt(np.mean(np.concatenate(spoken) ** 2))
    edge = np.zeros(int(EDGE_S * RATE_HZ))
    pieces = [edge]
    for part in spoken:
        pieces += [part, np.zeros(int(draw.uniform(*PAUSE_S) * RATE_HZ))]
    sound = np.concatenate([*pieces[:-1], edge])
    sound = sound + brown_noise(len(sound), draw) * speech_level * 10 ** (-snr_db / 20)
    return np.asarray(sound * PEAK / np.abs(sound).max())


def write_opus(sound: np.ndarray, path: Path) -> None:
    """Encode as Opus, leaving out what differs between two runs (dates, serial numbers)."""
    command = ["ffmpeg", "-v", "error", "-y", "-f", "f32le", "-ar", str(RATE_HZ), "-ac", "1", "-i", "-",
               "-c:a", "libopus", "-b:a", BITRATE, "-application", "audio",
               "-map_metadata", "-1", "-fflags", "+bitexact", "-flags:a", "+bitexact", str(path)]
    subprocess.run(command, check=True, input=sound.astype("<f4").tobytes())


def main(wanted: list[str]) -> None:
    unknown = sorted(set(wanted) - SAMPLES.keys())
    if unknown:
        sys.exit(f"make_sound: no sample is called {', '.join(unknown)}; choose from {', '.join(SAMPLES)}.")
    try:
        for sample in wanted or SAMPLES:
            sound = dictation(sample)
            write_opus(sound, HERE / f"{sample}.opus")
            print(f"{sample}.opus  {len(sound) / RATE_HZ:.1f} s  {SAMPLES[sample][0]}")
    except FileNotFoundError as missing:
        sys.exit(f"make_sound: {missing.filename} was not found; install what the head of this script lists.")


if __name__ == "__main__":
    main(sys.argv[1:])
