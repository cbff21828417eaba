"""Which fields may be confirmed together: plain negatives and normals, by part of the examination and side.

Never a positive, a number, a copy, an expansion, an impression, a plan, what the patient reported, or a field
with a doubt. Imports record and lexicon.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from dictation.lexicon.entries import Lexicon
from dictation.record import FlagCode, RecordField

WORDS_PER_MINUTE = 238
_SINGLY = {"context", "reported", "impression", "plan"}
_NEVER = {FlagCode.copied_side, FlagCode.expanded, FlagCode.self_corrected}
DETAILS = (
    "value",
    "low",
    "high",
    "comparator",
    "grade_sign",
    "trial",
    "severity",
    "certainty",
    "qualifier",
    "position",
    "occasion",
)


def negative(field: RecordField, lexicon: Lexicon) -> bool:
    """Return whether the status of a field is the ordinary one: not present, negative, or normal.

    "Absent" is ordinary for what may be present (swelling), not for what should be there (a pulse,
    sensation).
    """
    if field.status in {"negative", "normal"}:
        return True
    concept = lexicon.concepts.get(field.concept)
    return field.status == "absent" and concept is not None and "present" in concept.statuses


def plain_negative(field: RecordField, lexicon: Lexicon) -> bool:
    """Return whether a field may be confirmed in a group."""
    return (
        field.part not in _SINGLY
        and negative(field, lexicon)
        and not field.checked()
        and not any(flag.code in _NEVER for flag in field.flags)
        and all(getattr(field, key) is None for key in DETAILS)
    )


def group_fields(fields: Iterable[RecordField], lexicon: Lexicon) -> list[list[RecordField]]:
    """Return the groups of at least two that may be decided together, each of one part and side, in the order
    given.
    """
    groups: dict[tuple[str, str | None], list[RecordField]] = {}
    for field in fields:
        if plain_negative(field, lexicon):
            groups.setdefault((field.part, field.side), []).append(field)
    return [group for group in groups.values() if len(group) > 1]


def reading_time_s(sentences: Sequence[str]) -> float:
    """Return the seconds below which nobody has read the sentences: half of what silent reading takes.

    Source: Brysbaert M. How many words do we read per minute? J Mem Lang 2019; 109: 104047 (238 words a minute, English
    non-fiction); half of it because these sentences are short and alike: common practice, no source.
    """
    return sum(len(sentence.split()) for sentence in sentences) / WORDS_PER_MINUTE * 60 / 2
