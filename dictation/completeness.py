"""What a complete examination would speak of and nothing was said about: a prompt, never printed by itself.

A function of the draft and the lexicon. Silence is not "not examined". Imports record and lexicon entries only.
"""

from __future__ import annotations

from collections.abc import Sequence

from dictation.lexicon.entries import Concept, Lexicon
from dictation.record import NotMentioned, RecordField

EXAMINATION = frozenset(["look", "feel", "move", "power", "function", "sensation", "circulation", "special_tests"])


def complete_examination(lexicon: Lexicon) -> tuple[Concept, ...]:
    """Return the concepts that a complete examination mentions, in the lexicon's order."""
    return tuple(concept for concept in lexicon.concepts.values() if concept.core)


def not_mentioned(fields: Sequence[RecordField], lexicon: Lexicon) -> list[NotMentioned]:
    """Return the core concepts that no field names, for each side that was examined."""
    examined = [f for f in fields if f.part in EXAMINATION]
    if not examined:
        return []
    sides = [s for s in ("right", "left") if any(f.side == s for f in examined)]
    said: set[tuple[str, str | None]] = set()
    for f in fields:
        named: str | None = f.concept
        while named is not None and (named, f.side) not in said:
            said.add((named, f.side))
            said.add((named, None))
            named = lexicon.concepts[named].counts_for if named in lexicon.concepts else None
    out: list[NotMentioned] = []
    for concept in complete_examination(lexicon):
        sided = "side" in concept.takes and concept.part in EXAMINATION
        for side in sides if sided and sides else [None]:
            if (concept.id, side) not in said:
                out.append(NotMentioned(concept=concept.id, side=side, why=concept.why or ""))  # type: ignore[arg-type]
    return out
