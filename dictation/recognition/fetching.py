"""Whisper weights fetched once, by an explicit command, into a folder. The only place that may touch the network."""

from __future__ import annotations

import shutil
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from dictation.errors import OutputError, RecogniserUnavailable
from dictation.recognition.weights import SUMS, altered, digest, fetched, keep
from dictation.recognition.whisper import REMAINS, model_problem

# Megabytes to fetch, approximate, from memory; weights are OpenAI's Whisper (MIT licence) in CTranslate2 format.
SIZES_MB = {
    "tiny.en": 75, "base.en": 145, "small.en": 485, "medium.en": 1530, "large-v3": 3090, "large-v3-turbo": 1620,
}  # fmt: skip
PUBLISHER = {"large-v3-turbo": "mobiuslabsgmbh"}  # on the hub; of all others the first converter of these weights
WANTED = ("config.json", "preprocessor_config.json", "model.bin", "tokenizer.json", "vocabulary.json", "vocabulary.txt")


@dataclass(frozen=True, slots=True)
class Published:
    """One file as its publisher describes it. checksum: SHA-256, or for small files the SHA-1 of a git blob."""

    size: int
    checksum: str


def fetch_model(name: str, folder: Path, announce: Callable[[str], None]) -> Path:
    """Return the folder with the model of that name, fetched from the network if it is not there yet.

    announce: told, before anything is fetched, what comes, how large it is, where it goes and its published checksum; and
    afterwards that the checksums agree. A broken fetch leaves a folder ending in .part, which the next try goes on with.
    Raises RecogniserUnavailable for an unknown name, a failed fetch or files that are not what was published; OutputError
    where the folder cannot be written.
    """
    if name not in SIZES_MB:
        raise RecogniserUnavailable(f"No model is called {name}; choose from {', '.join(SIZES_MB)}.")
    place = folder / f"whisper-{name}"
    if model_problem(place) is None:
        announce(f"{place} holds {name} already; nothing was fetched.")
        return place
    part = folder / f"whisper-{name}.part"
    try:
        part.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as err:
        raise OutputError(f"{folder} cannot be written ({err.strerror}); choose another folder.") from err
    with _reaching(name):
        revision, files = _published(name)
    size_mb = sum(file.size for file in files.values()) / 1e6
    announce(f"Fetching Whisper {name}, {size_mb:.0f} MB, into {place}.")
    if "model.bin" in files:
        announce(f"Its publisher gives as checksum of model.bin: {files['model.bin'].checksum}")
    with _reaching(name):
        _download(name, revision, part)
    problem = model_problem(part)
    if problem:
        raise RecogniserUnavailable(f"The model {name} came incomplete; try again, or {REMAINS}.")
    different = [file for file, published in files.items() if not agrees(part / file, published)]
    if different:
        for file in different:
            (part / file).unlink(missing_ok=True)
        raise RecogniserUnavailable(
            f"The model {name} is not what was published ({', '.join(different)} differ); try again, or {REMAINS}."
        )
    keep(part, files)
    if place.is_dir():  # one that cannot be used, or nothing would have been fetched
        shutil.rmtree(place)
    part.rename(place)
    announce(f"The checksums of all {len(files)} files agree; they are kept in {place / SUMS}.")
    return place


def check_model(name: str, folder: Path) -> str:
    """Return a sentence that says that the model of that name is as it was fetched; every file is read through.

    Raises RecogniserUnavailable where it is not, or where nothing is known of how it was.
    """
    place = folder / f"whisper-{name}"
    problem = model_problem(place)
    if problem:
        raise RecogniserUnavailable(problem)
    known = fetched(place)
    if not known:
        raise RecogniserUnavailable(f"No checksums were kept in {place}; to have them, delete it and fetch {name} again.")
    different = altered(place)
    if different:
        raise RecogniserUnavailable(
            f"What is in {place} is not what was fetched ({', '.join(different)} differ); delete that folder and fetch {name} "
            f"again, or {REMAINS}."
        )
    return f"All {len(known)} files in {place} are what was fetched."


def agrees(file: Path, published: Published) -> bool:
    """Whether a file is there and is what was published."""
    if not file.is_file() or file.stat().st_size != published.size:
        return False
    if len(published.checksum) == 64:
        return digest("sha256", file) == published.checksum
    return digest("sha1", file, f"blob {published.size}\0".encode()) == published.checksum


@contextmanager
def _reaching(name: str) -> Iterator[None]:
    try:
        yield
    except Exception as err:  # the network library raises errors of many kinds, none of them ours to list
        raise RecogniserUnavailable(
            f"The model {name} could not be fetched ({type(err).__name__}); check the connection and try again, or {REMAINS}."
        ) from err


def _published(name: str) -> tuple[str, dict[str, Published]]:
    """Return the publisher's latest revision of a model, and its files as described there."""
    from huggingface_hub import HfApi

    found = HfApi().model_info(_repository(name), files_metadata=True)
    files = {
        one.rfilename: Published(one.size or 0, one.lfs.sha256 if one.lfs else one.blob_id or "")
        for one in found.siblings or ()
        if one.rfilename in WANTED
    }
    return str(found.sha), files


def _download(name: str, revision: str, folder: Path) -> None:
    """Fetch the files of one revision into folder; what is there already, whole or in part, is not fetched again."""
    from faster_whisper import download_model

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # of one library about how the other calls it
        download_model(_repository(name), output_dir=str(folder), revision=revision)


def _repository(name: str) -> str:
    return f"{PUBLISHER.get(name, 'Systran')}/faster-whisper-{name}"
