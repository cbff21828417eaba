"""The therapist's lengths and volumes against the other side: girth, volume, web span, pulp to palm.

Only what was measured alike is compared: the level of a girth is part of its place. Imports result and record.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from dictation.measurement.result import Measure, Source, number
from dictation.record import RecordField

SIZES = {
    "limb_circumference": "Circumference",
    "hand_volume": "Hand volume",
    "first_web_span": "First web span",
    "pulp_to_palm_distance": "Pulp to palm",
}
SOURCE = Source("Difference and percentage of the values measured", "common practice")
DOMINANT = "The dominant hand is slightly larger (common practice, no source); same method and time of day."
_FACTOR = {"cm": 10.0, "mm": 1.0, "mL": 1.0}
"""Millimetres or millilitres in a unit."""


def like(field: RecordField) -> tuple[str | None, ...]:
    """Return what two sizes must share to be compared: place, mode, position, occasion, and the words said of how or where."""
    return (
        field.concept, field.digit, field.joint, field.structure, field.aspect, field.mode, field.position, field.occasion,
        field.qualifier,
    )  # fmt: skip


def sizes_against_other_side(fields: Iterable[RecordField]) -> Iterator[Measure]:
    """Give each size measured once on either side alike: the difference, and the smaller in percent of the larger."""
    given = (field for field in fields if field.concept in SIZES and field.side and field.unit in _FACTOR)
    sized = [field for field in given if field.value is not None and not field.comparator]
    for right in sized:
        alike = {side: [f for f in sized if f.side == side and like(f) == like(right)] for side in ("right", "left")}
        if right.side != "right" or [len(found) for found in alike.values()] != [1, 1]:
            continue
        left = alike["left"][0]
        less, more = sorted((right, left), key=_plain)
        gap, unit = _plain(more) - _plain(less), right.unit or ""
        shown = f"{number(gap / _FACTOR[unit])} {unit}"
        text = f"{SIZES[right.concept]}: " + (
            f"{shown} less on the {less.side}, {number(100 * _plain(less) / _plain(more))} percent of the {more.side}"
            if gap
            else "the same on both sides"
        )
        yield Measure(
            "size_against_other_side", text, (right.id, left.id), "larger - smaller; 100 x smaller / larger", SOURCE,
            less.side if gap else None, right.digit, gap / _FACTOR[unit], unit,
            (DOMINANT,) if right.concept in ("limb_circumference", "hand_volume") else (),
        )  # fmt: skip


def _plain(field: RecordField) -> float:
    """The size in millimetres or millilitres."""
    return (field.value or 0.0) * _FACTOR[field.unit or ""]
