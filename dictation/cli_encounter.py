"""The commands over encounters and the store that keeps them. Thin, like the rest of the commands."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from dictation.cli_review import check_reference, named, settings_in_use, store_of, sweep
from dictation.errors import ReviewError, StoreError
from dictation.reviewing import SOUND_WORDS, draft_of, review_of, signed_notes

Command = TypeVar("Command", bound=Callable[..., Any])

WHO = click.option("--who", default=None, help="Your name, written into the journal.")
REFERENCE = click.argument("reference", metavar="REFERENCE")


def _details(command: Command) -> Command:
    for option in (
        click.option("--present", default=None, help="Who else was there, by function: nurse, parent, interpreter."),
        click.option("--role", default=None, help="The examiner's role."),
        click.option("--examiner", default=None, help="Who examined."),
        click.option("--examined", default=None, metavar="TIME", help="When, as 2025-03-04 14:30."),
        click.option("--consent", default=None, help="To recording: given or refused."),
        click.option("--sex", default=None, help="female, male or other."),
        click.option("--age", type=int, default=None, metavar="YEARS"),
        click.option("--purpose", default=None, help="What it is for: nerve, wound, trauma, dupuytren, general …"),
    ):
        command = option(command)
    return command


@click.group()
def encounter() -> None:
    """Examinations of patients: open, list, show, hand over, erase."""


@encounter.command("new")
@REFERENCE
@_details
@WHO
def new(reference: str, who: str | None, **details: Any) -> None:
    """Open an encounter under REFERENCE, which your clinic chooses and which holds no name."""
    from dictation.store.facts import read_details
    from dictation.store.journal import now

    settings = settings_in_use()
    store = store_of(settings)
    check_reference(store, reference)
    opened = store.open_encounter(reference, read_details(details), named(who or settings.reviewer), now())
    click.echo(f"Encounter {opened.reference} is open.")


@encounter.command("change")
@REFERENCE
@_details
@WHO
def change(reference: str, who: str | None, **details: Any) -> None:
    """Change what is stated of an encounter; what was stated before stays in its journal.

    Where consent to recording is refused or withdrawn, the sound is deleted at once.
    """
    from dictation.store.journal import now
    from dictation.store.sound import state_details

    settings = settings_in_use()
    found = store_of(settings).encounter(reference)
    stated = {key: value for key, value in details.items() if value is not None}
    if not stated:
        raise click.UsageError("Say what to change, as in --purpose nerve.")
    gone = state_details(found, stated, named(who or settings.reviewer), now())
    deleted = f" The sound of {gone} recording{'' if gone == 1 else 's'} is deleted." if gone else ""
    click.echo(f"Encounter {found.reference} is changed.{deleted}")


@encounter.command("list")
@click.option("--all", "everything", is_flag=True, help="Not only the last fifty.")
def list_(everything: bool) -> None:
    """List the encounters, the last opened first."""
    settings = settings_in_use()
    store = store_of(settings)
    sweep(store, settings)
    found = store.encounters()
    for one in found if everything else found[:50]:
        state = f"{one.drafts} draft{'' if one.drafts == 1 else 's'}, {one.signed} signed"
        click.echo(f"{one.reference:<40}  opened {one.opened_at[:10]}  {state}")
    if not everything and len(found) > 50:
        click.echo(f"… and {len(found) - 50} more; --all lists them.")


@encounter.command("show")
@REFERENCE
def show(reference: str) -> None:
    """Show an encounter: what is stated, its recordings and drafts, and its journal's head."""
    from dataclasses import asdict

    from dictation.note.printable import printable
    from dictation.note.times import clock
    from dictation.store.sound import find_sound

    found = store_of(settings_in_use()).encounter(reference)
    facts = found.facts
    click.echo(f"Encounter {facts.reference}, opened {facts.opened.words()}")
    signatures = [entry.after or {} for entry in found.entries if entry.what == "signed"]
    stated = asdict(facts.details)
    at_signing = next((one["examined"] for one in reversed(signatures) if one.get("examined")), None)
    stated["examined"] = stated["examined"] or (f"{at_signing} (stated at signing)" if at_signing else None)
    for key, value in stated.items():
        click.echo(f"  {key:<9} {printable(str(value)) if value is not None else 'not stated'}")
    for sha256, recording in facts.recordings.items():
        click.echo(f"Recording {printable(recording.name)}: {SOUND_WORDS[find_sound(found, sha256).state]}")
        if recording.marked:
            click.echo(f"  moments marked: {', '.join(clock(at) for at in recording.marked)}")
    signed = {entry.draft for entry in found.entries if entry.what == "signed"}
    for sha256, taken in facts.drafts.items():
        state = "signed" if sha256 in signed else "not signed yet"
        click.echo(f"Draft of {printable(taken.name)}, taken {taken.time.words()}: {state}")
    click.echo(f"Journal: {len(found.entries)} entries, head {found.head}")


@encounter.command("add-sound")
@REFERENCE
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE...")
@click.option("--keep", is_flag=True, help="Copy it into the store, rather than leave it where it is.")
@WHO
def add_sound(reference: str, files: tuple[Path, ...], keep: bool, who: str | None) -> None:
    """Add recordings to an encounter, without drafting them."""
    from dictation.store.journal import now
    from dictation.store.sound import add_sound as add

    settings = settings_in_use()
    found = store_of(settings).encounter(reference)
    name = named(who or settings.reviewer)
    for file in files:
        add(found, file, keep=keep, who=name, time=now())
    click.echo(f"{len(files)} recording{'' if len(files) == 1 else 's'} added to encounter {found.reference}.")


@encounter.command("withdraw-consent")
@REFERENCE
@WHO
def withdraw_consent(reference: str, who: str | None) -> None:
    """Journal that consent to recording is withdrawn, and delete the sound at once."""
    from dictation.store.journal import now
    from dictation.store.sound import withdraw_consent as withdraw

    settings = settings_in_use()
    found = store_of(settings).encounter(reference)
    count = withdraw(found, named(who or settings.reviewer), now())
    click.echo(f"Consent is withdrawn; the sound of {count} recording{'' if count == 1 else 's'} is deleted.")


@encounter.command("addendum")
@REFERENCE
@click.option("--entered-in-error", "errors", multiple=True, metavar="ID", help="A statement to mark so; may be given again.")
@WHO
def addendum(reference: str, errors: tuple[str, ...], who: str | None) -> None:
    """Add to a signed record; what was signed stays, and its note says that it is superseded.

    dictation note --name-fields shows the ID of each statement.
    """
    from dictation.note.printable import printable
    from dictation.store.journal import now
    from dictation.terminal.screen import ask
    from dictation.terminal.screen import show as say
    from dictation.terminal.signing import ask_ending

    settings = settings_in_use()
    found = store_of(settings).encounter(reference)
    opened = review_of(found, draft_of(found, signed=True), settings)
    known = {decision.field.id: printable(decision.sentence or "") for decision in opened.signed().complete.kept}
    if not set(errors) <= set(known):
        width = max(map(len, known), default=0)
        for name, sentence in known.items():
            click.echo(f"{name:<{width}}  {sentence}.")
        raise ReviewError("Only a statement of the note can be in error; give one of the ids above.")
    for name in errors:
        click.echo(f"To be marked as entered in error: {known[name]}.")
    text = ask("What is to be added (one line): ")
    signer = (who or ask("Your name, in full: ")).strip()
    role = ask(f"Your role{f' (Enter: {settings.reviewer_role})' if settings.reviewer_role else ''}: ")
    ending = ask_ending(ask, say, opened.check_ending)
    if ending is None:
        click.echo("Nothing is added.")
        return
    opened.add_addendum(text, signer, role.strip() or settings.reviewer_role or "", now(), ending=ending, errors=errors)
    click.echo(f"The addendum is signed. For the note: dictation note {found.reference}")


@encounter.command("export")
@REFERENCE
@click.option("--out", required=True, type=click.Path(path_type=Path), metavar="FILE", help="The file, which must not exist.")
def export(reference: str, out: Path) -> None:
    """Write an encounter to one file, to hand it over: sound, drafts, journal, notes and checksums."""
    from dictation import __version__
    from dictation.store.package import write_package

    settings = settings_in_use()
    found = store_of(settings).encounter(reference)
    write_package(found, out, signed_notes(found, settings), __version__)
    click.echo(f"Encounter {found.reference} is in {out}; its journal's head is {found.head}.")


@encounter.command("import")
@click.argument("file", type=click.Path(path_type=Path), metavar="FILE")
@WHO
def import_(file: Path, who: str | None) -> None:
    """Take an encounter that was handed over into the store, once all of it is verified."""
    from dictation.review.opening import check_package
    from dictation.store.journal import now
    from dictation.store.package import read_package, take_in_package

    settings = settings_in_use()
    package = read_package(file)
    taken = take_in_package(store_of(settings), package, check_package, named(who or settings.reviewer), now())
    click.echo(f"Encounter {taken.reference} is in the store; its journal's head is {taken.head}. Compare it.")


@encounter.command("erase")
@REFERENCE
@WHO
def erase(reference: str, who: str | None) -> None:
    """Erase an encounter on request, its sound too; only hashes stay. It cannot be taken back."""
    from dictation.store.erasing import erase_encounter
    from dictation.store.facts import reference_ending
    from dictation.store.journal import now
    from dictation.terminal.screen import ask

    settings = settings_in_use()
    found = store_of(settings).encounter(reference)
    name = named(who or settings.reviewer)
    click.echo("Drafts, decisions, signatures and sound of this encounter will be gone for good, from this store.")
    typed = ask("To erase it, type the last four characters of its reference: ")
    if typed.strip().casefold() != reference_ending(found.reference):
        raise ReviewError("That is not how this encounter's reference ends; nothing was erased.")
    erase_encounter(found, name, now())
    click.echo("The encounter is erased. Back-ups made before, and files handed over, are yours to erase.")


@click.group()
def store() -> None:
    """The store that keeps the encounters."""


@store.command("verify")
def verify() -> None:
    """Verify every journal from its first entry to its head, every draft, and that every review fits its draft."""
    from dictation.review.opening import check_encounter
    from dictation.store.verifying import verify_store

    found = verify_store(store_of(settings_in_use()), check_encounter)
    for remark in found.remarks:
        click.echo(remark)
    for fault in found.faults:
        click.echo(fault, err=True)
    if found.faults:
        raise StoreError(f"The store has {len(found.faults)} fault(s), named above.")
    click.echo(f"No fault in {len(found.heads)} encounters, {found.entries} entries.")


@store.command("sweep")
@WHO
def sweep_(who: str | None) -> None:
    """Delete the files of sound that belong to no recording: what a crash left of a copy cut off."""
    from dictation.store.journal import now
    from dictation.store.sound import sweep_sound

    settings = settings_in_use()
    count = sweep_sound(store_of(settings), named(who or settings.reviewer), now())
    click.echo(f"{count} file{'' if count == 1 else 's'} of sound that belonged to no recording deleted.")


@store.command("back-up")
@click.argument("folder", type=click.Path(path_type=Path), metavar="FOLDER")
def back_up(folder: Path) -> None:
    """Copy the store into FOLDER, which is new, while it is in use; FOLDER is then a store itself."""
    from dictation.store.back_up import back_up as copy
    from dictation.store.verifying import verify_store

    made = copy(store_of(settings_in_use()), folder)
    click.get_current_context().call_on_close(made.close)
    found = verify_store(made)
    for remark in found.remarks:
        click.echo(remark)
    if found.faults:
        raise StoreError(f"The back-up has {len(found.faults)} fault(s), as the store has; dictation store verify names them.")
    click.echo(f"{len(found.heads)} encounters are backed up in {folder}, and verified.")
