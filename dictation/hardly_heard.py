"""Statements whose words were hardly heard, told from the others: they are shown as unplaced speech, and are no fields.

In talk, a crowd or loud noise a recogniser finds findings that nobody said. What was heard so badly is better asked for by its
sound than offered to be confirmed. A statement heard well stays one, whatever else is doubtful in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dictation.confidence import Support, heard_confidence, support
from dictation.record import RecordField, Sound, Unplaced
from dictation.transcript import Transcript

LEAST_HEARD = 0.74
"""Confidence from hearing alone under which a statement is not taken for one."""
WELL_HEARD, LEAST_SURE = 0.87, 0.45
"""Nor is one between the two whose confidence, other doubts with it, is under LEAST_SURE: no side, say. On our tuning voices
all this takes no right one of 335 clean, one of 265 in a fan's noise, 6 of 178 in a tiled room, 29 of 42 in white at 10 dB;
of wrong or invented ones 83 of 219, nearly all in babble, talk, white noise and a robotic voice (tests/benchmarks)."""
REASON = "its words were hardly heard; listen, and add by hand what was said"


def without_hardly_heard(
    fields: Sequence[RecordField], heard: Transcript, sound: Sound | None
) -> tuple[list[RecordField], list[Unplaced]]:
    """Return the fields heard well enough, all of them where the words were typed; and what the others were heard as."""
    over_noise_db = None if sound is None else sound.over_noise_db
    kept, left = list[RecordField](), dict[tuple[int, int], Unplaced]()
    for field in fields:
        found = support(field, heard, over_noise_db)
        if found is None or _is_heard(found):
            kept.append(field)
            continue
        begin, end = field.evidence[0].words
        words = heard.words[begin:end]
        text = " ".join(word.said for word in words)
        left[begin, end] = Unplaced(text=text, start=words[0].start, end=words[-1].end, reason=REASON)
    return kept, list(left.values())


def _is_heard(found: Support) -> bool:
    hearing = heard_confidence(replace(found, doubts=0))
    return hearing >= LEAST_HEARD and (hearing >= WELL_HEARD or heard_confidence(found) >= LEAST_SURE)
