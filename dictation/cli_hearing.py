"""The commands about the sound itself, and how well a voice is heard. Like cli.py: thin, each imports its room when called."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("sound-check", short_help="Say what a recording is like to listen to.")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE...")
def sound_check(files: tuple[Path, ...]) -> None:
    """Measure the sound of each FILE: speech, level, noise; and warn where it is too poor to trust.

    Nothing is recognised and nothing is written. Try it on half a minute in the room and with the microphone you
    mean to use.
    """
    from dictation.audio import find_speech, read_audio
    from dictation.errors import DictationError
    from dictation.note.printable import printable
    from dictation.quality import sound_quality

    failed: list[DictationError] = []
    for file in files:
        try:
            samples = read_audio(file)
        except DictationError as err:  # the others are measured all the same
            click.echo(printable(str(err)), err=True)
            failed.append(err)
            continue
        found = sound_quality(samples, find_speech(samples))
        click.echo(f"{printable(file.name)}: {samples.duration_s:.0f} s, {found.summary}")
        for warning in found.warnings or ["Nothing to warn of."]:
            click.echo(f"  {warning}")
    if failed:
        raise click.exceptions.Exit(failed[0].exit_code)


@click.command("voice-check", short_help="Measure how well your voice is heard here.")
@click.argument("folder", type=click.Path(path_type=Path), metavar="FOLDER")
@click.option("--recogniser", type=click.Choice(["auto", "embedded", "whisper"]), default=None)
def voice_check(folder: Path, recogniser: str | None) -> None:
    """Measure how well your voice, room and microphone are heard, from recordings in FOLDER.

    Twelve given dictations are put into FOLDER; read each aloud and save its recording beside it, under the same
    name. Or put in recordings of your own with their true texts. Where a recording is still missing, you are shown
    what to read. A recording that cannot be used is named, and the others are counted. The figures are kept for the
    screens to show; no recording is copied.
    """
    from dictation.lexicon.loading import load_lexicon
    from dictation.note.printable import printable
    from dictation.settings import read_settings
    from dictation.store.journal import now
    from dictation.terminal.reading_aloud import read_aloud
    from dictation.terminal.screen import ask, show
    from dictation.voice_check import check_voice, keep, prepare, texts_of

    settings = read_settings()
    prepare(folder)
    texts = texts_of(folder)
    read_aloud(texts, ask, show)
    lexicon = load_lexicon(settings.personal_lexicon, cache=settings.cache_folder)
    found, left_out = check_voice(texts, recogniser or settings.recogniser, settings, lexicon, now().at)
    for err in left_out:
        click.echo(f"Left out: {printable(str(err))}", err=True)
    if found is not None:
        for sentence in found.sentences:
            click.echo(sentence)
        click.echo(f"Kept in {keep(found, settings)}.")
    if left_out:
        raise click.exceptions.Exit(left_out[0].exit_code)
