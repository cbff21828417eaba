"""One reference on several dates: every measured value as a series, only like set against like.

A series holds one concept at one place, measured one way (mode, position, occasion, unit). Nothing is filled in: a
date without the value has none. Imports record, measurement_error and result.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dictation.measurement.measurement_error import within_error
from dictation.measurement.result import number
from dictation.measurement.strength import MEANINGFUL_KG, kilograms
from dictation.record import RecordField


@dataclass(frozen=True, slots=True)
class Visit:
    """The confirmed fields of one date. at: ISO 8601; examiner: who examined, as recorded."""

    at: str
    examiner: str
    fields: tuple[RecordField, ...]


Like = tuple[str | int | None, ...]
"""What makes two values comparable: concept, place, mode, position, occasion, trial, device or level said, unit."""

DEVICES = frozenset({
    "dynamometer", "handle", "sphygmomanometer", "bulb", "gauge", "goniometer", "inclinometer", "volumeter", "tape", "ruler",
    "caliper", "clip", "discriminator", "app",
})  # fmt: skip
"""Words that name what something was measured with, or how it was set: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Point:
    """One value of a series. changed: against the point before, in words, "" for the first."""

    at: str
    value: float
    examiner: str
    field: str
    changed: str


@dataclass(frozen=True, slots=True)
class Series:
    """Comparable values in order of date."""

    like: Like
    concept: str
    unit: str
    points: tuple[Point, ...]


def _like(field: RecordField, unit: str, end: str) -> Like:
    place = (field.concept, end, field.side, field.digit, field.joint, field.structure, field.aspect)
    return (*place, field.mode, field.position, field.occasion, field.trial, _measured_with(field), unit)


def _measured_with(field: RecordField) -> str | None:
    """The words said of the device, or of the level of a girth; other words say nothing of how a value was got."""
    said = (field.qualifier or "").casefold()
    named = field.concept == "limb_circumference" or not DEVICES.isdisjoint(said.split())
    return said if said and named else None


def over_time(visits: Sequence[Visit]) -> list[Series]:
    """Return each value measured at two dates or more. A value said twice at one date alike is left out of that date."""
    found: dict[Like, dict[str, list[tuple[float, str, str]]]] = {}
    names: dict[Like, tuple[str, str]] = {}
    for visit in sorted(visits, key=lambda v: v.at):
        for field in visit.fields:
            if field.comparator or field.part in ("context", "plan", "impression") or field.decision == "rejected":
                continue
            for end, value in (("", field.value), ("low", field.low), ("high", field.high)):
                if value is None or field.unit is None:
                    continue
                kg = kilograms(field) if end == "" else None
                unit, shown = ("kg", kg) if kg is not None else (field.unit, value)
                key = _like(field, unit, end)
                names[key] = (field.concept, unit)
                found.setdefault(key, {}).setdefault(visit.at, []).append((shown, visit.examiner, field.id))
    out = []
    for key, dates in found.items():
        single = [(at, *values[0]) for at, values in sorted(dates.items()) if len(values) == 1]
        if len(single) < 2:
            continue
        points = []
        for n, (at, value, examiner, name) in enumerate(single):
            before = single[n - 1] if n else None
            changed = "" if before is None else _change(names[key][1], before[1], value, before[2] == examiner)
            points.append(Point(at, value, examiner, name, changed))
        out.append(Series(key, *names[key], tuple(points)))
    return out


def _change(unit: str, before: float, now: float, same_examiner: bool) -> str:
    gap = now - before
    word = f"{number(abs(gap))} {'more' if gap > 0 else 'less'}" if gap else "no change"
    other = "" if same_examiner else ", another examiner"
    if not gap:
        return word + other
    if unit == "deg":
        return f"{word}, {within_error(gap, same_examiner=same_examiner)}{other}"
    if unit == "kg":
        low, high = MEANINGFUL_KG
        share = "below" if abs(gap) < low else "within" if abs(gap) <= high else "above"
        return f"{word}, {share} the {low:g} to {high:g} kg suggested as a change that matters{other}"
    return word + other
