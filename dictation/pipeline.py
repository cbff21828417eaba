"""The whole order, one screen long: sound or text -> transcript -> correction -> extraction -> checks -> draft record."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from dictation import __version__
from dictation.checks import check_fields
from dictation.completeness.not_mentioned import not_mentioned
from dictation.correction.correct import correct
from dictation.errors import AudioError
from dictation.extraction.extract import extract
from dictation.hardly_heard import without_hardly_heard
from dictation.lexicon.loading import load_lexicon
from dictation.record import Corrected, DraftRecord, HeardWord, SecondWord, Side, Sound, Source, TranscriptRecord, Unplaced
from dictation.settings import read_settings
from dictation.transcript import CorrectedTranscript, Transcript, read_text

if TYPE_CHECKING:
    from dictation.audio import Samples, Segment
    from dictation.lexicon.entries import Lexicon
    from dictation.quality import SoundQuality
    from dictation.recognition.protocol import Recogniser
    from dictation.settings import Settings

Progress = Callable[[float, float], None]


def draft_text(
    text: str, *, name: str = "text", settings: Settings | None = None, lexicon: Lexicon | None = None
) -> DraftRecord:
    """Return the draft of a dictation given as text; its times are null. lexicon: where it is read already.

    Raises TextTooLong, LexiconError; nothing else for any text.
    """
    text = text.encode("utf-8", "replace").decode("utf-8")
    heard = read_text(text)
    lexicon = lexicon or lexicon_in_use(settings or read_settings())
    digest = hashlib.sha256(text.encode("utf-8")).hexdigest()
    return draft(heard, _source(lexicon, name, digest, None, "text", None), lexicon)


def draft_audio(
    path: str | Path, *, recogniser: str | Recogniser = "auto", settings: Settings | None = None,
    progress: Progress | None = None, lexicon: Lexicon | None = None,
) -> DraftRecord:  # fmt: skip
    """Return the draft of a recording; progress is told seconds done and seconds in all. lexicon: where it is read already.

    recogniser: which, or one that is loaded already for that lexicon. Raises InputError or AudioError for sound that cannot
    be read or holds no speech, RecogniserUnavailable.
    """
    from dictation.audio import find_speech, read_audio

    path, settings = Path(path), settings or read_settings()
    lexicon = lexicon or lexicon_in_use(settings)
    samples = read_audio(path)
    segments = find_speech(samples)
    if not segments:
        raise AudioError(f"{path.name} holds no speech; check the microphone and record again.")
    chosen = load_recogniser(recogniser, lexicon, settings) if isinstance(recogniser, str) else recogniser
    heard = chosen.recognise(samples, segments, progress)
    return draft_heard(heard, path.name, samples, segments, (chosen.name, chosen.model), lexicon)


def draft_heard(
    heard: Transcript, name: str, samples: Samples, segments: Sequence[Segment], by: tuple[str, str | None], lexicon: Lexicon
) -> DraftRecord:
    """Return the draft of a recording whose words are known. by: name and model of the recogniser."""
    from dictation.quality import sound_quality

    source = _source(lexicon, name, samples.sha256, samples.duration_s, *by)
    source.sound = sound_record(sound_quality(samples, segments))
    return draft(heard, source, lexicon)


def draft_so_far(
    heard: Transcript, name: str, duration_s: float, by: tuple[str, str | None], lexicon: Lexicon
) -> tuple[DraftRecord, tuple[Side, ...]]:
    """Return the draft of a recording that still goes on, with the sides in force after its last word.

    It is for the screen: without a checksum, and not yet judged by how good the sound is.
    """
    return _draft(heard, _source(lexicon, name, "", duration_s, *by), lexicon)


def load_recogniser(kind: str, lexicon: Lexicon, settings: Settings) -> Recogniser:
    """Return the recogniser asked for, its model loaded. Raises RecogniserUnavailable."""
    from dictation.recognition.choose import choose_recogniser

    return choose_recogniser(
        kind, lexicon, whisper_model=settings.whisper_model, cache_dir=settings.cache_folder,  # type: ignore[arg-type]
        second_reading=settings.second_reading == "on",
    )  # fmt: skip


def lexicon_in_use(settings: Settings) -> Lexicon:
    """Return the lexicon of a run, the clinic's own terms with it, as their files are now. Raises LexiconError."""
    return load_lexicon(settings.personal_lexicon, cache=settings.cache_folder)


def draft(heard: Transcript, source: Source, lexicon: Lexicon) -> DraftRecord:
    """Return the draft of a transcript: correction, extraction, checks, and what was not mentioned."""
    return _draft(heard, source, lexicon)[0]


def _draft(heard: Transcript, source: Source, lexicon: Lexicon) -> tuple[DraftRecord, tuple[Side, ...]]:
    corrected = correct(heard, lexicon)
    found = extract(corrected, lexicon)
    well_heard, hardly_heard = without_hardly_heard(found.fields, heard, source.sound)
    fields = check_fields(well_heard, corrected, lexicon, source.sound)
    kept = {f.id for f in fields}
    for run in found.runs:
        run.fields = [i for i in run.fields if i in kept]
    unread = [Unplaced(text=u.text, start=u.start, end=u.end, reason=u.reason) for u in heard.unread]
    record = DraftRecord(
        source=source, transcript=_transcript(corrected), runs=[r for r in found.runs if r.fields], fields=fields,
        unplaced=sorted([*found.unplaced, *unread, *hardly_heard], key=lambda u: u.start or 0.0),
        not_mentioned=not_mentioned(fields, lexicon),
    )  # fmt: skip
    return record, found.sides


def _source(lexicon: Lexicon, name: str, sha256: str, duration_s: float | None, recogniser: str, model: str | None) -> Source:
    return Source(
        name=name, sha256=sha256, duration_s=duration_s, recogniser=recogniser, model=model, program_version=__version__,
        lexicon_version=lexicon.version, lexicon_sha256=lexicon.checksum, personal_lexicon_sha256=lexicon.personal_sha256,
    )  # fmt: skip


def sound_record(found: SoundQuality) -> Sound:
    def rounded(value: float | None) -> float | None:
        return None if value is None else round(value, 1)

    return Sound(
        speech_share=round(found.speech_share, 3), level_db=round(found.level_db, 1),
        clipped_share=round(found.clipped_share, 5), noise_db=rounded(found.noise_db),
        over_noise_db=rounded(found.over_noise_db), poor=found.poor, warnings=found.warnings,
    )  # fmt: skip


def _transcript(corrected: CorrectedTranscript) -> TranscriptRecord:
    heard = corrected.heard
    return TranscriptRecord(
        words=[HeardWord(said=w.said, start=w.start, end=w.end, probability=w.probability) for w in heard.words],
        corrected=[
            Corrected(text=c.text, **{"from": c.from_}, reason=c.reason, distance=c.distance, runner_up=c.runner_up)
            for c in corrected.corrected
        ],
        second_reading=[SecondWord(said=w.said, start=w.start, end=w.end) for w in heard.second_reading],
    )
