"""The checks that need the whole lexicon: ids point somewhere, statuses fit, no form means two things."""

from __future__ import annotations

from collections.abc import Mapping

from dictation.lexicon.entries import Concept, Form, Lexicon, Term
from dictation.lexicon.reading import fault
from dictation.lexicon.spelling import recogniser_words

PARTS = (
    "context", "reported", "look", "feel", "move", "power", "function", "sensation", "circulation", "special_tests",
    "impression", "plan",
)  # fmt: skip
KINDS = (
    "context", "reported", "finding", "movement", "power", "strength", "function", "sensation", "circulation", "test",
    "impression", "plan", "score", "measure",
)  # fmt: skip
SETTABLE = {
    "side": ("right", "left"), "mode": ("active", "passive"), "severity": ("mild", "moderate", "severe"),
    "certainty": ("suspected",),
}  # fmt: skip
"""What the record allows for the keys that a form may carry, beside the ids of places."""

READS_WELL = {"finding": {"absent", "normal"}, "impression": {"absent"}, "reported": {"absent", "normal"}, "test": {"negative"}}
"""Kind -> the statuses of a form whose plain words deny it, or say that all is well. Other kinds: any status of its own."""

Positions = Mapping[tuple[str, str], tuple[str, int]]


def check_lexicon(lexicon: Lexicon, positions: Positions) -> None:
    """Raise LexiconError, naming file, line and term, at the first fault."""
    owner: dict[str, str] = {}
    for concept in lexicon.concepts.values():
        at = positions[("concept", concept.id)]
        problem = _concept_problem(concept, lexicon) or _form_problem(concept, owner)
        if problem:
            raise fault(*at, concept.id, problem)
    for kind, room in (
        ("digit", lexicon.digits), ("joint", lexicon.joints), ("structure", lexicon.structures), ("aspect", lexicon.aspects)
    ):  # fmt: skip
        places: dict[str, str] = {}
        for place in room.values():
            problem = _form_problem(place, places) or _value_problem(place, lexicon)
            if any(digit not in lexicon.digits for digit in place.digits):
                problem = "digits names an unknown digit"
            if problem:
                raise fault(*positions[(kind, place.id)], place.id, problem)


def _concept_problem(concept: Concept, lexicon: Lexicon) -> str | None:
    if concept.kind not in KINDS:
        return f"kind {concept.kind} is unknown; known: {', '.join(KINDS)}"
    if concept.part not in PARTS:
        return f"part {concept.part} is unknown; known: {', '.join(PARTS)}"
    for key, room in (("joint", lexicon.joints), ("digit", lexicon.digits), ("structure", lexicon.structures)):
        value = getattr(concept, key)
        if value is not None and value not in room:
            return f"{key} {value} is unknown"
    if concept.counts_for is not None and concept.counts_for not in lexicon.concepts:
        return f"counts_for {concept.counts_for} is unknown"
    if concept.plausible and concept.plausible[0] >= concept.plausible[1]:
        return "plausible must rise from low to high"
    if concept.plausible and not concept.unit:
        return "plausible needs a unit"
    for form in concept.spoken:
        status = form.sets.get("status")
        if status is not None and status not in concept.statuses:
            return f"form {form.text!r} carries status {status}, which is not among statuses"
        for key, room in (("joint", lexicon.joints), ("digit", lexicon.digits), ("structure", lexicon.structures)):
            if form.sets.get(key) is not None and form.sets[key] not in room:
                return f"form {form.text!r} names an unknown {key}"
    return _value_problem(concept, lexicon) or _reading_problem(concept, lexicon) or _wording_problem(concept, lexicon)


def _value_problem(term: Term, lexicon: Lexicon) -> str | None:
    for form in term.spoken:
        for key, allowed in {**SETTABLE, "aspect": tuple(lexicon.aspects)}.items():
            if form.sets.get(key) is not None and form.sets[key] not in allowed:
                return f"form {form.text!r} carries {key} {form.sets[key]}; allowed: {', '.join(allowed)}"
    return None


def _reading_problem(concept: Concept, lexicon: Lexicon) -> str | None:
    """A form whose own words say that there is nothing, or that all is well, must say so in its status.

    A concept whose name itself reads so ("normal examination") is what it says. The words are data: plain_reading.
    """
    table = lexicon.language.get("plain_reading", {})
    if concept.kind in {"context", "plan"} or _reads_well(Form(concept.preferred), table):
        return None
    for form in concept.spoken:
        status = form.sets.get("status")
        right = READS_WELL.get(concept.kind, set(concept.statuses))
        if concept.statuses and _reads_well(form, table) and status not in right:
            return f"form {form.text!r} reads as nothing wrong but carries {status or 'no status'}; give it its status"
    return None


def _reads_well(form: Form, table: Mapping[str, tuple[str, ...]]) -> bool:
    text = " " + " ".join(recogniser_words(form.text)).lower() + " "
    if form.observed or any(f" {phrase} " in text for phrase in table.get("presumes_nothing", ())):
        return False
    denied = any(text.startswith(f" {phrase} ") for phrase in table.get("denied", ()))
    return denied or any(f" {phrase} " in text for phrase in table.get("well", ()))


def _wording_problem(concept: Concept, lexicon: Lexicon) -> str | None:
    for status, pattern in concept.wording.items():
        if status != "value" and status not in concept.statuses:
            return f"wording for {status}, which is not among statuses"
        try:
            pattern.format(place="", value="", severity="", name="")
        except (KeyError, ValueError, IndexError):
            return f"wording for {status} has an unknown placeholder; known: place, value, severity, name"
    return None


def _form_problem(term: Term, owner: dict[str, str]) -> str | None:
    for form in term.spoken:
        text = form.text.strip().lower()
        if not text:
            return "a spoken form is empty"
        if owner.setdefault(text, term.id) != term.id:
            return f"form {form.text!r} already belongs to {owner[text]}; a form means one thing"
    return None
