"""Words without marks, read twice: where the two readings disagree, the field asks to be checked.

What goes in: the fields of the reading that stands, with likely marks, and those of the words as they are. Fields belong
together where they name one concept by the same words. Adds flags; changes nothing else.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Sequence

from dictation.record import Flag, FlagCode, RecordField
from dictation.transcript import shortened

DOUBTS = {
    "side": (FlagCode.side_conflict, "side"),
    "status": (FlagCode.negation_unclear, "result"),
    "value": (FlagCode.number_unclear, "number"),
    "digit": (FlagCode.low_recognition, "finger"),
    "joint": (FlagCode.low_recognition, "joint"),
    "structure": (FlagCode.low_recognition, "place"),
    "severity": (FlagCode.low_recognition, "severity"),
    "mode": (FlagCode.low_recognition, "active or passive"),
}
"""What two readings may disagree on, the gravest first: its flag and its word in the message."""

NEAR = 1
"""So many words beside a statement a doubtful mark touches it; chosen by us."""


def flag_disagreement(stands: Sequence[RecordField], other: Sequence[RecordField], doubtful: Sequence[int] = ()) -> None:
    """Flag the fields that the other reading gives another side, result, number or place.

    doubtful: heard words before which a mark is as likely as none, in order; near one, a side that the other reading finds
    open is open.
    """
    by_concept: dict[str, list[RecordField]] = defaultdict(list)
    for f in other:
        by_concept[f.concept].append(f)
    for f in stands:
        near = [o for o in by_concept[f.concept] if _share_words(f, o)]
        unlike = next((key for key in DOUBTS if near and all(getattr(o, key) != getattr(f, key) for o in near)), None)
        if f.checked():
            continue
        open_side = next((flag for o in near for flag in o.flags if flag.code is FlagCode.side_conflict), None)
        if unlike is None and open_side is not None and _near_doubt(f, doubtful):
            f.flags.append(open_side)
        elif unlike is not None:
            code, word = DOUBTS[unlike]
            said = shortened(f.evidence[0].said)
            message = f'No stop or comma was heard or written; "{said}" can also be read with another {word}.'
            f.flags = [flag for flag in f.flags if flag.code is not code] + [Flag(code=code, level="check", message=message)]


def _share_words(a: RecordField, b: RecordField) -> bool:
    (i, j), (k, n) = a.evidence[0].words, b.evidence[0].words
    return i < n and k < j


def _near_doubt(f: RecordField, doubtful: Sequence[int]) -> bool:
    start, end = f.evidence[0].words
    at = bisect_left(doubtful, start - NEAR)
    return at < len(doubtful) and doubtful[at] <= end + NEAR
