"""The work itself: one pure function from a recording to its draft, the same in this process, in another, on any machine.

A process loads lexicon and recogniser once, at its first recording. Whatever goes wrong with one recording is its outcome
and nobody else's. Imports drafting, pipeline, lexicon, settings, faults and errors.
"""

from __future__ import annotations

import hashlib
import json
import tempfile
import threading
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from dictation import __version__
from dictation.drafting import as_written, check_input, draft_file, is_text, read_text_file
from dictation.errors import DictationError, InputError, LexiconError, OutputError, RecogniserUnavailable
from dictation.faults import fault_error
from dictation.lexicon.loading import load_lexicon
from dictation.lexicon.reading import Content, read_content
from dictation.settings import Settings, read_settings
from dictation.splitting.marks import examinations
from dictation.writing import output_error

if TYPE_CHECKING:
    from dictation.lexicon.entries import Lexicon
    from dictation.recognition.protocol import Recogniser
    from dictation.record import DraftRecord

_ONE_AT_A_TIME = threading.Lock()
"""A recogniser hears one recording; the workers of a cluster may have several threads."""

Told = Callable[[float, float], None]
"""Told the seconds of sound done and the seconds in all."""


@dataclass(frozen=True, slots=True)
class How:
    """How every recording of a run is drafted, fixed at its start.

    recogniser: "embedded" or "whisper". model: the name of Whisper's folder. lexicon: checksum of the shipped one. personal:
    the clinic's own, as it was read. program: its version. settings: of this machine; None where the worker is on another and
    has its own.
    """

    recogniser: str
    model: str | None
    lexicon: str
    personal: Content | None
    program: str
    settings: Settings | None


@dataclass(frozen=True, slots=True)
class Made:
    """What a draft was made of and with; a recording whose draft agrees in all of it is not drafted again."""

    recording: str
    recogniser: str
    model: str | None
    lexicon: str | None
    personal: str | None

    @property
    def made_with(self) -> str:
        """A checksum over all but the recording."""
        return hashlib.sha256(repr((self.recogniser, self.model, self.lexicon, self.personal)).encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class Job:
    """One recording to draft. sha256: as a draft's source has it. content: the file, where the worker cannot reach the path."""

    name: str
    path: Path
    sha256: str
    content: bytes | None = None


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table at the end. duration_s: None for typed text. examinations: how many are spoken of."""

    duration_s: float | None
    fields: int
    doubtful: int
    unplaced: int
    warnings: tuple[str, ...]
    examinations: int = 1


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a recording: its draft as its file will hold it, or why there is none."""

    name: str
    text: str | None
    row: Row | None
    error: DictationError | None


def how_to_draft(recogniser: str, settings: Settings) -> How:
    """Return how a run drafts. recogniser: "auto", "embedded" or "whisper". Raises LexiconError."""
    personal = read_content(settings.personal_lexicon) if settings.personal_lexicon else None
    lexicon = load_lexicon(personal, cache=settings.cache_folder)
    if recogniser == "auto":
        recogniser = "embedded" if settings.whisper_model is None else "whisper"
    model = settings.whisper_model.name if recogniser == "whisper" and settings.whisper_model else None
    return How(recogniser, model, lexicon.checksum, personal, __version__, settings)


def checksum(path: Path) -> str:
    """Return the checksum that the draft of a file will name as its source's. Raises InputError."""
    check_input(path)
    if is_text(path):
        return hashlib.sha256(read_text_file(path).encode("utf-8", "replace")).hexdigest()
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as err:
        raise InputError(f"Cannot read {path} ({type(err).__name__}); check the path and its permissions.") from err


def to_be_made(path: Path, sha256: str, how: How) -> Made:
    """Return what the draft of a file would be made of and with."""
    personal = hashlib.sha256(how.personal.data).hexdigest() if how.personal else None
    if is_text(path):
        return Made(sha256, "text", None, how.lexicon, personal)
    return Made(sha256, how.recogniser, how.model, how.lexicon, personal)


def as_made(content: bytes) -> Made | None:
    """Return what a draft file says it was made of and with, None where it is no draft."""
    try:
        source = json.loads(content)["source"]
        heard = source["recogniser"]
        model = source["model"].split(",")[0] if heard == "whisper" and source["model"] else None
        return Made(source["sha256"], heard, model, source["lexicon_sha256"], source["personal_lexicon_sha256"])
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None


def draft_job(job: Job, how: How, told: Told | None = None) -> Outcome:
    """Return what becomes of a recording; raises nothing but what ends a process."""
    try:
        draft = _draft(job, how, told)
        return Outcome(job.name, as_written(draft), _row(draft, _desk(how).lexicon), None)
    except DictationError as err:
        return Outcome(job.name, None, None, err)
    except OSError as err:
        failed = output_error(err.filename or "a temporary file", err)
        return Outcome(job.name, None, None, OutputError(f"{job.name} was not drafted. {failed}"))
    except Exception as err:  # whatever one recording brings out, the others still go through
        return Outcome(job.name, None, None, fault_error(err, f"{job.name} was not drafted"))


def _draft(job: Job, how: How, told: Told | None) -> DraftRecord:
    with _ONE_AT_A_TIME:
        return _drafted(job, _desk(how), told)


def _drafted(job: Job, desk: Desk, told: Told | None) -> DraftRecord:
    if job.content is None:
        draft = desk.draft(job.path, told)
    else:
        with tempfile.TemporaryDirectory() as folder:
            copy = Path(folder) / job.path.name
            copy.write_bytes(job.content)
            draft = desk.draft(copy, told)
    if draft.source.sha256 != job.sha256:
        raise InputError(f"{job.name} changed while it was drafted; draft it again once nothing writes to it.")
    return draft


class Desk:
    """What a process drafts with: lexicon and recogniser, loaded once."""

    def __init__(self, how: How) -> None:
        self._how = how
        self.settings = how.settings or read_settings()
        self.lexicon: Lexicon = load_lexicon(how.personal, cache=self.settings.cache_folder)
        if (self.lexicon.checksum, __version__) != (how.lexicon, how.program):
            raise LexiconError("A worker has another program or lexicon than the one that sends it work; install one on both.")

    @cached_property
    def recogniser(self) -> Recogniser:
        """The recogniser, its model loaded. Raises RecogniserUnavailable."""
        from dictation.pipeline import load_recogniser

        model = self.settings.whisper_model
        if self._how.model is not None and (model is None or model.name != self._how.model):
            raise RecogniserUnavailable(f"A worker has not the Whisper weights {self._how.model}; set them up there.")
        return load_recogniser(self._how.recogniser, self.lexicon, self.settings)

    def draft(self, path: Path, told: Told | None) -> DraftRecord:
        """Return the draft of a file. Raises as draft_file does."""
        check_input(path)  # before a model is loaded for it
        heard_by = self._how.recogniser if is_text(path) else self.recogniser
        return draft_file(path, heard_by, self.settings, told, self.lexicon)


@lru_cache(maxsize=1)
def _desk(how: How) -> Desk:
    return Desk(how)


def _row(draft: DraftRecord, lexicon: Lexicon) -> Row:
    source = draft.source
    return Row(
        source.duration_s, len(draft.fields), sum(field.checked() for field in draft.fields), len(draft.unplaced),
        tuple(source.sound.warnings) if source.sound else (), len(examinations(draft, lexicon.language.get("reset", {}))),
    )  # fmt: skip
