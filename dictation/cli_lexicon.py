"""The commands over the lexicon: check, list, meaning, add. Thin, and importing when called, as those in cli.py."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click


@click.group()
def lexicon() -> None:
    """The words the program knows."""


@lexicon.command()
@click.argument("file", required=False, type=click.Path(path_type=Path), metavar="[FILE]")
def check(file: Path | None) -> None:
    """Check the shipped lexicon, and your own FILE on top of it; names file, line and term of every fault."""
    from dictation.lexicon.loading import lexicon_faults, load_lexicon
    from dictation.note.printable import printable
    from dictation.settings import read_settings

    settings = read_settings()
    own = file or settings.personal_lexicon
    faults = lexicon_faults(own)
    for fault in faults[:-1]:
        click.echo(printable(str(fault)), err=True)
    if faults:
        raise faults[-1]
    found = load_lexicon(own, cache=settings.cache_folder)
    places = sum(len(room) for room in (found.digits, found.joints, found.structures, found.aspects))
    also = f", with {own}" if own else ""
    click.echo(f"No fault: lexicon {found.version}{also}, {len(found.concepts)} concepts, {places} places.")


@lexicon.command("list", short_help="List terms, all or some.")
@click.argument("text", required=False, default="")
@click.option("--part", default=None, help="Only this part of the examination, such as feel or special_tests.")
@click.option("--kind", default=None, help="Only this kind, such as test, finding or structure.")
@click.option("--own", is_flag=True, help="Only what your own file adds or changes.")
def list_terms(text: str, part: str | None, kind: str | None, own: bool) -> None:
    """List the terms that hold TEXT in their id, name or spoken forms: id, name, kind, part, how many ways it is said."""
    from dictation.own_terms import listed_terms
    from dictation.settings import read_settings

    settings = read_settings()
    rows = listed_terms(settings.personal_lexicon, settings.cache_folder, text=text, part=part, kind=kind, own=own)
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)] if rows else []
    for row in rows:
        click.echo("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())
    click.echo(f"{len(rows)} term{'' if len(rows) == 1 else 's'}.")


@lexicon.command(short_help="Say what a spoken phrase means.")
@click.argument("phrase")
def meaning(phrase: str) -> None:
    """Say what a PHRASE means when it is dictated, what the note would print, how it is heard, and what sounds near."""
    from dictation.lexicon.loading import load_lexicon
    from dictation.meaning import meaning_of, show_meaning
    from dictation.settings import read_settings

    settings = read_settings()
    found = meaning_of(phrase, load_lexicon(settings.personal_lexicon, cache=settings.cache_folder))
    for line in show_meaning(phrase, found):
        click.echo(line)


def _pairs(values: Sequence[str], option: str, example: str) -> list[tuple[str, str]]:
    pairs = [value.partition("=") for value in values]
    if any(not (name.strip() and sign and value.strip()) for name, sign, value in pairs):
        raise click.BadParameter(f"write it as {example}.", param_hint=option)
    return [(name.strip(), value.strip()) for name, _, value in pairs]


@lexicon.command(short_help="Add a term of your own, or a way of saying one.")
@click.argument("name", required=False, metavar="[NAME]")
@click.option("--to", "existing", default=None, metavar="ID", help="Add to the term with this id instead of making one.")
@click.option("--kind", default=None, help="Of a new term: test, finding, impression, plan … or structure for a place.")
@click.option("--id", "identity", default=None, help="Id of the new term; made from NAME if left out.")
@click.option("--part", default=None, help="Part of the examination; as most terms of the kind if left out.")
@click.option("--spoken", multiple=True, metavar="FORM", help="One more way of saying it; may be repeated.")
@click.option("--misheard", multiple=True, metavar="WORDS", help="What recognisers make of it; may be repeated.")
@click.option("--pronounced", multiple=True, metavar="WORD=PHONES", help="How a word is said, in ARPABET phones.")
@click.option("--takes", multiple=True, metavar="KEY", help="A key of the record it fills, such as side or digit.")
@click.option("--status", "statuses", multiple=True, help="A status it may have, such as positive.")
@click.option("--unit", default=None, help="Its unit, in UCUM: deg, kg, mm …")
@click.option("--plausible", nargs=2, type=float, default=None, metavar="LOW HIGH", help="Numbers beyond are flagged.")
@click.option("--wording", multiple=True, metavar="STATUS=SENTENCE", help="The note's sentence for a status.")
@click.option("--file", "named", type=click.Path(path_type=Path), default=None, help="Your file, if not the one in use.")
def add(
    name: str | None, existing: str | None, kind: str | None, identity: str | None, part: str | None,
    spoken: tuple[str, ...], misheard: tuple[str, ...], pronounced: tuple[str, ...], takes: tuple[str, ...],
    statuses: tuple[str, ...], unit: str | None, plausible: tuple[float, float] | None, wording: tuple[str, ...],
    named: Path | None,
) -> None:  # fmt: skip
    """Add the term NAME to your own file, or with --to a way of saying a term that is there already.

    The whole lexicon is checked first; nothing is written where that finds a fault.
    """
    from dictation.lexicon.appending import NewTerm
    from dictation.own_terms import add_forms, add_term
    from dictation.settings import own_terms_path, read_settings

    settings = read_settings()
    path = named or own_terms_path(settings)
    said: dict[str, tuple[str, ...]] = {}
    for word, phones in _pairs(pronounced, "--pronounced", '"bunnell=B AH N EH L"'):
        said[word] = (*said.get(word, ()), phones)
    if (name is None) == (existing is None):
        raise click.UsageError("Give the NAME of a new term, or --to and the id of one that is there.")
    if existing is not None:
        if kind or identity or part or takes or statuses or unit or plausible or wording:
            raise click.UsageError("With --to only --spoken, --misheard and --pronounced can be added.")
        if not (spoken or misheard or said):
            raise click.UsageError("Give at least one --spoken, --misheard or --pronounced.")
        term = add_forms(path, existing, spoken, misheard, said, settings.personal_lexicon)
    else:
        if kind is None:
            raise click.UsageError("Give the --kind of the new term, such as test, finding, plan or structure.")
        new = NewTerm(
            identity or "", name or "", kind, part or "", takes, statuses, spoken, misheard, said, unit, plausible,
            dict(_pairs(wording, "--wording", '"positive={name} positive{place}"')),
        )  # fmt: skip
        term = add_term(path, new, settings.personal_lexicon)
    click.echo(f"{term.preferred} ({term.id}) is in {path}, and is known from the next dictation on.")
    if named is not None and named != settings.personal_lexicon:
        from dictation.settings import VARIABLES

        click.echo(f"That file is not in use; name it in {VARIABLES['personal_lexicon']} or the settings file.")
    click.echo(f'To see how it is heard: dictation lexicon meaning "{spoken[0] if spoken else term.preferred}"')
