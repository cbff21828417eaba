"""One form of the page as one call of the review's rules. No rule stands here: what may be decided, review/ says.

Imports review, note, measurement's cautions by their names, store and errors.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from dictation.errors import ReviewError
from dictation.lexicon.entries import Concept
from dictation.note.printable import printable
from dictation.record import RecordField
from dictation.review.amendment import NUMBERS, choices, side_open
from dictation.review.asking import asked_keys, bare_field, keys_to_add, settle
from dictation.review.decisions import ANSWERS
from dictation.review.rules import Review
from dictation.review.typed_number import read_number
from dictation.store.journal import Moment

KEEP, NONE = "=", "none"
"""What a control of a form sends where nothing was chosen in it, and where it was said that nothing applies."""

Form = Mapping[str, str]

_ANSWER = dict(zip(("acting", "done", "irrelevant"), ANSWERS, strict=True))
HASTY = "That was quicker than these lines can be read; undo takes them back."


@dataclass(frozen=True, slots=True)
class Look:
    """What a field would be, before it counts. problem: why it cannot be; keepable: it can be all the same, if insisted on."""

    field: RecordField | None
    problem: str
    keepable: bool


def decide(review: Review, form: Form, who: str, time: Moment, *, group: Sequence[str] = (), shown: Sequence[str] = ()) -> str:
    """Take the step that a form asks for, and return what was done, in words. group, shown: ids of fields.

    Raises ReviewError as the rules do, or where the form asks for nothing that there is.
    """
    if not who.strip():
        raise ReviewError("Decisions need your name; give it first.")
    step = _STEPS.get(form.get("what", ""))
    if step is not None:
        return step(review, form, who, time)
    if form.get("what") == "together":
        return _together(review, form, who, time, group, shown)
    raise ReviewError("The page asked for something that this review does not know; load it anew.")


def _confirm(review: Review, form: Form, who: str, time: Moment) -> str:
    review.confirm(form["field"], who, time)
    return f"Confirmed: {review.state.fields[form['field']].sentence}."


def _together(review: Review, form: Form, who: str, time: Moment, group: Sequence[str], shown: Sequence[str]) -> str:
    try:
        seconds = max(0.0, float(form.get("shown_s", "0")))
    except ValueError:
        seconds = 0.0
    said = review.state.hasty
    hasty = review.confirm_group(group, shown, who, time, shown_s=seconds)
    done = f"Confirmed {len(group)} together."
    return f"{done} {HASTY}" if hasty and not said else done


def _run(review: Review, form: Form, who: str, time: Moment) -> str:
    review.decide_side(_index(form["run"]), form["side"], who, time)  # type: ignore[arg-type]  # the rules check it
    return f"All of that stretch is {form['side'].upper()}. Its statements are still to decide."


def _caution(review: Review, form: Form, who: str, time: Moment) -> str:
    caution = next((one for one in review.cautions() if one.name == form["name"]), None)
    if caution is None:
        raise ReviewError("That caution is not waiting for an answer.")
    review.answer_caution(caution, _ANSWER.get(form["answer"], ""), who, time)
    return "The answer is kept."


def _reject(review: Review, form: Form, who: str, time: Moment) -> str:
    review.reject(form["field"], printable(form.get("reason", "")), who, time)
    return "Rejected; it will not be in the note."


def _clear(review: Review, form: Form, who: str, time: Moment) -> str:
    review.clear(_index(form["speech"]), who, time)
    return "Cleared; nothing in it belongs in the record."


def _undo(review: Review, form: Form, who: str, time: Moment) -> str:
    what = review.state.last[-1].what if review.state.last else ""
    count = len(review.undo(who, time))
    return f"Taken back: {what}{f', {count} at once' if count > 1 else ''}. Decide again."


def _amend(review: Review, form: Form, who: str, time: Moment) -> str:
    values = amending(review, form)
    review.amend(form["field"], values, who, time, accept_implausible=form.get("keep") == "yes")
    return f"Amended: {review.state.fields[form['field']].sentence}."


def _add(review: Review, form: Form, who: str, time: Moment) -> str:
    speech = _index(form["speech"]) if form.get("speech") else None
    values = adding(review, form)
    keep = form.get("keep") == "yes"
    name = review.add(form["concept"], values, who, time, unplaced=speech, accept_implausible=keep)
    return f"Added: {review.state.fields[name].sentence}."


_STEPS: dict[str, Callable[[Review, Form, str, Moment], str]] = {
    "confirm": _confirm, "run": _run, "caution": _caution, "reject": _reject, "clear": _clear, "undo": _undo,
    "amend": _amend, "add": _add,
}  # fmt: skip


def look(review: Review, form: Form) -> Look:
    """Return what an amendment or addition would make, deciding nothing."""
    values = adding(review, form) if form.get("what") == "add" else amending(review, form)

    def made(keep: bool) -> RecordField:
        if form.get("what") == "add":
            return review.new_field(form["concept"], values, accept_implausible=keep)
        return review.amended(form["field"], values, accept_implausible=keep)

    try:
        return Look(made(False), "", False)
    except ReviewError as err:
        numbered = any(values.get(key) is not None for key in ("value", "low", "high"))
        if not (numbered and "plausible" in str(err)):
            return Look(None, str(err), False)
        return Look(made(True), str(err), True)


def concept_of(review: Review, form: Form) -> Concept:
    """Return the concept that a form is about. Raises ReviewError where the lexicon in use has none."""
    name = form.get("concept") or review.state.fields[form["field"]].field.concept
    concept = review.lexicon.concepts.get(name)
    if concept is None:
        raise ReviewError("This field's concept is not in the lexicon in use: reject it, and add the right one.")
    return concept


def amending(review: Review, form: Form) -> dict[str, Any]:
    """Return the changes that a form makes to its field: what differs from what the field says."""
    field = _field(review, form["field"])
    concept = concept_of(review, form)
    found = _read(form, field, concept, review, asked_keys(concept))
    changes = {key: value for key, value in found.items() if value != getattr(field, key)}
    if side_open(field) and "side" in found:
        changes["side"] = found["side"]  # none said and none applies: no change of value, but a decision
    return settle(changes, concept)


def adding(review: Review, form: Form) -> dict[str, Any]:
    """Return the values of a field added by hand."""
    concept = concept_of(review, form)
    found = _read(form, bare_field(concept), concept, review, keys_to_add(concept))
    if form.get("status") == KEEP and found.get("value") is None and found.get("low") is None:
        raise ReviewError("A status is never assumed: choose one, or “none said”.")
    return settle({key: value for key, value in found.items() if key == "side" or value is not None}, concept)


def _read(form: Form, field: RecordField, concept: Concept, review: Review, keys: Sequence[str]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key in keys:
        given = form.get(key, KEEP).strip()
        if given == KEEP:
            continue
        if key == "number":
            if given.casefold() == NONE:
                found |= dict.fromkeys(NUMBERS)
            elif given:
                number = read_number(given, concept)
                if number is None:
                    raise ReviewError("That cannot be read as a number for this; write it as in the examples beside it.")
                found |= number
        elif key == "trial":
            found[key] = int(given) if given.isdecimal() and int(given) > 0 else given.casefold() or None
            found[key] = None if given.casefold() == NONE else found[key]
        elif choices(key, field, review.lexicon):
            found[key] = None if given == NONE else given
        else:
            found[key] = printable(given) if given and given.casefold() != NONE else None
    return found


def _field(review: Review, name: str) -> RecordField:
    if name not in review.state.fields:
        raise ReviewError("There is no such field in this review.")
    return review.state.fields[name].field


def _index(text: str) -> int:
    if not text.isdecimal():
        raise ReviewError("The page asked for something that this review does not know; load it anew.")
    return int(text)
