"""Opening of the thumb's MCP joint under ulnar collateral stress, against published criteria.

Imports record and result.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from dictation.measurement.result import Measure, Source, number
from dictation.record import RecordField

SOURCE = Source("Heyman 1997: over 30° in extension, or over 15° more than the other side (abstract)", "verified")
OPENING_DEG, DIFFERENCE_DEG, OTHER_OPENING_DEG = 30.0, 15.0, 35.0


def thumb_stress(fields: Iterable[RecordField]) -> Iterator[Measure]:
    """Give each thumb whose opening was measured: which criteria are met. Position and occasion must agree to compare sides."""
    opened = [f for f in fields if f.concept == "thumb_ucl_stress_test" and f.value is not None and f.unit == "deg" and f.side]
    for one in opened:
        others = [o for o in opened if o.side != one.side and (o.position, o.occasion) == (one.position, one.occasion)]
        assert one.value is not None
        criteria = [f"{number(one.value)}° " + ("over" if one.value > OPENING_DEG else "not over") + f" {OPENING_DEG:g}°"]
        inputs = [one.id]
        if len(others) == 1 and others[0].value is not None:
            gap = one.value - others[0].value
            if gap <= 0 and one.value <= OPENING_DEG:
                continue
            criteria.append(
                f"{number(gap)}° more than the {others[0].side}, "
                + ("over" if gap > DIFFERENCE_DEG else "not over")
                + f" {DIFFERENCE_DEG:g}°"
            )
            inputs.append(others[0].id)
        notes = ["A third of healthy people differ by 10° or more between sides (100 people, 2009)."]
        if OPENING_DEG < one.value <= OTHER_OPENING_DEG:
            notes.append(f"Another criterion is over {OTHER_OPENING_DEG:g}° (from memory).")
        if one.position is None:
            notes.append("Whether the joint was straight or flexed was not stated.")
        yield Measure(
            "thumb_ulnar_collateral", "Opening under stress: " + "; ".join(criteria), tuple(inputs),
            "measured; side - other side", SOURCE, one.side, "thumb", one.value, "deg", tuple(notes),
        )  # fmt: skip
