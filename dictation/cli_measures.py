"""The commands about what follows from confirmed statements: measures, and their change over time. Thin, like the rest."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from dictation.cli_review import REFERENCE, is_file, settings_in_use, store_of
from dictation.errors import InputError, ReviewError
from dictation.reviewing import draft_of, review_of

if TYPE_CHECKING:
    from dictation.measurement.over_time import Series
    from dictation.measurement.result import Measure
    from dictation.review.rules import Review
    from dictation.store.facts import Details

CAUTION = "Worked out from confirmed statements alone, to be read by a clinician. It is no diagnosis."


@click.command(short_help="What follows from the confirmed numbers.")
@click.argument("what", metavar="DRAFT")
@REFERENCE
@click.option("--table", default=None, metavar="NAME", help="Table of normal ranges; the setting normal_table unless given.")
@click.option("--score", "scores", multiple=True, metavar="NAME", help="A score besides those of the setting scores.")
@click.option("--age", type=click.FloatRange(0, 130), default=None, help="Age in years, where the encounter does not say.")
@click.option("--sex", type=click.Choice(["female", "male"]), default=None, help="For norms, where the encounter does not say.")
def measures(
    what: str, reference: str | None, table: str | None, scores: tuple[str, ...], age: float | None, sex: str | None
) -> None:
    """Work out measures from the statements confirmed so far of DRAFT, a draft file or an encounter's reference.

    Each names its inputs, formula and published source. Scores are for adults, and given only where the settings switch them
    on or --score asks for them. Age and sex are the encounter's.
    """
    from dictation.measurement.joint_table import joint_table
    from dictation.measurement.measures import SCORES
    from dictation.measurement.measures import measures as work_out
    from dictation.measurement.movements import movements
    from dictation.measurement.result import Patient
    from dictation.measurement.tables import RANGE_SOURCES

    settings = settings_in_use()
    table, scores = table or settings.normal_table, (*settings.scores, *scores)
    _known("table", [table], RANGE_SOURCES)
    _known("score", scores, SCORES)
    opened, details = _review(what, reference)
    fields = [one.field.model_copy(update={"decision": one.state}) for one in opened.state.standing]
    said = details.sex if details.sex in ("female", "male") else None
    patient = Patient(age if age is not None else details.age, sex or said)  # type: ignore[arg-type]  # no other can be given
    found = work_out(fields, patient, table=table, scores=scores)
    kept = [field for field in fields if field.decision in ("confirmed", "amended")]
    for row in joint_table(movements(kept)):
        place = " ".join(word for word in (row.movement, row.digit, row.position, row.occasion) if word)
        sides = [_side(name, row.cells[n : n + 3]) for name, n in (("right", 0), ("left", 3))]
        click.echo(f"{place}: {'; '.join(side for side in sides if side)}")
    sentences = {one.field.id: one.sentence or "" for one in opened.state.fields.values()}
    for measure in found:
        _show(measure, sentences)
    if not found:
        click.echo("Nothing follows from what is confirmed so far.")
    click.echo(CAUTION)


def _known(what: str, given: Iterable[str], known: Iterable[str]) -> None:
    if not set(given) <= set(known):
        raise InputError(f"There is no {what} of that name; there are {', '.join(known)}.")


def _side(name: str, cells: tuple[str, ...]) -> str:
    words = [f"{mode} {cell}" for mode, cell in zip(("active", "passive", "mode not stated"), cells, strict=True) if cell]
    return f"{name} {', '.join(words)}" if words else ""


def _show(measure: Measure, sentences: dict[str, str]) -> None:
    place = " ".join(word for word in (measure.side and measure.side.upper(), measure.digit) if word)
    click.echo(f"\n{place + ': ' if place else ''}{measure.text}")
    for note in measure.notes:
        click.echo(f"    {note}")
    click.echo(f"    from: {'; '.join(sentences[name] for name in measure.inputs)}")
    if measure.formula:
        click.echo(f"    by: {measure.formula}; {measure.source}")


@click.command("over-time", short_help="Every value measured on several dates.")
@click.argument("reference")
@click.option("--plots", type=click.Path(path_type=Path), default=None, metavar="FILE", help="Write plots too: .svg or .html.")
def over_time(reference: str, plots: Path | None) -> None:
    """Print every value of the encounter REFERENCE that was confirmed and signed at two dates or more.

    Only like is set against like; nothing is filled in where a date has no value. --plots writes them as a picture, or as a
    page with the same in words.
    """
    from dictation.measurement.over_time import Visit
    from dictation.measurement.over_time import over_time as follow

    if plots is not None and plots.suffix.lower() not in (".svg", ".html"):
        raise InputError(f"{plots.name} is neither an .svg nor an .html file; give --plots one of the two.")
    settings = settings_in_use()
    encounter = store_of(settings).encounter(reference)
    visits = []
    for sha256 in encounter.facts.drafts:
        opened = review_of(encounter, sha256, settings)
        signature = opened.state.signature
        if signature is None:
            continue
        kept = tuple(one.field for one in opened.state.standing if one.state in ("confirmed", "amended"))
        examiner = signature.details.examiner if signature.details else None
        at = signature.examined or signature.dictated or signature.time.at[:10]
        visits.append(Visit(at, examiner or signature.signer, kept))
    series = follow(visits)
    for one in series:
        place = " ".join(str(word) for word in one.like[1:-1] if word)
        click.echo(f"{one.concept.replace('_', ' ')} {place} ({one.unit})")
        for point in one.points:
            click.echo(f"    {point.at}  {point.value:g}  {point.changed}")
    if not series:
        click.echo("No value was signed at two dates of this encounter.")
    if plots is not None:
        _write_plots(plots, reference, series)
    click.echo(CAUTION)


def _write_plots(path: Path, reference: str, series: list[Series]) -> None:
    from dictation.pictures.page import page
    from dictation.pictures.plots import over_time as draw
    from dictation.writing import write_whole

    picture = draw(series)
    drawn = page(f"Values over time, {reference}", [picture], CAUTION) if path.suffix.lower() == ".html" else picture.svg
    write_whole(path, drawn)
    click.echo(f"Wrote {path}.")


def _review(what: str, reference: str | None) -> tuple[Review, Details]:
    """The review of a draft and the details of its encounter."""
    from dictation.review.opening import find_encounter, read_file

    settings = settings_in_use()
    store = store_of(settings)
    file = read_file(Path(what)) if is_file(what) else None
    encounter = find_encounter(store, file, reference) if file else store.encounter(what)
    if encounter is None:
        raise ReviewError(f"The review of {Path(what).name} has not begun; dictation review begins it.")
    opened = review_of(encounter, file.sha256 if file else draft_of(encounter, signed=True), settings)
    return opened, encounter.facts.details
