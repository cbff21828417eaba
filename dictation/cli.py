"""The commands. Thin: each imports its room when called, so that ``--help`` needs click and nothing else.

This is the only place that turns a DictationError into text for the terminal: one sentence, an exit code, no
traceback, no patient text.
"""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click

from dictation import __version__
from dictation.cli_audit import audit
from dictation.cli_bulk import bulk, split
from dictation.cli_encounter import encounter, store
from dictation.cli_hearing import sound_check, voice_check
from dictation.cli_lexicon import lexicon
from dictation.cli_listen import listen
from dictation.cli_measures import measures, over_time
from dictation.cli_page import page
from dictation.cli_review import REFERENCE, check_reference, named, note, review, settings_in_use, store_of
from dictation.errors import DictationError, InputError
from dictation.faults import fault_error
from dictation.interruption import interruptible
from dictation.reviewing import review_of

if TYPE_CHECKING:
    from dictation.drafting import Drafted

INTERRUPTED = 130
UNANSWERED = 2
EPILOG = """\b
Exit codes
  0    done (for review: also when you stop half-way)
  1    a fault in the program itself
  2    the command was not typed as it should be, or a question had no answer
  3    a file cannot be used: missing, a folder, empty, not text, too long
  4    sound that cannot be read, or with no speech in it
  5    the recogniser asked for is not set up
  6    a fault in a lexicon file
  7    a draft or journal that is damaged, or newer than this program
  8    not decided or signed yet, or a decision that is not possible
  9    the result cannot be written
  10   a store that is damaged, held by another program, or newer than this program
  130  you pressed Ctrl-C; nothing half-written is left behind
With several files the code is that of the first that failed; the others are still drafted.
After a fault in the program, DICTATION_TRACEBACK=1 prints where it arose; that can quote
what was dictated, so keep it to yourself.

\b
What it does not do
  It makes no diagnosis and gives no advice. Everything it hears is a draft
  until you have decided on it; a statement without a mark can still be wrong.
  Nothing leaves this machine.
"""


@click.group(epilog=EPILOG, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 90})
@click.option(
    "--store", "folder", metavar="DIR", help="Folder of the store, or its database's address, for this command."
)
@click.version_option(__version__, message="%(version)s")
def commands(folder: str | None) -> None:
    """From a spoken hand, wrist and elbow examination to a note that you have confirmed.

    \b
    1. dictation draft clinic.wav --out-dir drafts
           hears the recording and writes a draft: what was said, as
           statements, with a mark on those to check first
    2. dictation review drafts/clinic.draft.json
           shows you each statement; you confirm, amend or reject it, and
           sign at the end; stop when you like and go on later
    3. dictation note drafts/clinic.draft.json
           prints the signed note

    \b
    To see all of it at once on a shipped, invented recording:
           dictation demonstrate samples/carpal_tunnel.opus
    """


@commands.command(short_help="Hear recordings, write drafts.")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE...")
@click.option("--out-dir", required=True, type=click.Path(path_type=Path), metavar="DIR", help="Folder for the drafts.")
@click.option(
    "--recogniser",
    type=click.Choice(["auto", "embedded", "whisper"]),
    default=None,
    help="Which recogniser listens; auto takes Whisper where its weights are set up.",
)
@REFERENCE
def draft(files: tuple[Path, ...], out_dir: Path, recogniser: str | None, reference: str | None) -> None:
    """Draft each FILE, a recording or a .txt file, into DIR/<name>.draft.json.

    With --encounter the drafts and their recordings go into that encounter, which is opened where there is none.
    """
    from dictation.drafting import draft_files
    from dictation.terminal.progress import Reporter

    settings = settings_in_use()
    who = ""
    if reference is not None:  # whatever is asked is asked before any work is done
        check_reference(store_of(settings), reference)
        who = named(settings.reviewer)
    with Reporter(settings=settings) as reporter:
        outcomes = draft_files(
            files,
            out_dir,
            recogniser or settings.recogniser,
            settings,
            begin=reporter.begin,
            done=reporter.done,
        )
    failed = [outcome.error for outcome in outcomes if outcome.error is not None]
    if failed and len(outcomes) > 1:
        click.echo(f"{len(failed)} of {len(outcomes)} files were not drafted.", err=True)
    if reference is not None:
        failed += _take_in(reference, outcomes, who)
    if failed:
        raise click.exceptions.Exit(failed[0].exit_code)


def _take_in(reference: str, outcomes: Sequence[Drafted], who: str) -> list[DictationError]:
    """Take what was drafted into an encounter, each recording with its draft; return why one was refused, which is said."""
    from dictation.review.opening import read_file, take_in
    from dictation.splitting.several import refuse_several
    from dictation.store.journal import now
    from dictation.store.sound import add_sound

    settings = settings_in_use()
    store = store_of(settings)
    refused: list[DictationError] = []
    for outcome in outcomes:
        if outcome.draft is not None:
            try:
                refuse_several(outcome.draft, outcome.examinations, outcome.source.name, outcome.target)
            except InputError as err:
                _say(err)
                refused.append(err)
                continue
            encounter = take_in(store, read_file(outcome.target), reference, who, now())
            if outcome.draft.source.recogniser != "text":
                add_sound(encounter, outcome.source, keep=settings.keep_sound == "yes", who=who, time=now())
            click.echo(f"In the store: encounter {encounter.reference}.")
    return refused


@commands.command(short_help="Say why a draft is as it is.")
@click.argument("what", metavar="WHAT")
@click.option("--field", default=None, metavar="N", help="Only this field: its number, from 1, or its id.")
@click.option("--words", default=None, metavar="I:J", help="Only what became of words I to J, numbered from 0, J not included.")
def explain(what: str, field: str | None, words: str | None) -> None:
    """Say why each field of WHAT came about, by which rule and entry of the lexicon, and why other words gave none.

    WHAT is a draft file, a .txt file, or a typed dictation in quotes.
    """
    from dictation.explaining import explain_draft, explain_text, show_explanation
    from dictation.lexicon.loading import load_lexicon
    from dictation.settings import read_settings

    span = _span(words)
    settings, path = read_settings(), Path(what)
    if path.suffix.casefold() == ".json":
        from dictation.record import read_draft

        explanation = explain_draft(read_draft(path), load_lexicon(settings.personal_lexicon, cache=settings.cache_folder))
    elif path.suffix.casefold() == ".txt":
        from dictation.drafting import check_input, read_text_file

        check_input(path)
        explanation = explain_text(read_text_file(path), settings=settings)
    else:
        explanation = explain_text(what, settings=settings)
    for line in show_explanation(explanation, field=field, words=span):
        click.echo(line)


def _span(words: str | None) -> tuple[int, int] | None:
    if words is None:
        return None
    first, _, last = words.partition(":")
    if not (first.isdecimal() and last.isdecimal()):
        raise click.BadParameter("give two numbers, as in 12:20.", param_hint="--words")
    return int(first), int(last)


@commands.command(short_help="Show the whole job on an invented recording.")
@click.argument("sound", type=click.Path(path_type=Path), metavar="SOUND")
@click.option("--recogniser", type=click.Choice(["auto", "embedded", "whisper"]), default=None)
def demonstrate(sound: Path, recogniser: str | None) -> None:
    """Show the whole job on an invented recording; no clinician confirms what comes out."""
    import tempfile

    from dictation.drafting import draft_files
    from dictation.note.text import render_text
    from dictation.review.opening import read_file, take_in
    from dictation.settings import read_settings
    from dictation.store.journal import now
    from dictation.store.store import open_store
    from dictation.terminal.demonstration import WHO
    from dictation.terminal.demonstration import demonstrate as decide
    from dictation.terminal.progress import Reporter
    from dictation.terminal.screen import show

    settings = read_settings()
    with tempfile.TemporaryDirectory() as folder:
        with Reporter(quiet=True) as reporter:
            outcome = draft_files(
                [sound],
                Path(folder),
                recogniser or settings.recogniser,
                settings,
                begin=reporter.begin,
                done=reporter.done,
            )[0]
        if outcome.error is not None:
            raise outcome.error
        file, store = read_file(outcome.target), open_store(Path(folder))  # no patient's: it goes with the folder
        encounter = take_in(store, file, "demonstration", WHO, now())
        opened = review_of(encounter, file.sha256, settings)
        record = decide(opened, show, now)
        store.close()
        click.echo(render_text(record, opened.lexicon), nl=False)


commands.add_command(audit)
commands.add_command(bulk)
commands.add_command(split)
commands.add_command(review)
commands.add_command(page)
commands.add_command(note)
commands.add_command(measures)
commands.add_command(over_time)
commands.add_command(encounter)
commands.add_command(store)
commands.add_command(lexicon)


@commands.command("fetch-whisper", short_help="Download Whisper weights for daily use.")
@click.argument("name")
@click.option("--yes", is_flag=True, help="Do not ask before the download.")
@click.option("--check", is_flag=True, help="Fetch nothing: compare what was fetched with the checksums kept then.")
def fetch_whisper(name: str, yes: bool, check: bool) -> None:
    """Download the Whisper weights NAME (such as small.en), and use them from then on.

    Says first what comes, how large it is and where it goes, and asks. This is the only command that uses the
    network.
    """
    from dictation.recognition.fetching import SIZES_MB, check_model, fetch_model
    from dictation.recognition.whisper import model_problem
    from dictation.settings import VARIABLES, WHISPER_IN_USE, read_settings
    from dictation.terminal.screen import ask
    from dictation.writing import write_whole

    folder = read_settings().data_folder
    if check:
        click.echo(check_model(name, folder))
        return
    missing = name in SIZES_MB and model_problem(folder / f"whisper-{name}") is not None
    if missing and not yes:
        question = f"Whisper {name} is about {SIZES_MB[name]} MB and would go into {folder}. Go on? (yes/no) "
        if ask(question).strip().casefold() not in {"y", "yes"}:
            click.echo("Nothing was fetched.")
            return
    model = fetch_model(name, folder, click.echo)
    write_whole(folder / WHISPER_IN_USE, model.name + "\n")
    found = read_settings()
    if found.whisper_model != model:
        click.echo(
            f"{VARIABLES['whisper_model']} or the settings file names {found.whisper_model}, which stays in "
            "use; remove that to use the new weights."
        )
    elif found.recogniser == "embedded":
        click.echo(
            f"{VARIABLES['recogniser']} or the settings file asks for the embedded recogniser; set it to "
            "auto to use the new weights."
        )
    else:
        click.echo(f"From now on recordings are heard with {model}.")


commands.add_command(listen)
commands.add_command(sound_check)
commands.add_command(voice_check)


@commands.group()
def settings() -> None:
    """Where things are kept, and what is used."""


@settings.command("show")
def show_settings() -> None:
    """Print every setting, and the file and variables they come from."""
    from dictation.settings import VARIABLES, read_settings, settings_path

    found = read_settings()
    for key, variable in VARIABLES.items():
        value = getattr(found, key)
        if key == "store_url" and value is not None:
            value = "(set; not shown, as it may hold a password)"
        if isinstance(value, tuple):
            value = ", ".join(value) or None
        click.echo(f"{key:<17} {value if value is not None else '(not set)'}   [{variable}]")
    path = settings_path()
    click.echo(f"settings file     {path}{'' if path.is_file() else ' (not there)'}")


def main(args: Sequence[str] | None = None) -> NoReturn:
    """Run a command and exit; every failure is one sentence on stderr and a documented code."""
    with interruptible():
        code = _run(args)
    sys.exit(code)


def _run(args: Sequence[str] | None) -> int:
    try:
        code = commands.main(args=args, prog_name="dictation", standalone_mode=False)
    except click.ClickException as err:
        err.show()
        return err.exit_code
    except (click.Abort, KeyboardInterrupt) as err:
        if isinstance(err.__cause__, EOFError):  # click makes one of both
            click.echo("A question had no answer; run the command at a terminal, or see its --help.", err=True)
            return UNANSWERED
        click.echo("Stopped; nothing half-written is left behind.", err=True)
        return INTERRUPTED
    except DictationError as err:
        return _say(err)
    except OSError as err:
        return _system(err)
    except Exception as err:
        return _say(fault_error(err, "The command stopped"))
    return code if isinstance(code, int) else 0


def _say(err: DictationError) -> int:
    from dictation.note.printable import printable

    click.echo(printable(str(err)), err=True)
    return err.exit_code


def _system(err: OSError) -> int:
    """Turn a failure of the system into a sentence: a closed pipe is silence, the rest is a place that cannot
    be written.
    """
    if err.errno == errno.EPIPE:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # so that closing stdout does not fail again
        return 1
    from dictation.writing import output_error

    return _say(output_error(err.filename or "the result", err))
