"""What a two-point distance or a filament means by published bands.

Imports record and result.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from dictation.measurement.result import Measure, Source, number
from dictation.record import RecordField

TWO_POINT = Source("American Society for Surgery of the Hand, The Hand: Examination and Diagnosis, 1990", "published")
MOVING = Source("Dellon, The moving two-point discrimination test, 1978", "published")
FILAMENTS = Source(
    "Monofilament target forces and thresholds, table 1 of an open-access clinical study (PMC7873561)", "verified"
)

FORCE_G = {
    1.65: 0.008, 2.36: 0.02, 2.44: 0.04, 2.83: 0.07, 3.22: 0.16, 3.61: 0.4, 3.84: 0.6, 4.08: 1.0, 4.17: 1.4, 4.31: 2.0,
    4.56: 4.0, 4.74: 6.0, 4.93: 8.0, 5.07: 10.0, 5.18: 15.0, 5.46: 26.0, 5.88: 60.0, 6.10: 100.0, 6.45: 180.0, 6.65: 300.0,
}  # fmt: skip
"""Target force in grams by filament marking, as tabulated; the log rule gives other values from 6.10 on."""

_BANDS = (
    (2.83, "normal"),
    (3.61, "diminished light touch"),
    (4.31, "diminished protective sensation"),
    (6.45, "loss of protective sensation"),
    (6.65, "deep pressure only"),
)


def static_band(mm: float) -> str:
    """Return the category of a static distance at a fingertip in mm: below 6, 6 to 10, 11 to 15, and beyond."""
    if mm < 6:
        return "normal"
    return "fair" if mm <= 10 else "poor" if mm <= 15 else "beyond the published bands"


def filament_band(marking: float) -> str | None:
    """Return the band of a filament marking, None where it is none of the set."""
    if marking not in FORCE_G:
        return None
    return next(band for highest, band in _BANDS if marking <= highest)


def sensory_bands(fields: Iterable[RecordField]) -> Iterator[Measure]:
    """Give each two-point distance and filament with its band."""
    for field in fields:
        if field.value is None or field.status == "not_assessed":
            continue
        value, notes = field.value, []
        if field.concept == "static_two_point_discrimination" and field.unit == "mm":
            kind, text, source = "two_point", f"Static two-point {number(value)} mm: {static_band(value)}", TWO_POINT
            if 10 < value < 11:
                notes.append("The bands leave 10 to 11 mm open.")
        elif field.concept == "moving_two_point_discrimination" and field.unit == "mm":
            said = "within 3 mm, normal" if value <= 3 else "above 3 mm"
            kind, text, source = "two_point", f"Moving two-point {number(value)} mm: {said}", MOVING
        elif field.concept == "monofilament_threshold" and (band := filament_band(value)):
            kind, text, source = "monofilament", f"Filament {value:g}, {FORCE_G[value]:g} g as tabulated: {band}", FILAMENTS
            if value == 6.65:
                notes.append("Another source calls it loss of protective sensation.")
        else:
            continue
        if field.comparator:
            notes.append("Said with less or more than: the band is of the number itself.")
        yield Measure(
            kind, text, (field.id,), "band of the value", source, field.side, field.digit, value, field.unit, tuple(notes)
        )
