"""Each movement against the other side and against a chosen table of normal ranges, and arcs.

Tables are named and never averaged; where others differ they are shown beside. Norms are lines to read by, not limits.
Imports movements, measurement_error, tables, result.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from dictation.measurement.measurement_error import within_error
from dictation.measurement.movements import MOVEMENTS, Movement, in_words
from dictation.measurement.result import Measure, Source, number
from dictation.measurement.tables import normal_ranges

ARITHMETIC = Source("Difference and percentage of the values measured", "common practice")
_ARCS = (
    ("wrist_flexion", "wrist_extension", "wrist flexion and extension"),
    ("wrist_radial_deviation", "wrist_ulnar_deviation", "radial and ulnar deviation"),
    ("forearm_pronation", "forearm_supination", "forearm rotation"),
    ("elbow_flexion", "elbow_extension", "elbow flexion and extension"),
    ("mcp_flexion", "mcp_extension", "MCP flexion and extension"),
    ("pip_flexion", "pip_extension", "PIP flexion and extension"),
    ("dip_flexion", "dip_extension", "DIP flexion and extension"),
    ("ip_flexion", "ip_extension", "IP flexion and extension"),
)


def _alike(one: Movement, other: Movement) -> bool:
    """Only like is set against like: digit, mode, position and occasion."""
    return (one.digit, one.mode, one.position, one.occasion) == (other.digit, other.mode, other.position, other.occasion)


def against_other_side(measured: Sequence[Movement]) -> Iterator[Measure]:
    """Give each movement measured on both sides alike: the difference, from the smaller side's view."""
    for right in measured:
        lefts = [m for m in measured if m.name == right.name and m.side == "left" and _alike(m, right)]
        twins = [m for m in measured if m.name == right.name and m.side == "right" and _alike(m, right)]
        if right.side != "right" or (len(lefts), len(twins)) != (1, 1):
            continue
        left = lefts[0]
        less, more = sorted((right, left), key=lambda m: m.degrees)
        gap = more.degrees - less.degrees
        label = MOVEMENTS[right.name]
        if gap == 0:
            text = f"{label}: {in_words(right.name, right.degrees)} on both sides"
        else:
            text = (
                f"{label}: {less.side} {in_words(less.name, less.degrees)}, {more.side} {in_words(more.name, more.degrees)}; "
                f"{number(gap)}° less on the {less.side}{_share(less, more)}, {within_error(gap)}"
            )
        notes = () if right.mode else ("Mode not stated.",)
        yield Measure(
            "range_against_other_side", text, (right.field, left.field), "larger side - smaller side; 100 x smaller / larger",
            ARITHMETIC, less.side if gap else None, right.digit, gap, "deg", notes,
        )  # fmt: skip


def _share(less: Movement, more: Movement) -> str:
    """The smaller in percent of the larger; a movement short of neutral has none."""
    return f", {number(100 * less.degrees / more.degrees)} percent" if less.degrees >= 0 and more.degrees > 0 else ""


def against_normal(measured: Sequence[Movement], table: str) -> Iterator[Measure]:
    """Give each movement against the table chosen: deficit in degrees and percent, with what other tables say."""
    for movement in measured:
        ranges = normal_ranges(movement.name, movement.digits)
        if table not in ranges:
            continue
        normal, source = ranges[table]
        deficit = normal - movement.degrees
        label = MOVEMENTS[movement.name]
        text = f"{label}: {in_words(movement.name, movement.degrees)} against {in_words(movement.name, normal)}"
        if deficit > 0:
            text += f"; {number(deficit)}° less"
            if normal > 0 and movement.degrees >= 0:
                text += f", {number(100 * movement.degrees / normal)} percent"
        elif deficit < 0:
            text += f"; {number(-deficit)}° more than the table's value, which a healthy adult can have"
        others = {key: value for key, (value, _) in ranges.items() if key != table and value != normal}
        notes = (f"Other tables give {_list(others)}.",) if others else ()
        yield Measure(
            "range_against_normal", text, (movement.field,), "normal - measured; 100 x measured / normal", source,
            movement.side, movement.digit, deficit, "deg", notes,
        )  # fmt: skip


def _list(values: Mapping[str, float]) -> str:
    """Each value with the tables that give it, the least first: shown beside, never averaged."""
    tables: dict[float, list[str]] = {}
    for key, value in sorted(values.items()):
        tables.setdefault(value, []).append(key)
    return ", ".join(f"{value:g}° ({' and '.join(tables[value])})" for value in sorted(tables))


def arcs(measured: Sequence[Movement]) -> Iterator[Measure]:
    """Give the arc of each joint whose two directions were measured once and alike."""
    for first, second, label in _ARCS:
        for one in measured:
            if one.name != first:
                continue
            twins = [m for m in measured if m.name == first and m.side == one.side and _alike(m, one)]
            pair = [m for m in measured if m.name == second and m.side == one.side and _alike(m, one)]
            if len(twins) == 1 and len(pair) == 1:
                arc = one.degrees + pair[0].degrees
                inputs = (one.field,) if one.field == pair[0].field else (one.field, pair[0].field)
                yield Measure(
                    "arc", f"Arc of {label}: {number(arc)}°", inputs, "sum of the two directions", ARITHMETIC,
                    one.side, one.digit, arc, "deg", () if one.mode else ("Mode not stated.",),
                )  # fmt: skip
