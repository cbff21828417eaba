"""A draft of an encounter as a review: with the lexicon in use, the note's wording and the cautions, for every screen alike.

Imports are inside the functions, so that the commands can name these without loading anything heavy.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from dictation.errors import InputError

if TYPE_CHECKING:
    from pathlib import Path

    from dictation.measurement.result import Measure
    from dictation.note.document import Length
    from dictation.note.options import NoteOptions
    from dictation.review.records import CompleteRecord, SignedRecord
    from dictation.review.rules import Review
    from dictation.settings import Settings
    from dictation.store.journal import Moment
    from dictation.store.store import Encounter

SOUND_WORDS = {
    "there": "its sound is there",
    "deleted": "its sound was deleted",
    "missing": "its sound is not where it was",
    "changed": "the file is no longer what was recorded",
}


def draft_of(encounter: Encounter, *, signed: bool) -> str:
    """Return the checksum of the encounter's draft that a command is about: the last one signed, or not signed yet.

    Where there is none of these, the last one. Raises InputError where the encounter has no draft.
    """
    drafts = list(encounter.facts.drafts)
    if not drafts:
        raise InputError("This encounter has no draft yet; dictation draft makes one.")
    done = {entry.draft for entry in encounter.entries if entry.what == "signed"}
    return next((sha256 for sha256 in reversed(drafts) if (sha256 in done) == signed), drafts[-1])


def review_of(encounter: Encounter, draft_sha256: str, settings: Settings) -> Review:
    """Return the review of a draft of an encounter, with the lexicon in use and the note's wording."""
    from dictation.lexicon.loading import load_lexicon
    from dictation.measurement.cautions import cautions
    from dictation.note.wording import word_field
    from dictation.review.opening import open_review

    words = load_lexicon(settings.personal_lexicon, cache=settings.cache_folder)
    return open_review(
        encounter,
        draft_sha256,
        words,
        lambda field: word_field(field, words),
        lambda fields: cautions(fields, encounter.facts.details.age),
    )


def not_said(review: Review) -> tuple[str, list[str]]:
    """Return what such an examination would speak of and nothing was said about: a heading, and a sentence each.

    By the encounter's purpose and what stands; what the findings call for first. It is printed in no note.
    """
    from dictation.completeness.not_mentioned import not_mentioned
    from dictation.completeness.purposes import GENERAL
    from dictation.note.places import SIDES

    purpose = review.details.purpose or GENERAL
    standing = [decision.field for decision in review.state.fields.values() if decision.state != "rejected"]
    found = []
    for one in not_mentioned(standing, review.lexicon, purpose):
        side = f"{SIDES[one.side]}: " if one.side else ""
        found.append(f"{side}{review.lexicon.concepts[one.concept].preferred}. {one.why}")
    return f"Not mentioned ({purpose} examination); add it, or leave it: silence is not “not examined”.", found


def sound_line(found: Encounter, draft_sha256: str) -> str | None:
    """Return what has become of the sound that a draft was heard from, None for typed text."""
    from dictation.store.sound import find_sound

    taken = found.facts.drafts[draft_sha256]
    if not taken.spoken:
        return None
    if taken.recording not in found.facts.recordings:
        return "The recording of this draft is not in its encounter; dictation encounter add-sound adds it."
    sound = find_sound(found, taken.recording)
    why = f" ({sound.recording.deleted})" if sound.recording.deleted else ""
    return f"Of the recording of this draft: {SOUND_WORDS[sound.state]}{why}."


def marked_moments(found: Encounter, draft_sha256: str) -> tuple[float, ...]:
    """Return the moments that were marked while a draft's recording was dictated, in seconds."""
    recording = found.facts.recordings.get(found.facts.drafts[draft_sha256].recording)
    return recording.marked if recording is not None else ()


def recording_of(found: Encounter, draft_sha256: str) -> Path:
    """Return the file that a draft was heard from. Raises InputError saying what has become of it."""
    from dictation.store.sound import find_sound

    recording = found.facts.drafts[draft_sha256].recording
    path = find_sound(found, recording).path if recording in found.facts.recordings else None
    if path is None:
        raise InputError(f"There is nothing to play. {sound_line(found, draft_sha256)}")
    return path


def signed_notes(encounter: Encounter, settings: Settings) -> list[str]:
    """Return the signed notes of an encounter as text, for a reader without this program."""
    from dictation.note.text import render_text

    reviews = [review_of(encounter, sha256, settings) for sha256 in encounter.facts.drafts]
    return [render_text(one.signed(), one.lexicon) for one in reviews if one.state.signature is not None]


def after_signing(encounter: Encounter, settings: Settings, who: str, time: Moment) -> None:
    """Do what the settings ask for once a record is signed: delete its sound, where they do."""
    from dictation.store.sound import delete_sound

    if settings.delete_sound == "on signing":
        delete_sound(encounter, "on signing", who, time)


def note_options(
    record: CompleteRecord | SignedRecord, settings: Settings, *, length: Length = "full", as_signed: bool = False,
    name_fields: bool = False,
) -> NoteOptions:  # fmt: skip
    """Return how a note of a record is to be: as asked for, with the clinic's templates and the measures switched on.

    Raises InputError for a table of normal ranges or a score that there is none of.
    """
    from dictation.measurement.measures import SCORES
    from dictation.measurement.tables import RANGE_SOURCES
    from dictation.note.options import NoteOptions

    for what, names, known in (("normal_table", [settings.normal_table], RANGE_SOURCES), ("scores", settings.scores, SCORES)):
        if not set(names) <= set(known):
            raise InputError(f"The setting {what} names none of those there are: {', '.join(known)}.")
    measures = _measures(record, settings, as_signed=as_signed)
    return NoteOptions(length, as_signed, name_fields, settings.templates_folder, measures, settings.normal_table)


def _measures(record: CompleteRecord | SignedRecord, settings: Settings, *, as_signed: bool) -> tuple[Measure, ...]:
    """What follows from the statements that stand, of what the clinic has printed."""
    from dictation.measurement.measures import SCORES
    from dictation.measurement.measures import measures as work_out
    from dictation.measurement.result import Patient
    from dictation.review.records import SignedRecord

    everything = settings.measures_in_note == "yes"
    if not everything and not settings.scores:
        return ()
    complete = record.complete if isinstance(record, SignedRecord) else record
    errors = record.in_error if isinstance(record, SignedRecord) and not as_signed else {}
    kept = [d for d in complete.kept if d.field.id not in errors]
    fields = [d.field.model_copy(update={"decision": d.state}) for d in kept]
    details = complete.details
    sex = details.sex if details and details.sex in ("female", "male") else None
    patient = Patient(details.age if details else None, sex)  # type: ignore[arg-type]  # no other is left
    found = work_out(fields, patient, table=settings.normal_table, scores=settings.scores)
    return tuple(measure for measure in found if everything or measure.kind in SCORES)
