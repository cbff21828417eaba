"""What a Kapandji score means in words, and where its readings differ.

Imports record and result.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from dictation.measurement.result import Measure, Source
from dictation.record import RecordField

SOURCE = Source("Kapandji, Clinical test of apposition and counter-apposition of the thumb, 1986 (abstract)", "verified")
STAGES = (
    "no opposition stage reached",
    "side of the middle phalanx of the index",
    "side of the distal phalanx of the index",
    "tip of the index",
    "tip of the middle finger",
    "tip of the ring finger",
    "tip of the little finger",
    "DIP crease of the little finger",
    "PIP crease of the little finger",
    "proximal crease of the little finger",
    "distal palmar crease",
)


def opposition_scores(fields: Iterable[RecordField]) -> Iterator[Measure]:
    """Give each Kapandji score as where the thumb reaches."""
    for field in fields:
        if field.concept != "kapandji_score" or field.value is None or field.value not in range(len(STAGES)):
            continue
        stage = int(field.value)
        notes = ["It counts only if the earlier stages are possible; crawling across the palm is no opposition."]
        if stage in (1, 2):
            notes.append("Another account gives 1 as proximal and 2 as middle phalanx.")
        if stage > 6:
            notes.append("Above 6 a higher score does not necessarily mean more opposition.")
        yield Measure(
            "kapandji", f"Kapandji {stage}: {STAGES[stage]}", (field.id,), "as scored", SOURCE,
            field.side, "thumb", float(stage), "{score}", tuple(notes),
        )  # fmt: skip
