"""The command that drafts recordings in bulk. Thin, like the rest of the commands."""

from __future__ import annotations

import contextlib
import time
from pathlib import Path
from typing import TYPE_CHECKING

import click

from dictation.cli_review import named, settings_in_use

if TYPE_CHECKING:
    from dictation.bulk.keeping import Keeping
    from dictation.bulk.recordings import Recordings
    from dictation.bulk.run import Report
    from dictation.bulk.work import How
    from dictation.bulk.workers import Event, Runner
    from dictation.terminal.bulk_progress import BulkProgress


@click.command(short_help="Draft whole folders of recordings.")
@click.argument("places", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FOLDER...")
@click.option("--out-dir", required=True, type=click.Path(path_type=Path), metavar="DIR", help="Folder for the drafts.")
@click.option("--pattern", "patterns", multiple=True, metavar="PATTERN", help="Only files of such names, as '*.wav'.")
@click.option("--workers", type=click.IntRange(1, 256), default=None, metavar="N", help="Processes; one a core unless given.")
@click.option("--watch", is_flag=True, help="Go on: draft what comes into the folders, until Ctrl-C.")
@click.option("--scheduler", default=None, metavar="ADDRESS", help="Workers of a Dask scheduler, as tls://machine:8786.")
@click.option("--send", is_flag=True, help="With --scheduler: send the sound, where workers cannot reach its path.")
@click.option("--take-in", is_flag=True, help="Take each draft into the store, as an encounter named after its file.")
@click.option("--who", default=None, help="Your name, written into the journal with --take-in.")
@click.option("--room", default=None, metavar="NAME", help="With --take-in: what the references begin with, as in room2/…")
@click.option("--recogniser", type=click.Choice(["auto", "embedded", "whisper"]), default=None)
def bulk(
    places: tuple[Path, ...], out_dir: Path, patterns: tuple[str, ...], workers: int | None, watch: bool, take_in: bool,
    who: str | None, room: str | None, recogniser: str | None, scheduler: str | None, send: bool,
) -> None:  # fmt: skip
    """Draft every recording in each FOLDER that is not drafted yet, into DIR.

    A recording is drafted anew only where its sound, the lexicon or the recogniser has changed, and never where its draft is
    under review. Stop it when you like: the next run goes on where this one ended. A file that cannot be drafted is named at
    the end and stops no other.
    """
    from dictation.bulk.keeping import Keeping, alone
    from dictation.bulk.recordings import SOUND, find_recordings
    from dictation.bulk.run import Report
    from dictation.bulk.watching import EVERY_S, Watch
    from dictation.bulk.work import how_to_draft
    from dictation.lexicon.loading import load_lexicon

    settings = settings_in_use()
    how = how_to_draft(recogniser or settings.recogniser, settings)
    found = find_recordings(places, out_dir, patterns)
    if not found.found and not found.clashing:
        click.echo(f"There is no recording in {len(places)} folder(s): looked for {', '.join(patterns or SOUND)}.", err=True)
    name = named(who or settings.reviewer) if take_in else None
    report = Report()
    resets = load_lexicon(how.personal, cache=settings.cache_folder).language.get("reset", {})
    shared = take_in and settings.store_url is not None  # there the rooms keep each other off by the store's own queue
    with (
        contextlib.nullcontext() if shared else alone(out_dir),
        Keeping(out_dir, settings, name, room, resets) as keeping,
        _runner(how, workers, scheduler) as runner,
    ):
        try:
            _draft(found, how, keeping, runner, report, send)
            if watch:
                looking = Watch(lambda: find_recordings(places, out_dir, patterns))
                click.echo(f"Watching {len(places)} folder(s); Ctrl-C ends it.", err=True)
                while True:
                    new = looking.look()
                    if new.found or new.clashing:
                        _draft(new, how, keeping, runner, report, send)
                    time.sleep(EVERY_S)
        finally:
            _conclude(report, found.others)
    if report.failed:
        raise click.exceptions.Exit(report.exit_code)


def _runner(how: How, workers: int | None, scheduler: str | None) -> Runner:
    if scheduler is None:
        from dictation.bulk.workers import LocalWorkers

        return LocalWorkers(how, workers or _cores())
    from dictation.bulk.cluster import ClusterWorkers

    return ClusterWorkers(how, scheduler)


def _draft(found: Recordings, how: How, keeping: Keeping, runner: Runner, report: Report, send: bool) -> None:
    from dictation.bulk.run import draft_all, find_todo
    from dictation.terminal.bulk_progress import BulkProgress

    click.echo(f"Looking which of {len(found.found)} recordings are to be drafted …", err=True)
    todo = find_todo(found, how, keeping, report)
    with BulkProgress({one.recording.name: one.size for one in todo}) as progress:
        draft_all(todo, runner, keeping, report, lambda event: _tell(progress, event, report), send=send)


def _tell(progress: BulkProgress, event: Event, report: Report) -> None:
    from dictation.bulk.workers import Begun, Heard

    if isinstance(event, Begun):
        progress.begun(event.name)
    elif isinstance(event, Heard):
        progress.heard(event.name, event.done_s, event.total_s)
    else:
        error = report.failed.get(event.name)
        progress.ended(event.name, event.row, None if error is None else str(error))


def _conclude(report: Report, others: int) -> None:
    """The table, what was left alone, and what failed."""
    from dictation.note.printable import printable
    from dictation.terminal.bulk_progress import bulk_table

    if report.rows:
        click.echo(bulk_table(sorted(report.rows.items())))
    lines = [f"{len(report.rows)} drafted"]
    lines += [f"{len(report.skipped)} drafted before"] if report.skipped else []
    lines += [f"{others} files of other names left alone"] if others else []
    click.echo(", ".join(lines) + ".")
    for name, left_out_s in sorted(report.left_out_s.items()):
        click.echo(f"{printable(name)}: {left_out_s:.0f} seconds lie in no examination, and are not drafted.")
    for name in report.decided:
        click.echo(f"{printable(name)}: under review, so not drafted anew.")
    if report.failed:
        click.echo(f"{len(report.failed)} not drafted:", err=True)
        for _, error in sorted(report.failed.items()):
            click.echo(f"  {printable(str(error))}", err=True)


def _cores() -> int:
    import os

    with contextlib.suppress(AttributeError):  # not every system says which cores a process may use
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@click.command(short_help="Part a recording of several examinations.")
@click.argument("draft", type=click.Path(path_type=Path), metavar="DRAFT")
def split(draft: Path) -> None:
    """Part a recording that holds several examinations, by its DRAFT: shows where "next patient", the end of an examination
    or a reference was said, and lets you move every cut.

    What you confirm is written beside the draft (NAME.splits.csv: start, end, reference), and the next dictation bulk drafts
    each examination by itself.
    """
    from dictation.bulk.parts import whole_of
    from dictation.errors import InputError
    from dictation.lexicon.loading import load_lexicon
    from dictation.record import read_draft
    from dictation.splitting.marks import examinations, words_of
    from dictation.splitting.splits import read_splits, splits_beside, write_splits
    from dictation.terminal.parting import part
    from dictation.terminal.screen import ask, show

    settings = settings_in_use()
    record = read_draft(whole_of(draft))
    if record.source.duration_s is None:
        raise InputError(f"{draft.name} is of typed text; put each examination into a file of its own.")
    cuts = splits_beside(draft)
    if cuts.is_file():
        stretches = read_splits(cuts)
    else:
        lexicon = load_lexicon(settings.personal_lexicon, cache=settings.cache_folder)
        stretches = examinations(record, lexicon.language.get("reset", {}))
    confirmed = part(stretches, words_of(record), record.source.name, ask, show)
    if confirmed is None:
        click.echo("Nothing was cut.")
        return
    write_splits(cuts, confirmed)
    click.echo(f"The cuts are in {cuts}; dictation bulk drafts each examination by itself.")
