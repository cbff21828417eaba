"""A recording of several examinations, cut into a sound file for each: another patient's voice belongs in no encounter.

The cuts are kept with the checksum of the recording they were made of; the same cuts of the same recording are made once.
Imports marks, splits, audio, writing and errors.
"""

from __future__ import annotations

import concurrent.futures
import hashlib
import io
import json
import multiprocessing
import wave
from collections.abc import Sequence
from concurrent.futures.process import BrokenProcessPool
from dataclasses import asdict
from pathlib import Path

from dictation.errors import InputError
from dictation.splitting.marks import Stretch
from dictation.splitting.splits import left_out_s
from dictation.writing import make_folder, write_whole

ENDING = ".parts"
MADE = "cuts.json"
WHOLE = "whole.draft.json"
"""The draft of the recording as one, by whose words its cuts are shown."""
TOO_LATE_S = 0.5


def parts_folder(target: Path) -> Path:
    """Return the folder of a recording's parts, beside where its draft would be."""
    return target.with_name(target.name.removesuffix(".draft.json") + ENDING)


def part_names(stretches: Sequence[Stretch]) -> list[str]:
    """Return the names of the parts' files: numbers, which sort as they were said."""
    return [f"{number:03}.wav" for number in range(1, len(stretches) + 1)]


def cut_apart(source: Path, stretches: Sequence[Stretch], folder: Path) -> float:
    """Write each stretch of a recording into the folder, as it was said, and return the seconds that lie in none.

    Does nothing where that was done before. Raises InputError or AudioError where the recording cannot be read or is shorter
    than the stretches say; OutputError.
    """
    done = _done(source, stretches, folder)
    if done is not None:
        return done
    with concurrent.futures.ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn")) as apart:
        try:  # a process of its own: what a crafted file does to a decoder ends there, and its memory goes
            return apart.submit(_cut, source, list(stretches), folder).result()
        except BrokenProcessPool as err:
            raise InputError(f"{source.name} ended the process that cut it; it may be damaged; copy it again.") from err


def _cut(source: Path, stretches: Sequence[Stretch], folder: Path) -> float:
    from dictation.audio import read_audio

    samples = read_audio(source)
    if stretches[-1].end_s > samples.duration_s + TOO_LATE_S:
        raise InputError(f"{source.name} is shorter than its cuts say; correct their times.")
    make_folder(folder)
    (folder / MADE).unlink(missing_ok=True)
    for name, stretch in zip(part_names(stretches), stretches, strict=True):
        sound = io.BytesIO()
        with wave.open(sound, "wb") as out:
            out.setnchannels(1)
            out.setsampwidth(2)
            out.setframerate(samples.rate_hz)
            out.writeframes(samples.part(stretch.start_s, stretch.end_s).tobytes())
        write_whole(folder / name, sound.getvalue())
    left = left_out_s(stretches, samples.duration_s)
    write_whole(folder / MADE, json.dumps(_of(samples.sha256, stretches) | {"left_out_s": left}))
    return left


def _of(sha256: str, stretches: Sequence[Stretch]) -> dict[str, object]:
    return {"recording": sha256, "stretches": [asdict(one) for one in stretches]}


def _done(source: Path, stretches: Sequence[Stretch], folder: Path) -> float | None:
    """The seconds in no stretch where the parts are there already, None where they are not."""
    try:
        made = json.loads((folder / MADE).read_text(encoding="utf-8"))
        with source.open("rb") as file:
            sha256 = hashlib.file_digest(file, "sha256").hexdigest()
        there = all((folder / name).is_file() for name in part_names(stretches))
        left = float(made.pop("left_out_s"))
    except (OSError, ValueError, TypeError, AttributeError, KeyError):
        return None
    return left if there and made == _of(sha256, stretches) else None
