"""Every value measured on several dates, plotted over time: the right beside the left, each on the scale of its pair.

A plot holds one series of measurement/over_time.py, so like alone stands with like. Where a published measurement error
fits the value, it is a band around the first one. Each examiner has a shape of point, and a change of examiner a line.
Imports measurement and svg.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from dictation.measurement.measurement_error import MINIMAL_DETECTABLE_DEG
from dictation.measurement.movements import MOVEMENTS, in_words
from dictation.measurement.over_time import Like, Point, Series
from dictation.measurement.result import number
from dictation.measurement.strength import MEANINGFUL_KG
from dictation.pictures.svg import Picture, element, finish, new, plain, text_width, wrap, write
from dictation.record import Side

WIDTH = 1000.0
_COLUMN, _GAP = 470.0, 20.0
_PLOT_HEIGHT, _AXIS, _MARGIN = 150.0, 56.0, 46.0
_UNITS = {"deg": "degrees", "[lb_av]": "pounds", "s": "seconds", "d": "days", "{score}": "score"}
_WITH_PUBLISHED_ERROR = ("wrist_", "mcp_", "pip_", "dip_", "ip_")
"""Movements of the joints that the published error of angles was measured on."""

NOTHING = "No value was signed at two dates."


@dataclass(frozen=True, slots=True)
class Band:
    """The two widths of a published error around the first value, in the unit of the series, and what it is."""

    inner: float
    outer: float
    words: str


def over_time(series: Sequence[Series]) -> Picture:
    """Return a plot for each series, as ``dictation.measurement.over_time.over_time`` gives them."""
    root = new("over-time", "Measured values over time", WIDTH)
    y = 24.0
    rows = _rows(series)
    if not rows:
        write(root, 24, y, NOTHING)
        return finish(root, y + 16, [NOTHING])
    examiners = list(dict.fromkeys(plain(point.examiner) for one in series for point in one.points))
    y = _key(root, examiners, y)
    for pair in rows:
        scale = _scale(list(pair.values()))
        lefts = {side: 24 + (_COLUMN + _GAP if side == "left" else 0) for side in pair}
        y = max(_plot(root, one, scale, examiners, lefts[side], y) for side, one in pair.items()) + 16
    y += 14
    for line in (part for words in _bands(rows) for part in wrap(words, WIDTH - 48, 14)):
        write(root, 24, y, line, "soft", font_size=14)
        y += 19
    return finish(root, y, list(_sentences(rows)))


def _rows(series: Sequence[Series]) -> list[dict[Side | None, Series]]:
    """Series that differ in side alone, together."""
    pairs: dict[Like, dict[Side | None, Series]] = {}
    for one in series:
        without = (*one.like[:2], *one.like[3:])
        pairs.setdefault(without, {})[one.like[2]] = one  # type: ignore[index]  # the third is the side
    rows: list[dict[Side | None, Series]] = []
    for pair in pairs.values():  # without a side there is nothing to stand beside
        alone: dict[Side | None, Series] = {None: pair.pop(None)} if None in pair else {}
        rows += [part for part in (pair, alone) if part]
    return rows


def band_of(one: Series) -> Band | None:
    """Return the published error that fits a series, None where none is known of its kind."""
    if one.unit == "deg" and one.concept in MOVEMENTS and one.concept.startswith(_WITH_PUBLISHED_ERROR):
        low, high = MINIMAL_DETECTABLE_DEG
        return Band(low, high, f"Band: {low:g}° and {high:g}° around the first value, the least differences told from error in "
                    "joints of the wrist and fingers, by joint (Reissner et al. 2019).")  # fmt: skip
    if one.unit == "kg" and one.concept == "grip_strength":
        low, high = MEANINGFUL_KG
        return Band(low, high, f"Band: {low:g} and {high:g} kg around the first value, the least changes of grip suggested to "
                    "matter (Bohannon 2019).")  # fmt: skip
    return None


def _bands(rows: Sequence[dict[Side | None, Series]]) -> list[str]:
    """What the bands are, each once, and whether a plot has none."""
    found = [band_of(one) for pair in rows for one in pair.values()]
    words = list(dict.fromkeys(band.words for band in found if band))
    return [*words, *(["No band: no published error of that value is kept here."] if None in found else [])]


@dataclass(frozen=True, slots=True)
class _Scale:
    """The values and dates that a pair of plots spans. shares: date -> how far along it lies, 0 to 1."""

    low: float
    high: float
    shares: dict[str, float]


def _scale(pair: Sequence[Series]) -> _Scale:
    ends = [point.value for one in pair for point in one.points]
    for one in pair:
        if band := band_of(one):
            ends += [one.points[0].value - band.outer, one.points[0].value + band.outer]
    room = (max(ends) - min(ends)) * 0.06 or 1.0
    dates = sorted({point.at for one in pair for point in one.points})
    try:
        days = [date.fromisoformat(at[:10]).toordinal() for at in dates]
    except ValueError:  # not written as a date
        days = []
    if len(set(days)) < 2:
        days = list(range(len(dates)))
    return _Scale(min(ends) - room, max(ends) + room,
                  {at: (day - days[0]) / (days[-1] - days[0]) for at, day in zip(dates, days, strict=True)})  # fmt: skip


def _key(root: ET.Element, examiners: list[str], y: float) -> float:
    """Which shape is whose point; as many lines as it takes."""
    write(root, 24, y, "Examined by")
    x = 24 + text_width("Examined by") + 18
    for n, name in enumerate(examiners):
        lines = wrap(name or "not stated", WIDTH - 200)
        width = max(text_width(line) for line in lines) + 44
        if x + width > WIDTH - 24 and n:
            x, y = 24 + text_width("Examined by") + 18, y + 22
        _point(root, (x + 6, y - 5), n)
        for line in lines:
            write(root, x + 20, y, line)
            y += 18
        x, y = x + width, y - 18
    if len(examiners) > 1:
        y += 22
        element(root, "line", "found-line", x1=24, x2=56, y1=y - 5, y2=y - 5, stroke_width=1.4, stroke_dasharray="6 4")
        write(root, 64, y, "another examiner than before")
    return y + 22


def _plot(root: ET.Element, one: Series, scale: _Scale, examiners: list[str], left: float, top: float) -> float:
    """Add one plot; return how far down it and its words reach."""
    side = one.like[2]
    y = top + 18
    write(root, left, y, str(side).upper() if side else "SIDE NOT SAID", font_weight="bold")
    for part in wrap(_name(one), _COLUMN - 20):
        y += 18
        write(root, left, y, part)
    group = element(root, "g", f"plot {side or 'no-side'}")
    upper, lower = y + 14, y + 14 + _PLOT_HEIGHT
    start, end = left + _AXIS, left + _COLUMN - _MARGIN

    def at(value: float) -> float:
        return lower - (value - scale.low) / (scale.high - scale.low) * _PLOT_HEIGHT

    def across(classes: str, y: float, **more: str | float) -> None:
        element(group, "line", classes, x1=start, x2=end, y1=y, y2=y, stroke_width=1, **more)

    if band := band_of(one):
        first = one.points[0].value
        for width, name in ((band.outer, "band"), (band.inner, "pale")):
            height = at(first - width) - at(first + width)
            element(group, "rect", f"{name} error", x=start, y=at(first + width), width=end - start, height=height)
        across("soft-line", at(first), stroke_dasharray="2 4")
    if scale.low < 0 < scale.high:
        across("ink-line zero", at(0))
    across("soft-line", lower)
    places = [(start + 24 + scale.shares[p.at] * (end - start - 48), at(p.value)) for p in one.points]
    line = " ".join(f"{x:.2f},{y:.2f}" for x, y in places)
    element(group, "polyline", "bar-line", points=line, fill="none", stroke_width=2)
    written = start - 100.0
    for n, (point, (x, y)) in enumerate(zip(one.points, places, strict=True)):
        if n and point.examiner != one.points[n - 1].examiner:
            between = (places[n - 1][0] + x) / 2
            element(group, "line", "found-line examiner", x1=between, x2=between, y1=upper, y2=lower, stroke_width=1.4,
                    stroke_dasharray="6 4")  # fmt: skip
        _point(group, (x, y), examiners.index(plain(point.examiner)))
        write(group, x, y - 11, _say(one, point.value, short=True), font_size=13, text_anchor="middle")
        if x - written > 76:
            write(group, x, lower + 16, point.at[:10], "soft", font_size=12, text_anchor="middle")
            written = x
    y = lower + 22
    for text in (part for point in one.points for part in wrap(_changed(one, point), _COLUMN - 20, 13)):
        y += 17
        write(group, left, y, text, "soft", font_size=13)
    return y


def _point(parent: ET.Element, centre: tuple[float, float], examiner: int) -> None:
    """A point in the shape of its examiner; after four, the shapes begin anew, open."""
    x, y = centre
    classes = f"{'bar' if examiner % 8 < 4 else 'clear'} bar-line point"
    if examiner % 4 == 0:
        element(parent, "circle", classes, cx=x, cy=y, r=5, stroke_width=1.6)
        return
    corners = {
        1: ((-5, -5), (5, -5), (5, 5), (-5, 5)), 2: ((0, -6), (6, 5), (-6, 5)), 3: ((0, -7), (7, 0), (0, 7), (-7, 0)),
    }[examiner % 4]  # fmt: skip
    element(
        parent, "polygon", classes, points=" ".join(f"{x + dx:.2f},{y + dy:.2f}" for dx, dy in corners), stroke_width=1.6
    )


def _name(one: Series) -> str:
    """What was measured, how and in what unit, in words."""
    _, end, _, *where, mode, position, occasion, trial, _ = one.like
    name = MOVEMENTS.get(one.concept, one.concept.replace("_", " "))
    places = [str(word).replace("_", " ") for word in where if word and str(word) not in name.lower()]
    how = [mode, position, occasion, "" if trial is None else "mean" if trial == "mean" else f"trial {trial}"]
    ends = {"low": "lower end", "high": "upper end"}.get(str(end), "")
    what = " ".join([name[:1].upper() + name[1:], *places])
    words = [what, ends, *map(str, filter(None, how)), _UNITS.get(one.unit, one.unit)]
    return ", ".join(word for word in words if word)


def _say(one: Series, value: float, *, short: bool = False) -> str:
    """A value with its direction in words, never a bare sign. short: without what it is short of or beyond."""
    if one.unit == "deg" and one.concept in MOVEMENTS:
        return " ".join(in_words(one.concept, value).split(" ")[: 2 if short else None])
    words = f"{'minus ' if value < 0 else ''}{number(abs(value))}"
    return f"{words}°" if one.unit == "deg" else words


def _changed(one: Series, point: Point) -> str:
    change = f": {point.changed}" if point.changed else ""
    return f"{point.at}, {_say(one, point.value)}{change}"


def _sentences(rows: Sequence[dict[Side | None, Series]]) -> Iterator[str]:
    for pair in rows:
        for side, one in pair.items():
            said = "; ".join(f"{_changed(one, p)} ({plain(p.examiner) or 'examiner not stated'})" for p in one.points)
            yield f"{side.upper() if side else 'Side not said'}, {_name(one)}: {said}."
    yield from _bands(rows)
