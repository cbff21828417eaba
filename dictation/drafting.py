"""From input files to draft files: each sound or text file becomes one draft beside the others, whole or not
at all.

What cannot work is refused before any work: a file that is not there, two inputs with the same stem, a draft
whose review has begun, a folder that cannot be written. A file that fails later, even by a fault of the
program, is reported and the others still go through. Imports pipeline (when it drafts), splitting, store, lexicon,
settings, writing, faults, interruption and errors.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from dictation.errors import DictationError, InputError, OutputError
from dictation.faults import fault_error
from dictation.interruption import stop_if_pressed
from dictation.lexicon.loading import load_lexicon
from dictation.settings import Settings
from dictation.splitting.marks import examinations
from dictation.transcript import check_length
from dictation.writing import make_folder, output_error, write_whole

if TYPE_CHECKING:
    from dictation.lexicon.entries import Lexicon
    from dictation.recognition.protocol import Recogniser
    from dictation.record import DraftRecord

Progress = Callable[[float, float], None]
"""Told the seconds of sound done and the seconds in all."""


@dataclass(frozen=True, slots=True)
class Drafted:
    """One file's outcome: the draft and where it is, or what went wrong. examinations: how many it speaks of."""

    source: Path
    target: Path
    draft: DraftRecord | None
    error: DictationError | None
    examinations: int = 1


def plan_drafts(files: Sequence[Path], folder: Path) -> list[tuple[Path, Path]]:
    """Return each input with the draft it will become. Raises InputError where two would become the same."""
    plan: dict[Path, Path] = {}
    for source in files:
        target = folder / draft_name(source)
        if target in plan:
            raise InputError(
                f"{plan[target].name} and {source.name} would both become {target.name}; rename one, "
                "or draft them into two folders."
            )
        plan[target] = source
    return [(source, target) for target, source in plan.items()]


def draft_files(
    files: Sequence[Path],
    folder: Path,
    recogniser: str,
    settings: Settings,
    *,
    begin: Callable[[Path], Progress | None],
    done: Callable[[Drafted], None],
) -> list[Drafted]:
    """Draft every file into folder and return the outcomes, in order.

    begin: told of each file before it is read, gives its progress or None. done: told of each outcome as it
    comes. Raises InputError, LexiconError or OutputError, with nothing drafted, where the plan cannot work. All files
    are drafted with the lexicon as it is at the start, whatever happens to its files meanwhile.
    """
    plan = plan_drafts(files, folder)
    lexicon = load_lexicon(settings.personal_lexicon, cache=settings.cache_folder)
    make_folder(folder)
    outcomes = []
    for source, target in plan:
        stop_if_pressed()
        progress = begin(source)
        try:
            _refuse_reviewed(target, settings)
            draft = draft_file(source, recogniser, settings, progress, lexicon)
            write_whole(target, as_written(draft))
            outcome = Drafted(source, target, draft, None, len(examinations(draft, lexicon.language.get("reset", {}))))
        except DictationError as err:
            outcome = Drafted(source, target, None, err)
        except OSError as err:
            failed = output_error(err.filename or target, err)
            outcome = Drafted(source, target, None, OutputError(f"{source.name} was not drafted. {failed}"))
        except Exception as err:  # whatever one file brings out, the others still go through
            outcome = Drafted(source, target, None, fault_error(err, f"{source.name} was not drafted"))
        done(outcome)
        outcomes.append(outcome)
    return outcomes


def draft_file(
    source: Path,
    recogniser: str | Recogniser,
    settings: Settings,
    progress: Progress | None = None,
    lexicon: Lexicon | None = None,
) -> DraftRecord:
    """Return the draft of one file: text where its name ends in .txt, else sound.

    lexicon: where it is read already; recogniser: which, or one that is loaded already for that lexicon.

    Raises InputError for a file that cannot be used, and whatever the pipeline raises.
    """
    check_input(source)
    from dictation.pipeline import draft_audio, draft_text

    if is_text(source):
        return draft_text(read_text_file(source), name=source.name, settings=settings, lexicon=lexicon)
    return draft_audio(source, recogniser=recogniser, settings=settings, progress=progress, lexicon=lexicon)


def draft_name(source: Path) -> str:
    """Return the name of the draft of a file."""
    return f"{source.stem}.draft.json"


def as_written(draft: DraftRecord) -> str:
    """Return a draft as its file holds it."""
    return draft.model_dump_json(indent=1) + "\n"


def is_text(source: Path) -> bool:
    """Return whether a file is read as a typed dictation, by its name."""
    return source.suffix.casefold() == ".txt"


def check_input(source: Path) -> None:
    """Raise InputError, saying what to do, for a file that is missing, a folder, empty or not readable."""
    try:
        if source.is_dir():
            raise InputError(f"{source} is a folder; name the sound or text files in it.")
        if not source.exists():
            raise InputError(f"There is no file {source}; check the path.")
        if not source.is_file():
            raise InputError(f"{source} is not a file of sound or text; give one that is.")
        if source.stat().st_size == 0:
            raise InputError(f"{source} is empty; record or save it again.")
        with source.open("rb"):
            pass
    except OSError as err:
        raise InputError(f"Cannot read {source} ({type(err).__name__}); check the path and its permissions.") from err


def read_text_file(source: Path) -> str:
    """Return the text of a file. Raises InputError where it is not UTF-8, holds no words, or is too long (TextTooLong)."""
    try:
        check_length(source.stat().st_size, str(source))
        text = source.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as err:
        raise InputError(f"{source} is not UTF-8 text; save it as UTF-8 and draft it again.") from err
    except OSError as err:
        raise InputError(f"Cannot read {source} ({type(err).__name__}); check the path and its permissions.") from err
    if "\0" in text:
        raise InputError(f"{source} is not text, though its name ends in .txt; give it the name of what it is.")
    if not text.strip():
        raise InputError(f"{source} holds no words; write or record it again.")
    return text


def _refuse_reviewed(target: Path, settings: Settings) -> None:
    if not target.is_file():
        return
    from dictation.store.store import find_store

    store = find_store(settings.store_folder, settings.store_url)
    if store is None:
        return
    held = store.holding(hashlib.sha256(target.read_bytes()).hexdigest())
    store.close()
    if held:
        raise InputError(
            f"The review of {target} has begun, and a new draft would part it from its decisions; draft into another folder."
        )
