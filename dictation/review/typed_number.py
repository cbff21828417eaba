"""Numbers as a clinician types them, at a terminal or on a page: "20", "10 to 90", "lacks 20", "4+", "42 lb".

Imports amendment and lexicon.
"""

from __future__ import annotations

import re
from typing import Any

from dictation.lexicon.entries import Concept
from dictation.review.amendment import NUMBERS, UNITS

_NUMBER = r"(-?\d+(?:\.\d+)?)"
_UNIT_WORDS = {
    "deg": ("°", "deg", "degree", "degrees"), "kg": ("kg", "kilo", "kilos", "kilograms"),
    "[lb_av]": ("lb", "lbs", "pound", "pounds"), "s": ("s", "second", "seconds"),
    "mm": ("mm", "millimetre", "millimetres"), "mL": ("ml", "mL", "millilitres"),
    "cm": ("cm", "centimetre", "centimetres"), "d": ("d", "day", "days"), "{score}": ("points",),
}  # fmt: skip
_DIRECTIONS = {"lacks": -1.0, "beyond": 1.0}
COMPARATORS = {"<": "less than", "<=": "at most", ">=": "at least", ">": "more than"}
"""Comparator -> the words for it, as typed and as printed."""

_COMPARING = {words: sign for sign, words in COMPARATORS.items()}


def read_number(text: str, concept: Concept) -> dict[str, Any] | None:
    """Return the number keys of a field from an answer such as "20", "10 to 90", "less than 2", "lacks 20",
    "4+", "42 lb".

    None where it cannot be read. A bare minus is read as it stands; "lacks" and "beyond" say the direction of
    an extension. All of NUMBERS are in the result, so that what the field held before is replaced as a whole.
    """
    found: dict[str, Any] = dict.fromkeys(NUMBERS)
    text = text.strip().casefold()
    for words, sign in sorted(_COMPARING.items(), key=lambda item: -len(item[0])):
        if text.startswith(words + " "):
            found["comparator"], text = sign, text.removeprefix(words).strip()
    factor = 1.0
    for word, sign_of in _DIRECTIONS.items():
        if text.startswith(word + " "):
            if not concept.id.endswith("_extension"):
                return None
            factor, text = sign_of, text.removeprefix(word).strip()
    found["unit"] = concept.unit
    for unit in UNITS.get(concept.unit or "", ()):
        for word in sorted(_UNIT_WORDS[unit], key=len, reverse=True):
            if text.endswith(word.casefold()):
                found["unit"], text = unit, text[: -len(word)].strip()
                break
    if match := re.fullmatch(_NUMBER + r"\s*(?:to|-|–)\s*" + _NUMBER, text):
        if "range" not in concept.takes or factor < 0:
            return None
        found["low"], found["high"] = float(match[1]), float(match[2])
        return found
    match = re.fullmatch(_NUMBER + r"\s*(\+|-|−|plus|minus)?(?:\s*(?:out of|/)\s*\d+)?", text)
    if match is None or (match[2] and concept.kind != "power") or (factor < 0 and match[1].startswith("-")):
        return None
    found["value"] = factor * float(match[1]) + 0.0
    if match[2]:
        found["grade_sign"] = "+" if match[2] in {"+", "plus"} else "-"
    return found


def number_examples(concept: Concept) -> str:
    """Return what may be typed for a number of a concept, as examples with commas between them."""
    examples = {"deg": "45", "{score}": "4", "kg": "24, 42 lb", "s": "less than 2"}.get(concept.unit or "", "8")
    if "range" in concept.takes:
        examples += ", 10 to 90"
    if concept.id.endswith("_extension"):
        examples += ", lacks 20, beyond 10"
    if concept.kind == "power":
        examples += ", 4+"
    return examples
