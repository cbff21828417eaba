"""Whisper weights fetched once, by an explicit command, into a folder. The only place that may touch the network."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from dictation.errors import OutputError, RecogniserUnavailable
from dictation.recognition.whisper import REMAINS, model_problem

# Megabytes to fetch, approximate, from memory; weights are OpenAI's Whisper (MIT licence) in CTranslate2 format.
SIZES_MB = {
    "tiny.en": 75, "base.en": 145, "small.en": 485, "medium.en": 1530, "large-v3": 3090, "large-v3-turbo": 1620,
}  # fmt: skip


def fetch_model(name: str, folder: Path, announce: Callable[[str], None]) -> Path:
    """Return the folder with the model of that name, fetched from the network if it is not there yet.

    announce: told, before anything is fetched, what comes, about how large it is and where it goes. A broken fetch leaves
    a folder ending in .part, which the next try goes on with.
    Raises RecogniserUnavailable for an unknown name or a failed fetch, OutputError where the folder cannot be written.
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
    announce(f"Fetching Whisper {name}, about {SIZES_MB[name]} MB, into {place}.")
    _download(name, part)
    problem = model_problem(part)
    if problem:
        raise RecogniserUnavailable(f"The model {name} came incomplete; try again, or {REMAINS}.")
    part.rename(place)
    return place


def _download(name: str, folder: Path) -> None:
    from faster_whisper import download_model

    try:
        download_model(name, output_dir=str(folder))
    except Exception as err:  # the network library raises errors of many kinds, none of them ours to list
        raise RecogniserUnavailable(
            f"The model {name} could not be fetched ({type(err).__name__}); check the connection and try again, or {REMAINS}."
        ) from err
