"""Recordings that are cut into examinations: each part takes the place of a recording.

Imports recordings, keeping, splitting.
"""

from __future__ import annotations

from pathlib import Path

from dictation.bulk.keeping import Keeping
from dictation.bulk.recordings import Recording
from dictation.splitting.cutting import WHOLE, cut_apart, part_names, parts_folder
from dictation.splitting.splits import read_splits, splits_beside


def cuts_of(recording: Recording) -> Path | None:
    """Return the file of cuts of a recording, beside its draft or beside itself, None where there is none."""
    for path in (splits_beside(recording.target), splits_beside(recording.path)):
        if path.is_file():
            return path
    return None


def whole_of(draft: Path) -> Path:
    """Return where the draft of a recording as one is: there, or among the parts once it is drafted in these."""
    kept = parts_folder(draft) / WHOLE
    return kept if not draft.is_file() and kept.is_file() else draft


def parts_of(recording: Recording, cuts: Path, keeping: Keeping) -> tuple[list[Recording], float]:
    """Return the parts of a recording, cut where they are not yet, and the seconds of it that lie in none.

    Raises InputError for cuts that cannot be used, a recording that cannot be read, or one whose whole is in the store.
    """
    stretches, folder = read_splits(cuts), parts_folder(recording.target)
    keeping.give_way(recording)
    left_s = cut_apart(recording.path, stretches, folder)
    stem = Path(recording.name).with_suffix("")
    parts = [
        Recording(folder / name, f"{stem} part {number}", _target(recording, number), stretch.reference)
        for number, (name, stretch) in enumerate(zip(part_names(stretches), stretches, strict=True), 1)
    ]
    return parts, left_s


def _target(recording: Recording, number: int) -> Path:
    return recording.target.with_name(recording.target.name.removesuffix(".draft.json") + f".{number:03}.draft.json")


def is_part(draft: Path) -> bool:
    """Return whether a draft is of a part that a person has cut of a recording, by its name and the sound of the part."""
    stem, _, number = draft.name.removesuffix(".draft.json").rpartition(".")
    return number.isdecimal() and (parts_folder(draft.with_name(f"{stem}.draft.json")) / f"{number}.wav").is_file()
