"""What is compiled from a lexicon is kept: in memory, and as plain text in the cache folder.

Here alone the key is made: the content of the lexicon, of this program and of the stock dictionary, and Python's version.
A key is a folder, a use of the lexicon is a file in it, written whole, owner-only, under its own checksum. What is damaged
is compiled again without a word; a folder that cannot be written, or that others can write, is done without.
"""

from __future__ import annotations

import atexit
import contextlib
import gc
import hashlib
import importlib.util
import json
import os
import secrets
import shutil
import sys
import tempfile
from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

from dictation.lexicon.entries import Lexicon

KEPT = 3  # compiled lexicons kept in the folder: those used last
_REMEMBERED = 12  # compiled uses kept in memory
T = TypeVar("T")

_memory: OrderedDict[tuple[str, str], Any] = OrderedDict()


def compiled(lexicon: Lexicon, use: str, make: Callable[[], str], revive: Callable[[str], T]) -> T:
    """Return one use of a lexicon: from memory, from its cache folder, or made.

    make: gives a text, by a pure function of the lexicon. revive: what is worked with, from that text.
    """
    mark = (use, content_key(lexicon.checksum, lexicon.personal_sha256))
    if mark not in _memory:
        with uncollected():
            _memory[mark] = revive(kept_text(lexicon.cache, mark[1], use, make))
        while len(_memory) > _REMEMBERED:
            _memory.popitem(last=False)
    _memory.move_to_end(mark)
    value: T = _memory[mark]
    return value


@contextlib.contextmanager
def uncollected() -> Iterator[None]:
    """Make many values without the garbage collector, which would walk them all again and again to find nothing to free."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def content_key(checksum: str, personal_sha256: str | None) -> str:
    """Return the key of all that is compiled from the lexicon with these checksums."""
    return hashlib.sha256(f"{checksum} {personal_sha256} {_program()}".encode()).hexdigest()[:32]


@lru_cache(maxsize=1)
def _program() -> str:
    """The content of this program's code and tables, the stock dictionary beside it, and Python's version."""
    digest = hashlib.sha256(f"{sys.version} {sys.byteorder}".encode())
    for folder, below, names in os.walk(Path(__file__).parents[1]):
        below.sort()
        for name in sorted(names):
            if name.endswith((".py", ".tsv")):
                with open(f"{folder}/{name}", "rb") as code:  # a Path for each of so many takes longer
                    digest.update(code.read() + b"\0")
    spec = importlib.util.find_spec("pocketsphinx")
    for folder in (spec.submodule_search_locations or []) if spec else []:
        for file in sorted(os.scandir(Path(folder) / "model" / "en-us"), key=lambda file: file.name):
            digest.update(f"{file.name} {file.stat().st_size}".encode())
    return digest.hexdigest()


def kept_text(cache: Path | None, key: str, name: str, make: Callable[[], str]) -> str:
    """Return a text from the cache folder, else made and kept there."""
    place = _place(cache, key)
    found = _read(place / name) if place else None
    if found is not None:
        return found.decode()
    text = make()
    if cache is not None:
        with contextlib.suppress(OSError):
            _write(_made(cache, key) / name, text.encode())
    return text


def kept_files(cache: Path | None, key: str, name: str, make: Callable[[], Mapping[str, str]]) -> dict[str, Path]:
    """Return the paths of text files, by name, for programs that read files alone.

    Where there is no folder that can be used they are in a temporary one, which goes when this program ends.
    """
    place = _place(cache, key)
    listed = _read(place / name) if place else None
    if place and listed is not None:
        sums: dict[str, str] = json.loads(listed)
        if all(_sum(place / file) == found for file, found in sums.items()):
            return {file: place / file for file in sums}
    texts = {file: text.encode() for file, text in make().items()}
    sums = {file: hashlib.sha256(data).hexdigest() for file, data in texts.items()}
    try:
        place = _made(cache, key) if cache is not None else _temporary()
        _write_all(place, texts, name, sums)
    except OSError:
        place = _temporary()
        _write_all(place, texts, name, sums)
    return {file: place / file for file in texts}


def _write_all(place: Path, texts: Mapping[str, bytes], name: str, sums: Mapping[str, str]) -> None:
    for file, data in texts.items():
        _replace(place / file, data)
    _write(place / name, json.dumps(sums).encode())  # last: the files count once they are listed


def _place(cache: Path | None, key: str) -> Path | None:
    """The folder of a key, where there is one that only its owner can write."""
    if cache is None:
        return None
    place = cache / f"compiled-{key}"
    try:
        if not (_owned(cache) and _owned(place)):
            return None
        os.utime(place)
    except OSError:
        return None
    return place


def _owned(folder: Path) -> bool:
    about = folder.stat()
    return not hasattr(os, "getuid") or (about.st_uid == os.getuid() and not about.st_mode & 0o022)


def _made(cache: Path, key: str) -> Path:
    """Make the folder of a key, and forget those not used for long. Raises OSError."""
    cache.mkdir(mode=0o700, parents=True, exist_ok=True)
    place = cache / f"compiled-{key}"
    if not _owned(cache):
        raise PermissionError
    place.mkdir(mode=0o700, exist_ok=True)
    if not _owned(place):
        raise PermissionError
    with contextlib.suppress(OSError):  # another process may be forgetting the same
        kept = sorted(cache.glob("compiled-*"), key=lambda path: path.stat().st_mtime, reverse=True)
        for old in kept[KEPT:]:
            shutil.rmtree(old, ignore_errors=True)
    return place


def _temporary() -> Path:
    folder = Path(tempfile.mkdtemp(prefix="dictation-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


def _read(path: Path) -> bytes | None:
    """The values in a file, None where it is not there or not what was written."""
    try:
        checksum, _, data = path.read_bytes().partition(b"\n")
    except OSError:
        return None
    return data if hashlib.sha256(data).hexdigest().encode() == checksum else None


def _sum(path: Path) -> str | None:
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return None


def _write(path: Path, data: bytes) -> None:
    _replace(path, hashlib.sha256(data).hexdigest().encode() + b"\n" + data)


def _replace(path: Path, data: bytes) -> None:
    """Write a file whole, for its owner alone; readers see the old one or the new one."""
    temporary = path.with_name(f".{path.name}.{secrets.token_hex(6)}")
    try:
        with os.fdopen(os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(data)
        os.replace(temporary, path)
    finally:
        with contextlib.suppress(OSError):
            temporary.unlink()
