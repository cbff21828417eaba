"""What is made of sound that holds no dictation: ``python -m tests.benchmarks.bench_talk [--minutes M] [FILE ...]``

Ordinary talk, reading and numbers of everyday life in synthetic voices, in every condition of bench_hearing in turn, and noise
with nobody in it. Every field is invented; one without a `check` flag is a silent error. FILE: recordings instead, which must
hold no dictation either. Prints the fields, which are nobody's secret: the texts stand beside this file.

To reach over twenty minutes: no field without a `check` flag, two fields at most.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from dictation.audio import RATE_HZ, Samples, find_speech, read_audio
from dictation.lexicon.loading import load_lexicon
from dictation.recognition.sphinx import EmbeddedRecogniser
from tests.benchmarks.bench_hearing import drafted
from tests.benchmarks.voices import CONDITIONS, NOISES, dictation, in_condition, talk_sentences
from tests.scoring import checked

VOICES = ("slt", "rms, faster", "awb, slower", "espeak", "kal diphone", "ked diphone")
LINES = 9  # to a recording: half a minute and more
NOISE_S = 20.0  # of noise alone, after every fourth recording


def recordings(minutes: float, kept: Path) -> Iterator[tuple[str, Samples]]:
    """Give talk until there are so many minutes: lines in order, voices and conditions in turn; and noise in between."""
    lines = [line for name in ("everyday", "unseen") for line in talk_sentences(name)]
    total_s, number = 0.0, 0
    while total_s < 60 * minutes:
        voice, condition = VOICES[number % len(VOICES)], CONDITIONS[number % len(CONDITIONS)]
        chosen = [lines[(number * LINES + i) % len(lines)] for i in range(LINES)]
        sound = in_condition(*dictation(chosen, voice, kept), condition, f"talk {number}", kept)
        yield f"{voice}, {condition}", Samples(sound, "0" * 64)
        total_s += len(sound) / RATE_HZ
        if number % 4 == 3:
            name, (noise, _) = list(NOISES.items())[number // 4 % len(NOISES)]
            hiss = noise(round(NOISE_S * RATE_HZ), np.random.default_rng(number), kept)
            level = 32768 * 0.05 / np.sqrt(np.mean(hiss**2))
            yield f"nobody, {name.split()[0]}", Samples(np.clip(hiss * level, -32768, 32767).astype(np.int16), "0" * 64)
            total_s += NOISE_S
        number += 1


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("files", nargs="*", type=Path, metavar="FILE", help="recordings that hold no dictation")
    parser.add_argument("--minutes", type=float, default=20.0)
    parser.add_argument("--kept", type=Path, default=Path(tempfile.gettempdir()) / "spoken-for-benchmarks")
    asked = parser.parse_args()
    lexicon = load_lexicon()
    recogniser = EmbeddedRecogniser(lexicon)
    found = unflagged = words = unread = 0
    sound_s = speech_s = 0.0
    given = ((file.name, read_audio(file)) for file in asked.files) if asked.files else recordings(asked.minutes, asked.kept)
    for name, samples in given:
        segments = find_speech(samples)
        heard = recogniser.recognise(samples, segments)
        sound_s += samples.duration_s
        speech_s += sum(s.end - s.start for s in segments)
        words += len(heard.words)
        unread += len(heard.unread)
        for field in drafted(heard, samples, segments, lexicon)["fields"]:
            found += 1
            unflagged += not checked(field)
            doubts = ", ".join(flag["code"] for flag in field["flags"] if flag["level"] == "check") or "NO MARK"
            print(
                f'{name}: {field["concept"]} from "{field["evidence"][0]["said"]}" ({field["confidence"]:.2f}; {doubts})',
                flush=True,
            )
    voices = "given recordings" if asked.files else "synthetic voices"
    print(
        f"{sound_s / 60:.1f} minutes, {speech_s / 60:.1f} of them speech ({voices}): {found} fields, {unflagged} without "
        f"a check flag; {words} words heard, {unread} stretches left unread."
    )


if __name__ == "__main__":
    main()
