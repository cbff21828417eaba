"""Bars of each measured movement, right against left, with the normal value of one chosen table behind them.

One scale for all rows, in degrees; what lies short of neutral goes to the other side of zero. Every number stands in words
beside its bar. Imports measurement, record and svg.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from dictation.measurement.movements import MOVEMENTS, Movement, in_words, movements
from dictation.measurement.result import Source
from dictation.measurement.tables import RANGE_SOURCES, normal_ranges
from dictation.pictures.svg import Picture, element, finish, new, wrap, write
from dictation.record import RecordField, Side

WIDTH = 1000.0
_LEFT, _RIGHT = 300.0, 700.0
"""Between these lie the bars; names before, numbers after."""
_BAR = 14.0
_SIDES: tuple[Side | None, ...] = ("right", "left", None)
NOT_SAID = "side not said"
_COMPARED = {"<": "less than ", "<=": "at most ", ">=": "at least ", ">": "more than "}


@dataclass(frozen=True, slots=True)
class Row:
    """One movement measured one way: its values, what is written of each, and the normal one where the table has it."""

    label: str
    values: tuple[Movement, ...]
    said: tuple[str, ...]
    normal: float | None


def movement_bars(fields: Iterable[RecordField], source: str) -> Picture:
    """Return the bars of every movement measured in degrees.

    source: a key of ``RANGE_SOURCES`` (measurement/tables.py), KeyError for any other. Rejected fields are left out; how far
    a value is from the normal one is said only of confirmed values, since nothing is worked out from others.
    """
    given = {field.id: field for field in fields}
    cited = RANGE_SOURCES[source]
    rows = _rows(given, source)
    scale = _Scale([degree for row in rows for degree in (*(m.degrees for m in row.values), row.normal) if degree is not None])
    root = new("bars", "Measured movements, right against left, in degrees", WIDTH)
    y = _head(root, cited, scale, bool(rows))
    for row in rows:
        y = _draw_row(root, row, scale, y)
    if rows:
        _ticks(root, scale, y)
    return finish(root, y + 26, list(_sentences(rows, cited)))


class _Scale:
    """Degrees to the page."""

    def __init__(self, degrees: list[float]) -> None:
        self.low = min(-10.0, *degrees, -10.0) // 10 * 10
        self.high = -(-max(90.0, *degrees, 90.0) // 10) * 10

    def x(self, degrees: float) -> float:
        return _LEFT + (_RIGHT - _LEFT) * (degrees - self.low) / (self.high - self.low)


def _rows(given: Mapping[str, RecordField], source: str) -> list[Row]:
    """Like beside like, in the order in which they were first said."""
    alike: dict[tuple[str | None, ...], list[Movement]] = {}
    for m in movements(given.values()):
        alike.setdefault((m.name, m.digit, m.mode, m.position, m.occasion), []).append(m)
    rows = []
    for found in alike.values():
        values = sorted(found, key=lambda m: _SIDES.index(m.side))
        normal = _normal(found[0], source)
        rows.append(Row(_label(found[0]), tuple(values), tuple(_say(m, given[m.field], normal) for m in values), normal))
    return rows


def _label(m: Movement) -> str:
    name = MOVEMENTS[m.name]
    digit = m.digit if m.digit and m.digit not in name else None
    words = [f"{digit} {name}" if digit else name, m.mode or "mode not stated", m.position, m.occasion]
    text = ", ".join(word for word in words if word)
    return text[:1].upper() + text[1:]


def _normal(m: Movement, source: str) -> float | None:
    found: tuple[float, Source] | None = normal_ranges(m.name, m.digits).get(source)
    return found[0] if found else None


def _head(root: ET.Element, cited: str, scale: _Scale, any_rows: bool) -> float:
    y = 22.0
    if not any_rows:
        write(root, 24, y, "No movement was measured in degrees.")
        return y
    for part in wrap(f"Pale bar behind: normal value, {cited}.", WIDTH - 48, 14):
        write(root, 24, y, part, "soft", font_size=14)
        y += 18
    element(root, "rect", "bar bar-line", x=24, y=y - 8, width=26, height=_BAR - 2, stroke_width=1.4)
    write(root, 56, y + 3, "RIGHT", font_size=14)
    element(root, "rect", "clear bar-line", x=120, y=y - 8, width=26, height=_BAR - 2, stroke_width=1.4)
    write(root, 152, y + 3, "LEFT", font_size=14)
    write(root, scale.x(0) - 8, y + 3, "short of neutral", "soft", font_size=13, text_anchor="end")
    write(root, scale.x(0) + 8, y + 3, "degrees", "soft", font_size=13)
    return y + 16


def _draw_row(root: ET.Element, row: Row, scale: _Scale, y: float) -> float:
    label = wrap(row.label + ("" if row.normal is not None else " (no normal value in this table)"), _LEFT - 40)
    texts = [wrap(said, WIDTH - _RIGHT - 28, 14) for said in row.said]
    heights = [max(22.0, 17.0 * len(text) + 5) for text in texts]
    height = max(sum(heights), 18.0 * len(label)) + 14
    element(root, "line", "rule-line", x1=24, x2=WIDTH - 24, y1=y, y2=y, stroke_width=1)
    for n, part in enumerate(label):
        write(root, 24, y + 22 + 18 * n, part)
    zero = scale.x(0)
    if row.normal is not None:
        edge = scale.x(row.normal)
        element(root, "rect", "pale normal", x=min(zero, edge), y=y + 4, width=abs(edge - zero), height=height - 8)
        element(root, "line", "soft-line normal", x1=edge, x2=edge, y1=y + 4, y2=y + height - 4, stroke_width=2,
                stroke_dasharray="3 2")  # fmt: skip
    element(root, "line", "ink-line", x1=zero, x2=zero, y1=y, y2=y + height, stroke_width=1.2)
    top = y + 7
    for m, text, tall in zip(row.values, texts, heights, strict=True):
        if m.side is not None:
            edge = scale.x(m.degrees)
            fill = "bar" if m.side == "right" else "clear"
            element(
                root, "rect", f"{fill} bar-line {m.side}", x=min(zero, edge), y=top + 3, width=max(abs(edge - zero), 1.5),
                height=_BAR, stroke_width=1.4, data_field=m.field,
            )  # fmt: skip
        for n, part in enumerate(text):
            write(root, _RIGHT + 16, top + 15 + 17 * n, part, font_size=14)
        top += tall
    return y + height


def _ticks(root: ET.Element, scale: _Scale, y: float) -> None:
    element(root, "line", "rule-line", x1=24, x2=WIDTH - 24, y1=y, y2=y, stroke_width=1)
    step = 30 if scale.high - scale.low <= 240 else 90
    degrees = int(-(-scale.low // step) * step)
    while degrees <= scale.high:
        x = scale.x(degrees)
        element(root, "line", "soft-line tick", x1=x, x2=x, y1=y, y2=y + 5, stroke_width=1)
        write(root, x, y + 18, f"{abs(degrees)}°", "soft tick", font_size=12, text_anchor="middle")
        degrees += step


def _say(m: Movement, field: RecordField, normal: float | None) -> str:
    """The value of one side in words, with how far it is from normal: "RIGHT 55°, 15° less than normal 70°"."""
    side = m.side.upper() if m.side else NOT_SAID
    text = f"{side} {_COMPARED.get(field.comparator or '', '')}{in_words(m.name, m.degrees)}"
    if field.decision not in ("confirmed", "amended"):
        return f"{text}, not confirmed"
    if normal is None or field.comparator:
        return text
    less = normal - m.degrees
    if less > 0:
        return f"{text}, {less:g}° less than normal {in_words(m.name, normal)}"
    return f"{text}, normal {in_words(m.name, normal)}"


def _sentences(rows: list[Row], cited: str) -> Iterator[str]:
    if not rows:
        yield "No movement was measured in degrees."
        return
    yield f"Normal values: {cited}."
    for row in rows:
        behind = "" if row.normal is not None else "; no normal value in this table"
        yield f"{row.label}: {'; '.join(row.said)}{behind}."
