"""The whole order, one screen long: sound or text -> transcript -> correction -> extraction -> checks -> draft record."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from dictation import __version__
from dictation.checks import check_fields
from dictation.completeness import not_mentioned
from dictation.errors import AudioError
from dictation.extraction.extract import extract
from dictation.lexicon.loading import load_lexicon
from dictation.record import Corrected, DraftRecord, HeardWord, SecondWord, Source, TranscriptRecord, Unplaced
from dictation.transcript import CorrectedTranscript, CorrectedWord, Transcript, read_text

if TYPE_CHECKING:
    from dictation.lexicon.entries import Lexicon

Progress = Callable[[float, float], None]


def draft_text(text: str, *, name: str = "text", personal: Path | None = None) -> DraftRecord:
    """Return the draft of a dictation given as text."""
    lexicon = load_lexicon(personal)
    digest = hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
    source = _source(name, digest, None, "text", None, lexicon)
    return _draft(read_text(text), source, lexicon)


def _source(name: str, sha: str, duration_s: float | None, recogniser: str, model: str | None, lexicon: Lexicon) -> Source:
    return Source(
        name=name, sha256=sha, duration_s=duration_s, recogniser=recogniser, model=model, program_version=__version__,
        lexicon_version=lexicon.version, personal_lexicon_sha256=lexicon.personal_sha256,
    )  # fmt: skip


def _draft(heard: Transcript, source: Source, lexicon: Lexicon) -> DraftRecord:
    corrected = _correct(heard, lexicon)
    found = extract(corrected, lexicon)
    fields = check_fields(found.fields, corrected, lexicon)
    kept = {f.id for f in fields}
    for run in found.runs:
        run.fields = [i for i in run.fields if i in kept]
    unread = [Unplaced(text=u.text, start=u.start, end=u.end, reason=u.reason) for u in heard.unread]
    return DraftRecord(
        source=source, transcript=_transcript(corrected), runs=[r for r in found.runs if r.fields], fields=fields,
        unplaced=sorted([*found.unplaced, *unread], key=lambda u: u.start or 0.0),
        not_mentioned=not_mentioned(fields, lexicon),
    )  # fmt: skip


def _correct(heard: Transcript, lexicon: Lexicon) -> CorrectedTranscript:
    return CorrectedTranscript(heard, tuple(CorrectedWord(w.said, (i, i + 1)) for i, w in enumerate(heard.words)))


def _transcript(corrected: CorrectedTranscript) -> TranscriptRecord:
    heard = corrected.heard
    return TranscriptRecord(
        words=[HeardWord(said=w.said, start=w.start, end=w.end, probability=w.probability) for w in heard.words],
        corrected=[
            Corrected(text=c.text, from_=c.from_, reason=c.reason, distance=c.distance, runner_up=c.runner_up)
            for c in corrected.corrected
        ],
        second_reading=[SecondWord(said=w.said, start=w.start, end=w.end) for w in heard.second_reading],
    )


def draft_audio(path: str | Path, *, recogniser: str = "auto", progress: Progress | None = None, personal: Path | None = None) -> DraftRecord:
    """Return the draft of a recording. Raises InputError, AudioError, RecogniserUnavailable."""
    raise AudioError(f"Not yet: {Path(path).name} {recogniser} {progress} {personal}")
