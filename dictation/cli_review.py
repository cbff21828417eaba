"""The commands from a draft to its note: review, note. Thin, like the rest of the commands."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from dictation.errors import InputError, OutputError, ReviewError
from dictation.reviewing import after_signing, draft_of, marked_moments, note_options, recording_of, review_of, sound_line

if TYPE_CHECKING:
    from dictation.note.document import Length
    from dictation.review.opening import DraftFile
    from dictation.settings import Settings
    from dictation.store.store import Store

LENGTHS = ("full", "brief", "letter", "patient")
FORMAT_NAMES = ("text", "markdown", "html", "docx", "pdf", "json", "fhir", "csv")
"""Those of note/document.py and exports/formats.py, which --help does not load; a test holds them together."""

REFERENCE = click.option(
    "--encounter", "reference", default=None, metavar="REFERENCE", help="Your clinic's reference for the encounter; no name."
)


@click.command(short_help="Decide on each statement, then sign.")
@click.argument("what", metavar="DRAFT")
@REFERENCE
@click.option("--reviewer", default=None, help="Your name, written into every decision.")
@click.option(
    "--order",
    type=click.Choice(["doubtful", "examination"]),
    default="doubtful",
    show_default=True,
    help="Doubtful statements first, or all in the order of the examination.",
)
def review(what: str, reference: str | None, reviewer: str | None, order: str) -> None:
    """Decide on each statement of DRAFT, a draft file or an encounter's reference, then sign.

    Stop and go on whenever you like. A draft file is taken into the store at the start; without --encounter the encounter has
    the file's name as its reference.
    """
    from dictation.note.times import clock
    from dictation.playing import player
    from dictation.review.earlier import earlier_draft
    from dictation.review.opening import find_encounter, read_file, take_in
    from dictation.store.journal import now
    from dictation.terminal.screen import ask, show
    from dictation.terminal.walk import Walk
    from dictation.voice_check import measured_line

    settings = settings_in_use()
    store = store_of(settings)
    sweep(store, settings)
    file = read_file(Path(what)) if is_file(what) else None
    held = find_encounter(store, file, reference) if file else store.encounter(what)
    who = named(reviewer or settings.reviewer)
    if file is None or held is not None:
        assert held is not None
        encounter = held
    else:
        _refuse_several(file, settings)
        if reference is not None:
            check_reference(store, reference)
        encounter = take_in(store, file, reference, who, now())
        show(f"Taken into the store as encounter {encounter.reference}.", "plain")
    sha256 = file.sha256 if file else draft_of(encounter, signed=False)
    opened = review_of(encounter, sha256, settings)
    if line := sound_line(encounter, sha256):
        show(line, "quiet")
    if moments := marked_moments(encounter, sha256):
        show(f"Marked while dictating: {', '.join(clock(at) for at in moments)}.", "plain")
    walk = Walk(
        opened,
        who,
        ask,
        show,
        now,
        order="examination" if order == "examination" else "doubtful",
        role=settings.reviewer_role,
        measured=None if (source := opened.draft.source).recogniser == "text" else measured_line(source, settings),
        play=player(lambda: recording_of(encounter, sha256)) if encounter.facts.drafts[sha256].spoken else None,
        earlier=earlier_draft(encounter, sha256, opened.draft),
    )
    if walk.run():
        after_signing(encounter, settings, who, now())
        show(f"For the note: dictation note {what}", "plain")


def _refuse_several(file: DraftFile, settings: Settings) -> None:
    """Raise InputError where another examination begins in a draft that no person has parted yet."""
    from dictation.bulk.parts import is_part
    from dictation.lexicon.loading import load_lexicon
    from dictation.splitting.marks import examinations
    from dictation.splitting.several import refuse_several

    if not is_part(file.path):
        lexicon = load_lexicon(settings.personal_lexicon, cache=settings.cache_folder)
        count = len(examinations(file.draft, lexicon.language.get("reset", {})))
        refuse_several(file.draft, count, file.draft.source.name, file.path)


@click.command(short_help="Print the signed note, or export it.")
@click.argument("what", metavar="DRAFT")
@REFERENCE
@click.option("--length", type=click.Choice(LENGTHS), default="full", show_default=True, help="How much, for whom.")
@click.option("--format", "form", type=click.Choice(FORMAT_NAMES), default="text", show_default=True)
@click.option("--name-fields", is_flag=True, help="Each sentence names the statements it rests on.")
@click.option("--as-signed", is_flag=True, help="Without the addenda; the note then says that it is superseded.")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=None,
    metavar="FILE",
    help="Write to FILE, which must not exist.",
)
def note(
    what: str, reference: str | None, length: Length, form: str, name_fields: bool, as_signed: bool, out: Path | None
) -> None:
    """Print the note of DRAFT, a draft file or an encounter's reference, once its review is signed.

    Lengths: full; brief, impression and plan first; letter, to the general practitioner or whoever referred; patient, the
    patient's summary in plain words.
    csv, fhir and json hold the whole record, for other programs.
    """
    from dictation.exports.formats import FORMATS
    from dictation.review.opening import find_encounter, read_file
    from dictation.writing import write_whole

    if FORMATS[form].binary and out is None:
        raise click.UsageError(f"{form} is not for a terminal; name a file with --out.")
    settings = settings_in_use()
    file = read_file(Path(what)) if is_file(what) else None
    store = store_of(settings)
    encounter = find_encounter(store, file, reference) if file else store.encounter(what)
    if encounter is None:
        raise ReviewError(f"The review of {Path(what).name} has not begun; dictation review begins it.")
    opened = review_of(encounter, file.sha256 if file else draft_of(encounter, signed=True), settings)
    record = opened.signed()
    options = note_options(record, settings, length=length, as_signed=as_signed, name_fields=name_fields)
    made = FORMATS[form].write(record, opened.lexicon, options)
    if out is None:
        click.echo(made, nl=False)
        return
    if out.exists():
        raise OutputError(f"{out} exists already; choose another name, or move it away.")
    write_whole(out, made)
    click.echo(f"The note is in {out}.")


def settings_in_use() -> Settings:
    """Return the settings of this run, the store's folder from ``--store`` where it was given."""
    from dictation.settings import VARIABLES, read_settings

    folder = click.get_current_context().find_root().params.get("folder")
    if folder is None:
        return read_settings()
    if "://" in folder:
        return read_settings({**os.environ, VARIABLES["store_url"]: folder})
    return replace(read_settings({**os.environ, VARIABLES["store_folder"]: folder}), store_url=None)


def store_of(settings: Settings) -> Store:
    """Return the store in use, closed when the command ends."""
    from dictation.store.store import open_store

    store = open_store(settings.store_folder, settings.store_url)
    click.get_current_context().call_on_close(store.close)
    return store


def named(who: str | None) -> str:
    """Return the name that decisions are written under, asked for where none was given."""
    from dictation.terminal.screen import ask

    found = (who or "").strip()
    while not found:
        found = ask("Your name, written into every decision: ").strip()
    return found


def check_reference(found: Store, reference: str) -> None:
    """Ask once about a new reference that looks like a name. Raises InputError where it is one, or cannot be a reference."""
    from dictation.store.facts import LOOKS_LIKE_A_NAME, looks_like_name, read_reference
    from dictation.terminal.screen import ask

    if not looks_like_name(reference) or found.find(read_reference(reference)) is not None:
        return
    if ask(f"{LOOKS_LIKE_A_NAME} Is it no name? (yes/no) ").strip().casefold() not in {"y", "yes"}:
        raise InputError("Nothing was opened; give a reference that holds no name.")


def is_file(what: str) -> bool:
    """Return whether a draft is named by its file rather than by its encounter's reference."""
    return what.casefold().endswith(".json") or Path(what).is_file()


def sweep(found: Store, settings: Settings) -> None:
    """Delete the sound that has been kept for as long as the setting says."""
    from dictation.store.journal import now
    from dictation.store.sound import delete_old_sound

    if settings.delete_sound.isdecimal():
        delete_old_sound(found, int(settings.delete_sound), "the program, by its setting", now())
