"""Lag against contracture: how much less a joint extends actively than passively.

Imports movements and result.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from dictation.measurement.movements import Movement, in_words
from dictation.measurement.result import Measure, Source, number

SOURCE = Source("Active against passive extension", "common practice")


def extension_lags(measured: Sequence[Movement]) -> Iterator[Measure]:
    """Give each joint whose extension was measured actively and passively alike: the lag, and the contracture beneath it."""
    for active in measured:
        if active.mode != "active" or not active.name.endswith("extension") or active.name == "wrist_extension":
            continue
        passive = [
            m
            for m in measured
            if m.mode == "passive"
            and (m.name, m.side, m.digit, m.position, m.occasion)
            == (active.name, active.side, active.digit, active.position, active.occasion)
        ]
        if len(passive) != 1:
            continue
        lag = passive[0].degrees - active.degrees
        contracture = max(0.0, -passive[0].degrees)
        joint = active.name.split("_")[0].upper() if active.name != "elbow_extension" else "Elbow"
        text = (
            f"{joint} extension: active {in_words(active.name, active.degrees)}, "
            f"passive {in_words(passive[0].name, passive[0].degrees)}; lag {number(max(lag, 0.0))}°, "
            f"contracture {number(contracture)}°"
        )
        notes = ("Active extension is more than passive; one of the two may be misheard or mismeasured.",) if lag < 0 else ()
        yield Measure(
            "extension_lag", text, (active.field, passive[0].field), "passive extension - active extension", SOURCE,
            active.side, active.digit, max(lag, 0.0), "deg", notes,
        )  # fmt: skip
