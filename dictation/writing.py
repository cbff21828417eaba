"""Files written whole or not at all, readable by their owner alone, and the sentence for every way that
writing can fail.

The text goes to a temporary file in the same folder, is forced to disk, and takes the final name in one step:
a reader, or a machine that loses power, sees the old file or the new one, never half of one. Imports nothing
of ours but errors.
"""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import shutil
import tempfile
from pathlib import Path

from dictation.errors import OutputError

_REASONS = {
    errno.ENOSPC: "the disk is full; free some space and run the command again",
    errno.EDQUOT: "the disk quota is used up; free some space and run the command again",
    errno.EFBIG: "the file would grow past the size allowed here; free some space and run the command again",
    errno.EACCES: "no permission to write there; choose another folder or change its permissions",
    errno.EPERM: "no permission to write there; choose another folder or change its permissions",
    errno.EROFS: "that place is read-only; choose another folder",
    errno.ENOTDIR: "part of the path is a file, not a folder; choose another folder",
    errno.EISDIR: "a folder of that name is in the way; choose another name",
    errno.EEXIST: "a file of that name is in the way; choose another name",
    errno.ENOENT: "the folder is not there; create it first",
    errno.ENAMETOOLONG: "the name is too long; choose a shorter one",
}


UNFINISHED = ".*.????????????.part"
"""Pattern of the names that files have while they are written."""


def output_error(path: Path | str, err: OSError) -> OutputError:
    """Return the error, in one sentence, for a failed write to path."""
    reason = _REASONS.get(err.errno or 0, f"{type(err).__name__} {err.errno or ''}".strip() + "; check the disk and the path")
    return OutputError(f"Cannot write {path}: {reason}.")


def make_folder(folder: Path) -> None:
    """Create folder, and prove that a file can be written there. Raises OutputError.

    Proving it first saves an hour of recognition that would end with nowhere to put the draft.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        with tempfile.TemporaryFile(dir=folder) as probe:
            probe.write(b"\0")
    except OSError as err:
        raise output_error(folder, err) from err


def write_whole(path: Path, text: str | bytes, mode: int = 0o600) -> None:
    """Write text as UTF-8, or bytes, to path, in one step, by itself for its owner alone. Raises OutputError, leaving what
    was at path as it was.
    """
    temporary: Path | None = None
    try:
        # named before it is made: a Ctrl-C between the two would leave it behind
        temporary = path.with_name(f".{path.name[:60]}.{secrets.token_hex(6)}.part")
        descriptor = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "wb") as file:
            file.write(text.encode("utf-8") if isinstance(text, str) else text)
            file.flush()
            os.fsync(file.fileno())
        if mode != 0o600:
            os.chmod(temporary, mode)
        os.replace(temporary, path)
        temporary = None
        sync_folder(path.parent)
    except OSError as err:
        raise output_error(path, err) from err
    finally:
        if temporary is not None:
            with contextlib.suppress(OSError):
                os.unlink(temporary)


def remove_folder(folder: Path) -> None:
    """Remove a folder with all that is in it; one that is gone already is no fault. Raises OutputError."""
    try:
        shutil.rmtree(folder)
    except FileNotFoundError:
        return
    except OSError as err:
        raise output_error(folder, err) from err


def sync_folder(folder: Path) -> None:
    """Force a folder's list of names to disk, where the system can do that."""
    with contextlib.suppress(OSError):  # Windows cannot open a folder; the rename itself is still one step there
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
