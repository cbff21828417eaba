"""A draft in which another examination begins: said at drafting, and refused wherever a draft goes into an encounter.

Imports record and errors.
"""

from __future__ import annotations

from pathlib import Path

from dictation.errors import InputError
from dictation.record import DraftRecord


def how_to_part(draft: DraftRecord, file: Path | None) -> str:
    """Return what to do with a draft of several examinations. file: the draft's, None where it has none to name."""
    if draft.source.recogniser == "text":
        return "put each into a text file of its own, and draft those"
    if file is None:
        return "dictation bulk and dictation split part a recording; or record each by itself"
    return f"dictation split {file} parts them, and dictation bulk drafts each"


def refuse_several(draft: DraftRecord, count: int, name: str, file: Path | None = None) -> None:
    """Raise InputError where a draft speaks of several examinations: two patients never go into one encounter.

    count: how many it speaks of, see marks.examinations. name: what was drafted, for the message.
    """
    if count > 1:
        raise InputError(
            f"{name} speaks of {count} examinations, and is not taken into the store as one; {how_to_part(draft, file)}."
        )
