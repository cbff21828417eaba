"""What stands beside a field in the sound and was not understood: it may have belonged to the field, or changed its side.

A recogniser that does not know a word hears another in its place: "a scar in the palm" as "a scar in the time". The field is
then right as far as it goes and lacks its place, with every word of it sure. On sound alone; typed words are as they are.
Pure; adds nothing itself. Imports record and transcript.
"""

from __future__ import annotations

from collections.abc import Sequence

from dictation.record import FlagCode, RecordField
from dictation.transcript import CorrectedTranscript, Transcript

LEADS_TO_A_PLACE = frozenset({"in", "at", "over", "on", "around", "along", "across", "behind", "below", "above", "to"})
PASSED_OVER = frozenset({"the", "a", "an", "his", "her", "their", "my", "this", "that", "both", "either", "each"})
CONCLUDED = frozenset({"impression", "plan"})
SIDES = frozenset({"left", "right"})
HARDLY_HEARD = 0.5
HARDLY_HEARD_TOGETHER = 3
"""So many words in a row, each less sure than that, may have been anything, a side among it. Both chosen on our synthetic
voices (tests/benchmarks): fewer words flag every later field of a clean recording."""


def words_used(fields: Sequence[RecordField]) -> frozenset[int]:
    """Return the indices of the heard words that any field rests on."""
    return frozenset(k for f in fields for e in f.evidence for k in range(*e.words))


def place_not_understood(f: RecordField, used: frozenset[int], transcript: CorrectedTranscript) -> str | None:
    """Return the words after a field's statement that lead to a place and became part of no field; None where there are none.

    used: see words_used.
    """
    heard = transcript.heard
    if f.structure or not f.evidence:
        return None
    at = f.evidence[0].words[1]
    if not _goes_on(heard, at) or _plain(heard, at) not in LEADS_TO_A_PLACE or at in used:
        return None
    end = at + 1
    while _goes_on(heard, end) and _plain(heard, end) in PASSED_OVER:
        end += 1
    if not _goes_on(heard, end) or end in used or _plain(heard, end) in SIDES:
        return None
    return " ".join(word.said for word in heard.words[at : end + 1])


def hardly_heard_after(f: RecordField, transcript: CorrectedTranscript) -> str | None:
    """Return the word that goes on after a field's statement where it was hardly heard, else None.

    "Less than two seconds in the ring finger" may be heard as "but the ring finger", a "correction" as "collection".
    """
    heard = transcript.heard
    at = f.evidence[0].words[1] if f.evidence else len(heard.words)
    if not _goes_on(heard, at):
        return None
    word = heard.words[at]
    return word.said if word.probability is not None and word.probability < HARDLY_HEARD else None


def hardly_heard_before(f: RecordField, used: frozenset[int], transcript: CorrectedTranscript) -> str | None:
    """Return the words right before a field's statement, in the same breath and in no field, where they were hardly heard.

    "Active elbow flexion" may be heard as "elbow I to flexion": the field then lacks its "active".
    """
    heard = transcript.heard
    end = start = f.evidence[0].words[0] if f.evidence else 0
    while start > 0 and start not in heard.breaks and start - 1 not in used and _hardly(heard, start - 1):
        start -= 1
    return " ".join(word.said for word in heard.words[start:end]) or None


def amid_the_examination(fields: Sequence[RecordField], transcript: CorrectedTranscript) -> list[RecordField]:
    """Return the plans heard alone between two findings: "right index" may be heard as "right injection"."""
    out = []
    for before, f, after in zip(fields, fields[1:], fields[2:], strict=False):
        heard = transcript.heard.words[f.evidence[0].words[0]].probability is not None if f.evidence else False
        if heard and f.part == "plan" and not CONCLUDED & {before.part, after.part}:
            out.append(f)
    return out


def side_may_have_changed(f: RecordField, transcript: CorrectedTranscript) -> bool:
    """Whether sound that was not understood lies between a field and the word that gave it its side."""
    if not any(flag.code is FlagCode.side_carried for flag in f.flags):
        return False
    heard = transcript.heard
    statement = f.evidence[0].words[0]
    given = max((e.words[1] for e in f.evidence if e.role == "side" and e.words[1] <= statement), default=None)
    if given is None:
        return False
    doubtful = [w.probability is not None and w.probability < HARDLY_HEARD for w in heard.words[given:statement]]
    if any(all(doubtful[i : i + HARDLY_HEARD_TOGETHER]) for i in range(len(doubtful) - HARDLY_HEARD_TOGETHER + 1)):
        return True
    start, end = heard.words[given - 1].end, heard.words[statement].start
    return start is not None and end is not None and any(start <= u.start and u.end <= end for u in heard.unread)


def _hardly(heard: Transcript, at: int) -> bool:
    probability = heard.words[at].probability
    return probability is not None and probability < HARDLY_HEARD


def _goes_on(heard: Transcript, at: int) -> bool:
    """Whether a word follows in the same breath, on sound."""
    return at < len(heard.words) and at not in heard.breaks and heard.words[at].probability is not None


def _plain(heard: Transcript, at: int) -> str:
    return heard.words[at].said.strip('.,;:?!()"').lower()
