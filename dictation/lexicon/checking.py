"""The checks that need the whole lexicon: ids point somewhere, statuses fit, no form means two things."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from string import Formatter

from dictation.errors import LexiconError
from dictation.lexicon.entries import Concept, Form, Lexicon, Term
from dictation.lexicon.reading import fault
from dictation.lexicon.sound_index import key
from dictation.lexicon.spelling import recogniser_words

FIELD_KEYS = frozenset("side digit joint structure aspect status severity certainty qualifier mode position".split())
"""Keys of a field that a form may carry."""
FIXED: Mapping[str, frozenset[str]] = {
    "side": frozenset(["right", "left"]),
    "digit": frozenset("thumb index middle ring little".split()),
    "joint": frozenset("elbow druj wrist cmc mcp pip dip ip".split()),
    "aspect": frozenset("dorsal volar radial ulnar".split()),
    "severity": frozenset("mild moderate severe".split()),
    "certainty": frozenset(["suspected"]),
    "mode": frozenset(["active", "passive"]),
}
"""What the record has room for: a lexicon names these otherwise, but adds none."""
PLACE_KEYS = frozenset("side digit joint structure aspect".split())
MANY = 12  # ids that are still listed in a message

PARTS = (
    "context", "reported", "look", "feel", "move", "power", "function", "sensation", "circulation", "special_tests",
    "impression", "plan",
)  # fmt: skip
KINDS = (
    "context", "reported", "finding", "movement", "power", "strength", "function", "sensation", "circulation", "test",
    "impression", "plan", "score", "measure",
)  # fmt: skip
PHONES = frozenset(
    "AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY P R S SH T TH UH UW V W Y Z ZH".split()
)
"""ARPABET without stress, as the acoustic model of the embedded recogniser has them."""
NO_FORM = frozenset(
    "a an the and or of in on at to for with by is are was were it its his her my your this that there he she they we you i "
    "no not nil none non without never neither nor left right both either bilateral positive negative present absent normal "
    "abnormal intact correction sorry scratch zero oh one two three four five six seven eight nine ten eleven twelve twenty "
    "thirty forty fifty sixty seventy eighty ninety hundred plus minus half".split()
)
"""Words that join, deny, count, or name a side or a result: a form of nothing else would be heard in every sentence."""
READS_WELL = {"finding": {"absent", "normal"}, "impression": {"absent"}, "reported": {"absent", "normal"}, "test": {"negative"}}
"""Kind -> the statuses of a form whose plain words deny it, or say that all is well. Other kinds: any status of its own."""

Positions = Mapping[tuple[str, str], tuple[str, int]]
Report = Callable[[LexiconError], None]


def _raise(error: LexiconError) -> None:
    raise error


def check_lexicon(lexicon: Lexicon, positions: Positions, report: Report = _raise) -> None:
    """Hand every fault, naming file, line and term, to report; by itself that raises LexiconError at the first."""
    owner: dict[tuple[str, ...], str] = {}
    for concept in lexicon.concepts.values():
        at = positions[("concept", concept.id)]
        for problem in _concept_problems(concept, lexicon):
            report(fault(*at, concept.id, problem))
        _check_forms("concept", concept, owner, positions, report)
        for form in concept.spoken:
            if wrong := _sets_problem(form, concept, lexicon) or _reading_problem(form, concept, lexicon):
                report(fault(*positions.get(("concept", f"{concept.id} {form.text}"), at), concept.id, wrong))
    for kind, room in (
        ("digit", lexicon.digits), ("joint", lexicon.joints), ("structure", lexicon.structures), ("aspect", lexicon.aspects)
    ):  # fmt: skip
        places: dict[tuple[str, ...], str] = {}
        for place in room.values():
            if place.id not in FIXED.get(kind, {place.id}):
                known = ", ".join(sorted(FIXED[kind]))
                report(fault(*positions[(kind, place.id)], place.id, f"the record has no {kind} of this id; known: {known}"))
            if any(digit not in lexicon.digits for digit in place.digits):
                report(fault(*positions[(kind, place.id)], place.id, "digits names an unknown digit; correct it"))
            _check_forms(kind, place, places, positions, report)
            for form in place.spoken:
                if wrong := _value_problem(form):
                    at = positions.get((kind, f"{place.id} {form.text}"), positions[(kind, place.id)])
                    report(fault(*at, place.id, wrong))


def _concept_problems(concept: Concept, lexicon: Lexicon) -> Iterator[str]:
    if concept.kind not in KINDS:
        yield f"kind {concept.kind} is unknown; known: {', '.join(KINDS)}"
    if concept.part not in PARTS:
        yield f"part {concept.part} is unknown; known: {', '.join(PARTS)}"
    for name, room in (("joint", lexicon.joints), ("digit", lexicon.digits), ("structure", lexicon.structures)):
        value = getattr(concept, name)
        if value is not None and value not in room:
            yield f"{name} {value} is unknown; known: {', '.join(room) if len(room) < MANY else 'see dictation lexicon list'}"
    if concept.counts_for is not None and concept.counts_for not in lexicon.concepts:
        yield f"counts_for {concept.counts_for} is unknown; name the id of a concept"
    known = FIELD_KEYS | {"value", "range"}
    if unknown := sorted(concept.takes - known):
        yield f"takes names {', '.join(unknown)}, which no field has; known: {', '.join(sorted(known))}"
    if concept.plausible and concept.plausible[0] >= concept.plausible[1]:
        yield "plausible must rise from low to high; write the lower number first"
    if concept.plausible and not concept.unit:
        yield "plausible needs a unit; add one, such as deg"
    if problem := _wording_problem(concept):
        yield problem


def _sets_problem(form: Form, concept: Concept, lexicon: Lexicon) -> str | None:
    status = form.sets.get("status")
    if status is not None and status not in concept.statuses:
        return f"form {form.text!r} carries status {status}, which is not among statuses; use one of those"
    if wrong := _value_problem(form):
        return wrong
    for name, room in (("joint", lexicon.joints), ("digit", lexicon.digits), ("structure", lexicon.structures)):
        if form.sets.get(name) is not None and form.sets[name] not in room:
            return f"form {form.text!r} names an unknown {name}; name the id of one"
    return None


def _value_problem(form: Form) -> str | None:
    for name, value in form.sets.items():
        if value not in FIXED.get(name, {value}):
            return f"form {form.text!r} carries {name} {value}; allowed: {', '.join(sorted(FIXED[name]))}"
    return None


def _reading_problem(form: Form, concept: Concept, lexicon: Lexicon) -> str | None:
    """A form whose own words say that there is nothing, or that all is well, must say so in its status.

    A concept whose name itself reads so ("normal examination") is what it says. The words are data: plain_reading.
    """
    table = lexicon.language.get("plain_reading", {})
    if concept.kind in {"context", "plan"} or _reads_well(Form(concept.preferred), table):
        return None
    status = form.sets.get("status")
    right = READS_WELL.get(concept.kind, set(concept.statuses))
    if concept.statuses and _reads_well(form, table) and status not in right:
        return f"form {form.text!r} reads as nothing wrong but carries {status or 'no status'}; give it its status"
    return None


def _reads_well(form: Form, table: Mapping[str, tuple[str, ...]]) -> bool:
    text = " " + " ".join(recogniser_words(form.text)).lower() + " "
    if form.observed or _among(table.get("presumes_nothing", ())).search(text):
        return False
    return bool(_among(table.get("denied", ())).match(text) or _among(table.get("well", ())).search(text))


@lru_cache(maxsize=8)
def _among(phrases: tuple[str, ...]) -> re.Pattern[str]:
    """Finds any of some phrases as whole words."""
    return re.compile(f" (?:{'|'.join(map(re.escape, phrases))}) " if phrases else "(?!)")


def _wording_problem(concept: Concept) -> str | None:
    for status, pattern in concept.wording.items():
        if status != "value" and status not in concept.statuses:
            return f"wording for {status}, which is not among statuses; use one of those, or value"
        if problem := pattern_problem(status, pattern, placed=bool(concept.takes & PLACE_KEYS)):
            return problem
    return None


def pattern_problem(status: str, pattern: str, *, placed: bool) -> str | None:
    """Return what is wrong with a sentence pattern of a status, or of "value"; placed: it must say the place."""
    try:
        pattern.format(place="", value="", severity="", name="")
        named = {name for _, name, _, _ in Formatter().parse(pattern) if name is not None}
    except (KeyError, ValueError, IndexError, AttributeError):
        return f"wording for {status} has an unknown placeholder; known: place, value, severity, name"
    if status == "value" and "value" not in named:
        return "wording for value says no value; write {value} where the number or the answer stands"
    if placed and "place" not in named:
        return f"wording for {status} says no place; write {{place}} where side and place stand"
    return None


@lru_cache(maxsize=40_000)
def form_key(text: str) -> tuple[str, ...]:
    """Return a form as it is compared: matching ignores case, hyphens, accents, the possessive and a plural s.

    >>> form_key("Tinel’s  Tests") == form_key("tinel test")
    True
    """
    plain = text
    if not text.isascii():
        plain = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return tuple(filter(None, (key(word) for word in re.split(r"[\s/–—-]+", plain))))


def _check_forms(kind: str, term: Term, owner: dict[tuple[str, ...], str], positions: Positions, report: Report) -> None:
    for form in term.spoken:
        words = form_key(form.text)
        problem = None
        if not words:
            problem = f"a spoken form is empty: {form.text!r} holds no word; write one"
        elif NO_FORM.issuperset(words):
            problem = f"form {form.text!r} would be heard in every sentence; add a word of the trade to it"
        elif owner.setdefault(words, term.id) != term.id:
            problem = f"form {form.text!r} already belongs to {owner[words]}; a form means one thing, take it from one of them"
        if problem:
            at = positions.get((kind, f"{term.id} {form.text}"), positions[(kind, term.id)])
            report(fault(*at, term.id, problem))
