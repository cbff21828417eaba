"""The questions behind amending a field and adding one by hand; every answer is checked against the lexicon.

Takes ``ask`` and ``show``; gives the changes as a mapping, or None where the person thinks better of it (an
empty answer). Decides nothing and writes nothing. Imports review, showing, note.printable, lexicon, record, errors.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from dictation.errors import ReviewError
from dictation.lexicon.entries import Concept, Lexicon
from dictation.note.printable import printable
from dictation.record import RecordField
from dictation.review.amendment import NUMBERS, amendable, choices
from dictation.review.asking import asked_keys, bare_field, find_concepts, keys_to_add, plain_words, settle
from dictation.review.typed_number import number_examples, read_number
from dictation.terminal.showing import Tone

Ask = Callable[[str], str]
Show = Callable[[str, Tone], None]

NONE = "none"
"""The word for "this does not apply", never assumed from an empty answer."""


LEAVE, STOP = "leave", "stop"
"""The words that end a chain of questions anywhere in it: with nothing changed, or with the whole review left for later."""


def leaving(ask: Ask) -> Ask:
    """Return ask for a chain of questions: LEAVE raises ReviewError, STOP EOFError, as where there is no more input."""

    def asked(prompt: str) -> str:
        answer = ask(prompt)
        if answer.strip().casefold() == LEAVE:
            raise ReviewError("Left as it was.")
        if answer.strip().casefold() == STOP:
            raise EOFError
        return answer

    return asked


def ask_changes(field: RecordField, lexicon: Lexicon, ask: Ask, show: Show) -> dict[str, Any] | None:
    """Ask what is wrong with a field and what it should be; None where nothing is to change."""
    concept = lexicon.concepts.get(field.concept)
    if concept is None:
        show("This field's concept is not in the lexicon in use: reject it, and add the right one.", "doubt")
        return None
    keys = asked_keys(concept)
    show(
        f"  What is wrong? {', '.join(keys)}. (If it is not about {concept.preferred} at all: reject, then add.)",
        "plain",
    )
    key = _choose("  Which: ", keys, ask, show)
    changes = None if key is None else ask_value(key, field, concept, lexicon, ask, show)
    return settle(changes, concept) if changes else changes


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
        answer = printable(ask(f"  {plain_words(key).capitalize()}, in words ({NONE} to take it out): "))
        return {key: None if answer.casefold() == NONE else answer} if answer else None
    if len(known) > 20:
        return _search(key, known, lexicon, ask, show)
    options = [plain_words(value) for value in known] + ([] if key == "status" else [NONE])
    show(f"  {plain_words(key).capitalize()}: {', '.join(options)}", "plain")
    answer_or_none = _choose(f"  New {plain_words(key)}: ", options, ask, show)
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
    field = bare_field(concept)
    values: dict[str, Any] = {}
    for key in keys_to_add(concept):
        if key not in {"side", "status"}:
            show(f"  {plain_words(key).capitalize()} (Enter where there is none)", "quiet")
        given = (_status if key == "status" else ask_value)(key, field, concept, lexicon, ask, show)
        if given is None and key == "side":
            return None  # a side is never assumed: saying nothing stops here
        for name, value in (given or {}).items():
            values[name] = value
            field = field.model_copy(update={name: value})
    return concept.id, values


def _status(key: str, field: RecordField, concept: Concept, lexicon: Lexicon, ask: Ask, show: Show) -> dict[str, Any]:
    """Ask for a status until one is chosen, or NONE is said on purpose: an empty answer would state nothing, as if found."""
    known = choices(key, field, lexicon)
    options = [*map(plain_words, known), NONE]
    show(f"  Status: {', '.join(options)}", "plain")
    while (chosen := _choose("  Status: ", options, ask, show)) is None:
        show(f"  A status is never assumed: choose one, or {NONE}; {LEAVE} adds nothing.", "doubt")
    return {} if chosen == NONE else {key: known[options.index(chosen)]}


def _ask_number(concept: Concept, ask: Ask, show: Show) -> dict[str, Any] | None:
    while True:
        answer = ask(f"  Number (for example {number_examples(concept)}; {NONE} to take it out): ").strip()
        if not answer:
            return None
        if answer.casefold() == NONE:
            return dict.fromkeys(NUMBERS)
        if (found := read_number(answer, concept)) is not None:
            return found
        show("  That cannot be read as a number for this.", "doubt")


def _ask_concept(lexicon: Lexicon, ask: Ask, show: Show) -> Concept | None:
    while words := ask(f"  Add what? A few letters of its name ({LEAVE}: nothing): ").strip().casefold():
        if words == NONE:
            return None
        found = find_concepts(words, lexicon)
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
    while words := ask(f"  {plain_words(key).capitalize()}, a few letters ({NONE} to take it out): ").strip().casefold():
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
