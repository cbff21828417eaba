"""The commands about encounters as a whole: list, export, import, erase; and the back-up of the store. Thin, like the rest."""

from __future__ import annotations

from pathlib import Path

import click

from dictation.cli_review import named, settings_in_use, store_of

_WHO = click.option("--who", default=None, metavar="NAME", help="Your name, written into the journal.")


@click.group()
def encounter() -> None:
    """Examinations kept on this machine, each under your clinic's reference."""


@encounter.command("list", short_help="Every encounter, the last opened first.")
def list_encounters() -> None:
    """Print every encounter: reference, when it was opened and last added to, drafts, and how many are signed."""
    from dictation.note.printable import printable

    found = store_of(settings_in_use()).encounters()
    for one in found:
        state = f"{_many(one.drafts, 'draft')}, {one.signed} signed"
        click.echo(f"{printable(one.reference):<40}  opened {one.opened_at}  last {one.last_at}  {state}")
    if not found:
        click.echo("There is no encounter yet; dictation review DRAFT opens one.")


@encounter.command("export", short_help="Hand an encounter over as one file.")
@click.argument("reference")
@click.argument("file", type=click.Path(path_type=Path), metavar="FILE")
def export(reference: str, file: Path) -> None:
    """Write the encounter REFERENCE, with its sound, drafts and journal, to FILE, which must not exist.

    The file is not encrypted: it holds all that was said. Its form is described in DEVELOPERS.md.
    """
    from dictation.store.handing_over import export_encounter

    sounds = export_encounter(store_of(settings_in_use()).encounter(reference), file)
    click.echo(f"{file}: the encounter with {_many(sounds, 'recording')}. It is not encrypted.")


@encounter.command("import", short_help="Take in an encounter that was handed over.")
@click.argument("file", type=click.Path(path_type=Path), metavar="FILE")
@_WHO
def import_(file: Path, who: str | None) -> None:
    """Verify FILE and take in its encounter: all of it, or nothing."""
    from dictation.record import parse_draft
    from dictation.store.handing_over import import_encounter
    from dictation.store.journal import now

    settings = settings_in_use()
    taken = import_encounter(store_of(settings), file, named(who or settings.reviewer), now(), parse_draft)
    click.echo(f"Taken in as encounter {taken.reference}: {len(taken.entries)} entries, all verified.")


@encounter.command(short_help="Erase an encounter, on request.")
@click.argument("reference")
@click.option("--why", type=click.Choice(["asked for", "wrong patient", "a trial"]), required=True)
@_WHO
def erase(reference: str, why: str, who: str | None) -> None:
    """Erase the encounter REFERENCE: sound, drafts, decisions and notes. It cannot be undone.

    Hashes alone stay in the store's journal. Back-ups and files handed over before are not reached.
    """
    from dictation.errors import ReviewError
    from dictation.store.erasing import erase_encounter
    from dictation.store.facts import reference_ending
    from dictation.store.journal import now
    from dictation.terminal.screen import ask

    settings = settings_in_use()
    found = store_of(settings).encounter(reference)
    name = named(who or settings.reviewer)
    typed = ask("This cannot be undone. The last characters of the reference, to erase it: ")
    if typed.strip().casefold() != reference_ending(found.reference):
        raise ReviewError("That is not how this encounter's reference ends; nothing was erased.")
    erase_encounter(found, why, name, now())
    click.echo("Erased. Back-ups and files handed over before are not reached.")


@click.command("back-up", short_help="Copy the whole store, while it is in use.")
@click.argument("folder", type=click.Path(path_type=Path), metavar="DIR")
def back_up(folder: Path) -> None:
    """Copy every encounter and its sound into the new folder DIR, and verify the copy."""
    from dictation.store.back_up import back_up as copy

    done = copy(store_of(settings_in_use()), folder)
    copied = f"{_many(done.encounters, 'encounter')}, {_many(done.recordings, 'recording')}"
    click.echo(f"{folder}: {copied}, verified. It is not encrypted.")


def _many(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"
