"""The note in plain words, for the patient: what things are called, and how they are said, from lexicon/plain.yaml.

The statements are those of the record and no others. A concept that has no plain name, such as one of a clinic's own,
stands in the clinical words that were confirmed. Imports places and wording.
"""

from __future__ import annotations

from collections.abc import Mapping

from dictation.lexicon.entries import Concept, Lexicon
from dictation.note.places import CLINICAL, PlaceNames
from dictation.note.wording import Words

MODES = {"active": "moved by you", "passive": "moved for you"}


def plain_words(lexicon: Lexicon) -> Words:
    """Return the plain words of a lexicon."""
    patterns: dict[str, dict[str, str]] = {}
    for key, pattern in lexicon.plain.get("patterns", {}).items():
        of, _, status = key.rpartition(".")
        patterns.setdefault(of, {})[status] = pattern

    def pattern_of(concept: Concept, _: Lexicon) -> Mapping[str, str]:
        return {**patterns.get(concept.kind, {}), **patterns.get(concept.id, {})}

    places = PlaceNames(
        CLINICAL.digits,
        {**CLINICAL.joints, **lexicon.plain.get("joints", {})},
        {**CLINICAL.aspects, **lexicon.plain.get("aspects", {})},
        lexicon.plain.get("structures", {}),
    )
    return Words(pattern_of, places, "It may be", lexicon.plain.get("names", {}), MODES, True, "PUT DOWN BY MISTAKE")
