"""The command that listens: dictating live at a terminal. Thin; imports its rooms when called."""

from __future__ import annotations

from pathlib import Path

import click

from dictation.cli_review import check_reference, named, settings_in_use, store_of


@click.command(short_help="Dictate while examining, at this terminal.")
@click.argument("reference", metavar="REFERENCE")
@click.option("--who", default=None, help="Your name, written into the journal.")
@click.option("--consent", is_flag=True, help="Consent to recording was given; else you are asked.")
@click.option("--device", default=None, metavar="NAME", help="Part of the microphone's name.")
@click.option(
    "--from", "file", type=click.Path(path_type=Path), default=None, metavar="FILE", help="Play FILE in the microphone's place."
)
def listen(reference: str, who: str | None, consent: bool, device: str | None, file: Path | None) -> None:
    """Listen to an examination and draft it as it goes on, for encounter REFERENCE, opened where there is none.

    What is heard, what comes of it and the side in force are shown line by line. The sound is kept as it comes:
    whatever ends the program, the same command goes on from there. For review afterwards: dictation review REFERENCE.
    """
    from dictation.lexicon.loading import load_lexicon
    from dictation.live.keeping import begin, broken_off, dictate, take_in
    from dictation.live.microphone import microphone, playing
    from dictation.store.facts import Details
    from dictation.store.journal import now
    from dictation.store.sound import withdraw_consent
    from dictation.terminal.listen import Lines, steer
    from dictation.terminal.screen import ask, show

    settings = settings_in_use()
    store, name = store_of(settings), named(who or settings.reviewer)
    check_reference(store, reference)
    encounter = store.find(reference) or store.open_encounter(reference, Details(), name, now())
    unfinished = broken_off(encounter)
    if unfinished:
        folder = unfinished[0]
        show("Going on with the dictation that was broken off.", "plain")
    else:
        given = consent or encounter.facts.details.consent == "given"
        given = given or ask("Has the patient agreed to be recorded? (yes/no) ").strip().casefold() == "yes"
        folder = begin(encounter, consent=given, who=name, time=now())
    lexicon, details = load_lexicon(settings.personal_lexicon, cache=settings.cache_folder), encounter.facts.details
    lines = Lines(lexicon, show, purpose=details.purpose, age=details.age)
    dictating, kept = dictate(folder, lexicon, settings, lines)
    with dictating:
        source = playing(dictating.push, file) if file is not None else microphone(dictating.push, device)
        with source as heard_by:
            show(f"Listening to {heard_by}.", "heading")
            going_on = steer(dictating, ask, show)
        if not going_on:
            count = withdraw_consent(encounter, name, now())
            click.echo(f"Consent is withdrawn; the sound of this dictation and of {count} kept recordings is deleted.")
            return
        dictating.finish()
        dictating.wait()
        lines.end()
        taken = take_in(encounter, dictating, kept, lexicon, settings, who=name, time=now())
    if taken is None:
        click.echo("Nobody spoke; the sound is kept with the encounter, and there is no draft.")
        return
    click.echo(f"For review: dictation review {encounter.reference}")
