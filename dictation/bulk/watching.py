"""Watching folders: a recording is taken up once nothing writes to it any more.

Looks again every few seconds, which works on every file system, shared ones too. Imports recordings, splitting.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from dictation.bulk.recordings import Recording, Recordings
from dictation.splitting.splits import splits_beside

EVERY_S = 5.0
"""A recording whose size and date stayed the same for so long is whole. Chosen by us, no source."""

State = tuple[int, ...]


class Watch:
    """Tells which recordings are new and whole. find: looks at the folders."""

    def __init__(self, find: Callable[[], Recordings]) -> None:
        self._find = find
        self._seen: dict[Path, State] = {}
        self._given: dict[Path, State] = {}

    def look(self) -> Recordings:
        """Return the recordings not given yet, or changed since, that are as they were at the look before.

        What failed is not given again before its file changes.
        """
        found = self._find()
        now = {one.path: state for one in [*found.found, *found.clashing] if (state := _state(one)) is not None}
        whole = {path for path, state in now.items() if self._seen.get(path) == state and self._given.get(path) != state}
        self._seen = now
        self._given.update({path: now[path] for path in whole})
        return replace(
            found, found=[o for o in found.found if o.path in whole], clashing=[o for o in found.clashing if o.path in whole]
        )


def _state(recording: Recording) -> State | None:
    """Size and date of a recording, and of the cuts that a person has confirmed for it."""
    found: list[int] = []
    for path in (recording.path, splits_beside(recording.target), splits_beside(recording.path)):
        try:
            state = path.stat()
            found += [state.st_size, state.st_mtime_ns]
        except OSError:
            if path == recording.path:
                return None  # gone again
    return tuple(found)
