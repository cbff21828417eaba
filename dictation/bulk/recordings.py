"""Which recordings a run is about: found in folders by pattern, each with the place that its draft will take.

Folders are read with all that is in them, sorted, hidden files left out. A draft's place mirrors that of its recording, so
that two days of a recorder that counts from one again do not meet. Imports drafting, splitting and errors.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fnmatch import fnmatch
from pathlib import Path

from dictation.drafting import draft_name
from dictation.errors import InputError
from dictation.splitting.cutting import ENDING as PARTS
from dictation.splitting.splits import ENDING as SPLITS

SOUND = (
    "*.wav", "*.wave", "*.flac", "*.mp3", "*.m4a", "*.aac", "*.ogg", "*.oga", "*.opus", "*.webm", "*.wma", "*.amr", "*.aif",
    "*.aiff", "*.caf", "*.mp4", "*.3gp",
)  # fmt: skip
"""Names of sound files, taken where no pattern is given; letters' case does not matter."""


@dataclass(frozen=True, slots=True)
class Recording:
    """One recording. name: how a person knows it, its path within the folder named. target: where its draft goes. reference:
    of its encounter, where it was said or written; else it is made from the name.
    """

    path: Path
    name: str
    target: Path
    reference: str | None = None


@dataclass(frozen=True, slots=True)
class Recordings:
    """What was found, in order. clashing: with another whose draft would have the same name. others: how many files of other
    names were left alone.
    """

    found: list[Recording]
    clashing: list[Recording]
    others: int


def find_recordings(places: Sequence[Path], out_dir: Path, patterns: Sequence[str] = ()) -> Recordings:
    """Return the recordings in folders, and those named themselves. patterns: of file names, those of sound unless given.

    Raises InputError for a place that is not there, or a folder that cannot be read: nothing is passed over in silence.
    """
    wanted = [pattern.casefold() for pattern in patterns or SOUND]
    found: dict[Path, Recording] = {}
    others = 0
    for place in places:
        if not place.exists():
            raise InputError(f"There is no folder or file {place}; check the path.")
        for path, inside in _files(place, out_dir.resolve()):
            named = not place.is_dir()
            if named or any(fnmatch(path.name.casefold(), pattern) for pattern in wanted):
                target = out_dir / inside.parent / draft_name(path)
                found.setdefault(path.resolve(), Recording(path, inside.as_posix(), target))
            else:
                others += 1
    ordered = sorted(found.values(), key=lambda one: one.name)
    many = {target for target, count in Counter(one.target for one in ordered).items() if count > 1}
    return Recordings(
        [one for one in ordered if one.target not in many], [one for one in ordered if one.target in many], others
    )


def _files(place: Path, out_dir: Path) -> Iterator[tuple[Path, Path]]:
    """Each file of a place, and its path within that; hidden ones and those among the drafts are left out."""
    if not place.is_dir():
        yield place, Path(place.name)
        return
    for folder, inner, names in os.walk(place, onerror=_cannot_read):
        here = Path(folder)
        inner[:] = sorted(
            one for one in inner if not one.startswith(".") and not one.endswith(PARTS) and (here / one).resolve() != out_dir
        )
        for name in sorted(names):
            drafts_here = here.resolve() == out_dir and name.endswith(".json")
            if not name.startswith(".") and not drafts_here and not name.endswith(SPLITS):
                yield here / name, (here / name).relative_to(place)


def _cannot_read(err: OSError) -> None:
    raise InputError(f"The folder {err.filename} cannot be read ({type(err).__name__}); check its permissions.") from err
