"""The questions behind amending a field and adding one by hand; every answer is checked against the lexicon.

Takes ``ask`` and ``show``; gives the changes as a mapping, or None where the person thinks better of it (an
empty answer). Decides nothing and writes nothing. Imports amendment, showing, note.wording, lexicon, record.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from dictation.lexicon.entries import Concept, Lexicon
from dictation.note.numbers import COMPARATORS
from dictation.note.printable import printable
from dictation.record import RecordField
from dictation.review.amendment import NUMBERS, UNITS, amendable, choices
from dictation.terminal.showing import Tone

Ask = Callable[[str], str]
Show = Callable[[str, Tone], None]

NONE = "none"
"""The word for "this does not apply", never assumed from an empty answer."""

_NUMBER_OR_STATUS = {"movement", "power", "strength", "score", "measure"}
"""Kinds whose status is empty where a number is given: amending the one empties the other."""

_NUMBER = r"(-?\d+(?:\.\d+)?)"
_UNIT_WORDS = {
    "deg": ("°", "deg", "degree", "degrees"), "kg": ("kg", "kilo", "kilos", "kilograms"),
    "[lb_av]": ("lb", "lbs", "pound", "pounds"), "s": ("s", "second", "seconds"),
    "mm": ("mm", "millimetre", "millimetres"), "mL": ("ml", "mL", "millilitres"),
    "cm": ("cm", "centimetre", "centimetres"), "d": ("d", "day", "days"), "{score}": ("points",),
}  # fmt: skip
_DIRECTIONS = {"lacks": -1.0, "beyond": 1.0}
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


def ask_changes(field: RecordField, lexicon: Lexicon, ask: Ask, show: Show) -> dict[str, Any] | None:
    """Ask what is wrong with a field and what it should be; None where nothing is to change."""
    concept = lexicon.concepts.get(field.concept)
    if concept is None:
        show("This field's concept is not in the lexicon in use: reject it, and add the right one.", "doubt")
        return None
    keys, allowed = _questions(concept), amendable(concept)
    show(
        f"  What is wrong? {', '.join(keys)}. (If it is not about {concept.preferred} at all: reject, then add.)",
        "plain",
    )
    key = _choose("  Which: ", keys, ask, show)
    changes = None if key is None else ask_value(key, field, concept, lexicon, ask, show)
    if changes and concept.kind in _NUMBER_OR_STATUS and concept.statuses:
        if any(changes.get(name) is not None for name in ("value", "low")):
            changes["status"] = None
        elif changes.get("status") is not None:
            changes |= dict.fromkeys(NUMBERS)
    return {name: value for name, value in changes.items() if name in allowed} if changes else changes


def ask_value(key: str, field: RecordField, concept: Concept, lexicon: Lexicon, ask: Ask, show: Show) -> dict[str, Any] | None:
    """Ask for the new value of one key; None where the answer is empty."""
    if key == "number":
        found = _ask_number(concept, ask, show)
        return {name: value for name, value in found.items() if name in amendable(concept)} if found else found
    if key == "trial":
        answer = ask("  Trial (1, 2, 3 or mean): ").strip().casefold()
        return {"trial": int(answer) if answer.isdigit() and int(answer) > 0 else answer} if answer else None
    known = choices(key, field, lexicon)
    if not known:
        answer = printable(ask(f"  {_words(key).capitalize()}, in words ({NONE} to take it out): "))
        return {key: None if answer.casefold() == NONE else answer} if answer else None
    if len(known) > 20:
        return _search(key, known, lexicon, ask, show)
    options = [_words(value) for value in known] + ([] if key == "status" else [NONE])
    show(f"  {_words(key).capitalize()}: {', '.join(options)}", "plain")
    answer_or_none = _choose(f"  New {_words(key)}: ", options, ask, show)
    if answer_or_none is None:
        return None
    return {key: None if answer_or_none == NONE and key != "status" else known[options.index(answer_or_none)]}


def ask_field(lexicon: Lexicon, ask: Ask, show: Show) -> tuple[str, dict[str, Any]] | None:
    """Ask for a field to add by hand: concept, side, place, status or number. None where the person thinks
    better of it.
    """
    concept = _ask_concept(lexicon, ask, show)
    if concept is None:
        return None
    fixed = {"joint": concept.joint, "digit": concept.digit, "structure": concept.structure}
    field = RecordField.model_validate({"id": "new", "part": concept.part, "concept": concept.id, **fixed})
    values: dict[str, Any] = {}
    asked = [key for key in amendable(concept) if key in {"side", "digit", "joint", "structure", "aspect", "status"}]
    if "value" in amendable(concept):
        asked.append("number")
    for key in [*asked, *(key for key in ("mode", "qualifier") if key in amendable(concept))]:
        if key not in {"side", "status"}:
            show(f"  {_words(key).capitalize()} (Enter where there is none)", "quiet")
        given = ask_value(key, field, concept, lexicon, ask, show)
        if given is None and key == "side":
            return None  # a side is never assumed: saying nothing stops here
        for name, value in (given or {}).items():
            values[name] = value
            field = field.model_copy(update={name: value})
    return concept.id, values


def _questions(concept: Concept) -> list[str]:
    keys = [key for key in amendable(concept) if key not in {*NUMBERS}]
    if "value" in amendable(concept):
        keys.insert(min(len(keys), keys.index("status") + 1 if "status" in keys else 1), "number")
    return keys


def _ask_number(concept: Concept, ask: Ask, show: Show) -> dict[str, Any] | None:
    examples = {"deg": "45", "{score}": "4", "kg": "24, 42 lb", "s": "less than 2"}.get(concept.unit or "", "8")
    if "range" in concept.takes:
        examples += ", 10 to 90"
    if concept.id.endswith("_extension"):
        examples += ", lacks 20, beyond 10"
    if concept.kind == "power":
        examples += ", 4+"
    while True:
        answer = ask(f"  Number (for example {examples}; {NONE} to take it out): ").strip()
        if not answer:
            return None
        if answer.casefold() == NONE:
            return dict.fromkeys(NUMBERS)
        if (found := read_number(answer, concept)) is not None:
            return found
        show("  That cannot be read as a number for this.", "doubt")


def _ask_concept(lexicon: Lexicon, ask: Ask, show: Show) -> Concept | None:
    while words := ask("  Add what? A few letters of its name: ").strip().casefold():
        found = [c for c in lexicon.concepts.values() if any(words in form.text.casefold() for form in c.spoken)]
        found.sort(key=lambda c: (words != c.preferred.casefold(), words not in c.preferred.casefold(), c.preferred))
        if not found:
            show("  The lexicon has nothing of that name.", "doubt")
            continue
        named = [concept.preferred for concept in found[:12]]
        if len(found) > 12:
            show(f"  {len(found)} found; the first 12:", "quiet")
        if chosen := _number(named, ask, show):
            return found[chosen - 1]
    return None


def _search(key: str, known: tuple[str, ...], lexicon: Lexicon, ask: Ask, show: Show) -> dict[str, Any] | None:
    while words := ask(f"  {_words(key).capitalize()}, a few letters ({NONE} to take it out): ").strip().casefold():
        if words == NONE:
            return {key: None}
        found = [s for s in known if any(words in form.text.casefold() for form in lexicon.structures[s].spoken)][:12]
        if not found:
            show("  The lexicon has no such place.", "doubt")
        elif chosen := _number([lexicon.structures[s].preferred for s in found], ask, show):
            return {key: found[chosen - 1]}
    return None


def _number(names: list[str], ask: Ask, show: Show) -> int:
    """Ask which of the names, by its number; 0 for none of them."""
    for number, name in enumerate(names, 1):
        show(f"    {number} {name}", "plain")
    answer = ask("  Number of the one meant (Enter: none of these): ").strip()
    return int(answer) if answer.isdigit() and 1 <= int(answer) <= len(names) else 0


def _choose(prompt: str, options: list[str], ask: Ask, show: Show) -> str | None:
    """Ask for one of the options by its word or an unmistakable beginning (NONE only whole); None for an
    empty answer.
    """
    while answer := ask(prompt).strip().casefold():
        found = [option for option in options if option == answer] or [o for o in options if o.startswith(answer)]
        if len(found) == 1:
            return found[0]
        show(f"  One of: {', '.join(found or options)}.", "doubt")
    return None


def _words(value: str) -> str:
    signs = {"<": "less than", "<=": "at most", ">=": "at least", ">": "more than", "+": "plus", "-": "minus"}
    return signs.get(value, value.replace("_", " "))
