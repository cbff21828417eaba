"""What an examination for this purpose would speak of and nothing was said about: a prompt, never printed by itself.

A function of the draft, the lexicon and the purpose; what was found calls for more. Silence is not "not examined".
Imports record, lexicon entries, purposes and follow_ups.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from dictation.completeness.follow_ups import follow_ups, must_not_be_strained, strains
from dictation.completeness.purposes import AFTER_OPERATION, GENERAL, PURPOSES
from dictation.lexicon.entries import Concept, Lexicon
from dictation.record import NotMentioned, RecordField, Side

EXAMINATION = frozenset(["look", "feel", "move", "power", "function", "sensation", "circulation", "special_tests"])


def complete_examination(lexicon: Lexicon, purpose: str = GENERAL) -> tuple[tuple[Concept, str], ...]:
    """Return what an examination for a purpose mentions, each with its reason.

    For the general purpose the lexicon's core concepts in its order, else those of purposes.PURPOSES. Raises KeyError for an
    unknown purpose.
    """
    if purpose == GENERAL:
        return tuple((concept, concept.why or "") for concept in lexicon.concepts.values() if concept.core)
    return tuple((lexicon.concepts[name], why) for name, why in PURPOSES[purpose].items())


def not_mentioned(fields: Sequence[RecordField], lexicon: Lexicon, purpose: str = GENERAL) -> list[NotMentioned]:
    """Return what no field names: first what the findings call for, then the rest of the list, for each side examined.

    No stress, resisted or passive test is named for a side with an acute fracture, a fresh repair or a splint.
    """
    examined = [f for f in fields if f.part in EXAMINATION]
    if not examined:
        return []
    sides: list[Side | None] = [s for s in ("right", "left") if any(f.side == s for f in examined)]
    said = _said(fields, lexicon)
    operated = purpose == AFTER_OPERATION
    protected = {side for side in (*sides, None) if must_not_be_strained(fields, side, operated=operated)}
    out: dict[tuple[str, Side | None], NotMentioned] = {}
    for concept, side, why in [*_called_for(fields, lexicon), *_listed(lexicon, purpose, sides)]:
        if (concept.id, side) in said or (side in protected and strains(concept.id, concept.part)):
            continue
        out.setdefault((concept.id, side), NotMentioned(concept=concept.id, side=side, why=why))
    return list(out.values())


def _said(fields: Sequence[RecordField], lexicon: Lexicon) -> set[tuple[str, Side | None]]:
    said: set[tuple[str, Side | None]] = set()
    for f in fields:
        named: str | None = f.concept
        while named is not None and (named, f.side) not in said:
            said |= {(named, f.side), (named, None)}
            named = lexicon.concepts[named].counts_for if named in lexicon.concepts else None
    return said


def _called_for(fields: Sequence[RecordField], lexicon: Lexicon) -> Iterator[tuple[Concept, Side | None, str]]:
    for name, side, why in follow_ups(fields):
        if concept := lexicon.concepts.get(name):
            yield concept, side if "side" in concept.takes else None, why


def _listed(lexicon: Lexicon, purpose: str, sides: list[Side | None]) -> Iterator[tuple[Concept, Side | None, str]]:
    for concept, why in complete_examination(lexicon, purpose):
        sided = "side" in concept.takes and concept.part in EXAMINATION
        for side in sides if sided and sides else [None]:
            yield concept, side, why
