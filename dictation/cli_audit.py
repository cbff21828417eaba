"""The command that looks back over a clinic's signed examinations. Thin, like the rest of the commands."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from dictation.cli_review import settings_in_use, store_of
from dictation.errors import InputError, OutputError

if TYPE_CHECKING:
    from dictation.audit.counts import Suggestion
    from dictation.settings import Settings


@click.command(short_help="Look back over signed examinations.")
@click.option("--since", default=None, metavar="DAY", help="Only those signed then or later, as 2025-03-04.")
@click.option("--purpose", default=None, help="Only those of one purpose: nerve, wound, trauma …")
@click.option("--csv", "folder", type=click.Path(path_type=Path), default=None, metavar="DIR", help="Write the tables there.")
@click.option("--plots", type=click.Path(path_type=Path), default=None, metavar="FILE", help="Write bars, as one .html file.")
@click.option("--suggest", is_flag=True, help="Ask of each mishearing whether your own terms shall have it.")
def audit(since: str | None, purpose: str | None, folder: Path | None, plots: Path | None, suggest: bool) -> None:
    """Count over the signed examinations of the store: what was left out, what was corrected, what was misheard, how many
    doubts were right, and how long it took to sign.

    Counts alone, and none about fewer than five examinations: nothing in it names a patient or a clinician.
    """
    from dictation.audit.cases import signed_cases
    from dictation.audit.counts import FEWEST, Counts
    from dictation.audit.showing import write_csv, write_plots
    from dictation.lexicon.loading import load_lexicon
    from dictation.store.facts import PURPOSES
    from dictation.terminal.tables import plain_table

    settings = settings_in_use()
    if since is not None:
        _check_day(since)
    if purpose is not None and purpose not in PURPOSES:
        raise InputError(f"There is no such purpose; it is one of: {', '.join(PURPOSES)}.")
    if plots is not None and plots.suffix.casefold() != ".html":
        raise InputError(f"{plots.name} is no .html file; give --plots one.")
    if plots is not None and plots.exists():
        raise OutputError(f"{plots} exists already; choose another name, or move it away.")
    counts = Counts(load_lexicon(settings.personal_lexicon, cache=settings.cache_folder))
    for case in signed_cases(store_of(settings), since, purpose):
        counts.add(case)
    click.echo(f"{counts.examinations} signed examination{'' if counts.examinations == 1 else 's'}.")
    if counts.examinations < FEWEST:
        click.echo(f"That is too few: the audit begins with {FEWEST}, so that no one is known again in it.")
        return
    tables = counts.tables()
    for table in tables:
        click.echo(f"\n{table.title}")
        click.echo(plain_table(table.heads, table.rows) if table.rows else "Nothing, or too few examinations.")
        click.echo(table.remark)
    if folder is not None:
        write_csv(folder, tables)
        click.echo(f"\nThe tables are in {folder}.")
    if plots is not None:
        write_plots(plots, tables, counts.examinations)
        click.echo(f"\nThe plots are in {plots}.")
    if suggest:
        _suggest(counts.suggestions(), settings)


def _check_day(day: str) -> None:
    from datetime import date

    try:
        date.fromisoformat(day)
    except ValueError as err:
        raise InputError("Say the day as year-month-day, as in 2025-03-04.") from err


def _suggest(found: list[Suggestion], settings: Settings) -> None:
    """Ask a person about each mishearing; only what they accept goes into the clinic's own terms."""
    from dictation.errors import LexiconError
    from dictation.own_terms import add_forms
    from dictation.settings import own_terms_path
    from dictation.terminal.screen import ask

    path = own_terms_path(settings)
    for one in found:
        click.echo(f"\n“{one.heard}” was taken for {one.name} in {one.seen} examinations, and confirmed each time.")
        answer = ask("Shall your own terms have it, so that it is corrected at once? (yes/no) ")
        if answer.strip().casefold() not in {"y", "yes"}:
            click.echo("Left as it is.")
            continue
        try:
            add_forms(path, one.term, (), (one.heard,), {}, path)
        except LexiconError as err:
            click.echo(str(err), err=True)
        else:
            click.echo(f"It is in {path}, from the next dictation on.")
    if not found:
        click.echo("\nNo mishearing was confirmed often enough to suggest.")
