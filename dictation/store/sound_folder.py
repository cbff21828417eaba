"""Where the store keeps sound: a folder beside the database, each recording under its checksum.

Imports store.
"""

from __future__ import annotations

from pathlib import Path

from dictation.store.store import Store

SOUND_FOLDER = "sound"


def sound_path(store: Store, sha256: str) -> Path:
    """Return where a recording's sound is kept, whether it is there or not."""
    return store.folder / SOUND_FOLDER / sha256
