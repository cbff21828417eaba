"""The lexicon's files as they ship, read once: terms as YAML, sentences as text."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from dictation.errors import LexiconError
from dictation.lexicon.reading import Content, Sentences, read_content


def lexicon_folder() -> Path:
    """Return the folder of the shipped lexicon: inside the installed package, else beside it in a checkout."""
    inside = Path(__file__).parent / "data"
    return inside if inside.is_dir() else Path(__file__).parents[2] / "lexicon"


@dataclass(frozen=True)
class Shipped:
    """The files that ship, as they were read. checksum: SHA-256 over all of them, in the order of read_shipped."""

    files: tuple[Content, ...]
    conversation: Sentences
    dictations: Sentences
    checksum: str


@lru_cache(maxsize=4)
def read_shipped(folder: Path) -> Shipped:
    """Return the files of a folder, read once. Raises LexiconError where it holds no lexicon."""
    paths = sorted(folder.glob("*.yaml"))
    if not paths:
        raise LexiconError(f"No lexicon files in {folder}; install the program again.")
    files = _contents(paths)
    talk, whole = (_contents(sorted(folder.glob(f"{name}/*.txt"))) for name in ("conversation", "dictations"))
    read = [*files, *_contents(sorted(folder.glob("*.txt"))), *talk, *whole]
    checksum = hashlib.sha256(b"".join(content.name.encode() + b"\0" + content.data + b"\0" for content in read))
    return Shipped(files, Sentences(talk), Sentences(whole), checksum.hexdigest())


def _contents(paths: Iterable[Path]) -> tuple[Content, ...]:
    return tuple(read_content(path) for path in paths)
