"""Where a recording of several examinations is to be cut, as a file beside it or its draft: CSV with start, end, reference.

Written once a person has confirmed the cuts, or by hand. Times are seconds, or hours, minutes and seconds with colons.
Imports marks, store facts, writing and errors.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path

from dictation.errors import InputError
from dictation.splitting.marks import Stretch
from dictation.store.facts import read_reference
from dictation.writing import write_whole

ENDING = ".splits.csv"
HEAD = ["start", "end", "reference"]
SHORTEST_S = 1.0
MOST_BYTES = 1_000_000
_TIME = re.compile(r"(?:(?:(\d{1,3}):)?(\d{1,4}):)?(\d{1,6}(?:\.\d{1,3})?)")


def splits_beside(path: Path) -> Path:
    """Return where the cuts of a recording, or of its draft, are looked for."""
    return path.with_name(path.name.removesuffix(".draft.json") + ENDING if path.name.endswith(".json") else path.stem + ENDING)


def read_time(text: str) -> float:
    """Return seconds. Raises ValueError.

    >>> read_time("75.5"), read_time("1:15.5"), read_time("1:02:03")
    (75.5, 75.5, 3723.0)
    """
    found = _TIME.fullmatch(text.strip())
    if found is None:
        raise ValueError(text)
    hours, minutes, seconds = (float(part or 0) for part in found.groups())
    return hours * 3600 + minutes * 60 + seconds


def read_splits(path: Path) -> list[Stretch]:
    """Return the examinations that a file of cuts names, in order. Raises InputError naming the line that cannot be used."""
    try:
        if path.stat().st_size > MOST_BYTES:
            raise InputError(f"{path.name} is too large for a file of cuts; check the path.")
        lines = list(csv.reader(io.StringIO(path.read_text(encoding="utf-8-sig")), strict=True))
    except (OSError, UnicodeDecodeError, csv.Error) as err:
        raise InputError(f"Cannot read {path.name} ({type(err).__name__}); it is CSV with start, end, reference.") from err
    if not lines or [cell.strip().casefold() for cell in lines[0]] != HEAD:
        raise InputError(f"{path.name} does not begin with the line start,end,reference; write it so.")
    found = [_stretch(line, number, path.name) for number, line in enumerate(lines[1:], 2) if any(line)]
    check_stretches(found, path.name)
    return found


def _stretch(line: Sequence[str], number: int, name: str) -> Stretch:
    try:
        start, end, reference = (*line, "") if len(line) == 2 else line
        return Stretch(read_time(start), read_time(end), read_reference(reference) if reference.strip() else None)
    except ValueError as err:
        raise InputError(f"Line {number} of {name} is not two times and a reference; as in 1:15,7:40,H-2041.") from err
    except InputError as err:
        raise InputError(f"Line {number} of {name}: {err}") from err


def check_stretches(stretches: Sequence[Stretch], name: str) -> None:
    """Raise InputError where stretches are none, too short, out of order, over each other, or of one reference twice."""
    if not stretches:
        raise InputError(f"{name} names no examination; give each a line.")
    for stretch in stretches:
        if stretch.end_s - stretch.start_s < SHORTEST_S:
            raise InputError(f"An examination of {name} ends before it begins, or within a second; correct its times.")
    for one, two in pairwise(stretches):
        if two.start_s < one.end_s:
            raise InputError(f"Two examinations of {name} overlap, or are out of order; correct their times.")
    named = [stretch.reference.casefold() for stretch in stretches if stretch.reference]
    if len(set(named)) < len(named):
        raise InputError(f"Two examinations of {name} have one reference; give each its own.")


def write_splits(path: Path, stretches: Sequence[Stretch]) -> None:
    """Write cuts that a person has confirmed. Raises OutputError; InputError as check_stretches does."""
    check_stretches(stretches, path.name)
    text = io.StringIO()
    out = csv.writer(text, lineterminator="\n")
    out.writerow(HEAD)
    out.writerows([f"{one.start_s:.2f}", f"{one.end_s:.2f}", one.reference or ""] for one in stretches)
    write_whole(path, text.getvalue())


def left_out_s(stretches: Sequence[Stretch], duration_s: float) -> float:
    """Return how much of a recording lies in no examination, in seconds."""
    return max(0.0, duration_s - sum(min(one.end_s, duration_s) - min(one.start_s, duration_s) for one in stretches))
