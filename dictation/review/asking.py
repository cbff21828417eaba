"""What is asked of a field that is amended or added by hand, at a terminal or on a page, and how a name is searched for.

Imports amendment, record, lexicon, store and errors.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from dictation.errors import ReviewError
from dictation.lexicon.entries import Concept, Lexicon
from dictation.record import RecordField
from dictation.review.amendment import NUMBERS, amendable
from dictation.store.journal import Moment

_NUMBER_OR_STATUS = {"movement", "power", "strength", "score", "measure"}
"""Kinds whose status is empty where a number is given: amending the one empties the other."""

_FIRST = ("side", "digit", "joint", "structure", "aspect", "status")


def asked_keys(concept: Concept) -> list[str]:
    """Return what of a field can be amended, in the order it is asked; "number" stands for all of NUMBERS together."""
    keys = [key for key in amendable(concept) if key not in {*NUMBERS}]
    if "value" in amendable(concept):
        keys.insert(min(len(keys), keys.index("status") + 1 if "status" in keys else 1), "number")
    return keys


def keys_to_add(concept: Concept) -> list[str]:
    """Return what is asked of a field added by hand, in order."""
    allowed = amendable(concept)
    keys = [key for key in allowed if key in _FIRST] + (["number"] if "value" in allowed else [])
    return keys + [key for key in ("mode", "qualifier") if key in allowed]


def settle(changes: Mapping[str, Any], concept: Concept) -> dict[str, Any]:
    """Return changes with what follows from them: a number empties the status of a kind that has either, a status the number.

    Keys that the concept does not take are left out.
    """
    found = dict(changes)
    if concept.kind in _NUMBER_OR_STATUS and concept.statuses:
        if any(found.get(name) is not None for name in ("value", "low")):
            found["status"] = None
        elif found.get("status") is not None:
            found |= dict.fromkeys(NUMBERS)
    return {name: value for name, value in found.items() if name in amendable(concept)}


def bare_field(concept: Concept) -> RecordField:
    """Return the field of a concept with nothing said of it yet, for asking what it can be."""
    fixed = {"joint": concept.joint, "digit": concept.digit, "structure": concept.structure}
    return RecordField.model_validate({"id": "new", "part": concept.part, "concept": concept.id, **fixed})


def find_concepts(words: str, lexicon: Lexicon) -> list[Concept]:
    """Return the concepts with a spoken form that holds the letters given, those of that very name first."""
    words = words.strip().casefold()
    found = [c for c in lexicon.concepts.values() if any(words in form.text.casefold() for form in c.spoken)]
    return sorted(found, key=lambda c: (words != c.preferred.casefold(), words not in c.preferred.casefold(), c.preferred))


def plain_words(value: str) -> str:
    """Return a key or value of the record as it is shown: signs in words, "special_tests" as "special tests"."""
    signs = {"<": "less than", "<=": "at most", ">=": "at least", ">": "more than", "+": "plus", "-": "minus"}
    return signs.get(value, value.replace("_", " "))


def stated_time(text: str, now: Moment) -> str | None:
    """Return a local time as it is kept, "2025-03-04 14:30", None where nothing was typed. Raises ReviewError for another."""
    if not text.strip():
        return None
    try:
        time = datetime.strptime(text.strip(), "%Y-%m-%d %H:%M")
    except ValueError as err:
        raise ReviewError("Give a time as year-month-day hour:minute, as in 2025-03-04 14:30.") from err
    if time > now.local().replace(tzinfo=None):
        raise ReviewError("That time is still to come.")
    return f"{time:%Y-%m-%d %H:%M}"
