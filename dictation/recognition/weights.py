"""The sizes and checksums of fetched weights, kept beside them: sizes are compared at every load, checksums when asked for.

One file in the format of `sha256sum --check`, which passes over the lines with sizes. Weights that came some other way have
none, and nothing is compared.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

SUMS = "SHA256SUMS"
_SIZE = "# bytes "


@dataclass(frozen=True, slots=True)
class Fetched:
    """One file as it was when it was fetched. size: None where none was kept."""

    name: str
    sha256: str
    size: int | None


def keep(folder: Path, names: Iterable[str]) -> None:
    """Write down sizes and checksums of files of a folder, as they are now."""
    files = [folder / name for name in sorted(names)]
    lines = [f"{_SIZE}{file.stat().st_size} {file.name}\n" for file in files]
    lines += [f"{digest('sha256', file)}  {file.name}\n" for file in files]
    (folder / SUMS).write_text("".join(lines), encoding="utf-8")


def fetched(folder: Path) -> list[Fetched]:
    """Return what was written down of a folder; nothing where nothing was, or where it cannot be read."""
    try:
        lines = (folder / SUMS).read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        return []
    sizes: dict[str, int] = {}
    for line in lines:
        size, _, name = line.removeprefix(_SIZE).partition(" ")
        if line.startswith(_SIZE) and size.isdecimal():
            sizes[name] = int(size)
    sums = [line.partition("  ") for line in lines if not line.startswith("#")]
    return [Fetched(name, checksum, sizes.get(name)) for checksum, _, name in sums if name]


def of_another_size(folder: Path) -> list[str]:
    """Return the files that are gone or have another size than when they were fetched; reads none of them."""
    return [one.name for one in fetched(folder) if not _is_there(folder, one)]


def altered(folder: Path) -> list[str]:
    """Return the files that are gone or hold something else than when they were fetched; reads all of them."""
    return [
        one.name for one in fetched(folder)
        if not _is_there(folder, one) or digest("sha256", folder / one.name) != one.sha256
    ]  # fmt: skip


def digest(kind: str, file: Path, before: bytes = b"") -> str:
    """Return the checksum of some bytes with a file's content after them."""
    found = hashlib.new(kind, before)
    with file.open("rb") as opened:
        while block := opened.read(1 << 20):
            found.update(block)
    return found.hexdigest()


def _is_there(folder: Path, one: Fetched) -> bool:
    file = folder / one.name
    return file.is_file() and one.size in (None, file.stat().st_size)
