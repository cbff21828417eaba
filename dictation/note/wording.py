"""One field as the sentence that the note prints, from the lexicon: the entry's own wording, else
wording.yaml's for its kind.

What is confirmed in review is this sentence, and the note prints it as it was confirmed, or merged (merging.py). The side
stands in capitals. Nothing a field holds is lost: what a pattern has no room for is added at the end. Open to
drafts, for review.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from dictation.lexicon.entries import Concept, Lexicon
from dictation.note.numbers import word_value
from dictation.note.places import CLINICAL, PlaceNames, lower_first, name_place, word_place
from dictation.note.printable import printable
from dictation.record import RecordField

HEADINGS = {
    "context": "Context", "reported": "Reported", "look": "Look", "feel": "Feel", "move": "Move", 
    "power": "Power",    "function": "Function", "sensation": "Sensation", "circulation": "Circulation",
    "special_tests": "Special tests",
    "impression": "Impression", "plan": "Plan",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Words:
    """How the note speaks: by the trade (the default), or in plain words (plain.py).

    patterns: status, or "value" -> sentence pattern of a concept. places: what places are called. suspected: what stands before
    a suspicion. names: what concepts are called, where not as the lexicon does. modes: how a movement was made, where it is not
    said before its name. plain: numbers too are said in plain words. in_error: what stands before what an addendum withdrew.
    """

    patterns: Callable[[Concept, Lexicon], Mapping[str, str]]
    places: PlaceNames
    suspected: str
    names: Mapping[str, str] = dataclasses.field(default_factory=dict)
    modes: Mapping[str, str] = dataclasses.field(default_factory=dict)
    plain: bool = False
    in_error: str = "ENTERED IN ERROR"

    def name(self, concept: Concept) -> str:
        """Return what a concept is called, as at the start of a sentence."""
        return self.names.get(concept.id, concept.preferred)

    def know(self, concept: Concept) -> bool:
        """Return whether they have words of their own for a concept."""
        return not self.plain or concept.id in self.names


def word_field(field: RecordField, lexicon: Lexicon, words: Words | None = None) -> str:
    """Return the sentence of a field, without a full stop. Never raises for a field that fits the record.

    "No swelling at the RIGHT wrist", "Elbow extension on the LEFT: lacks 20° of extension",
    "Suspected: scaphoid fracture on the RIGHT", "Passive wrist extension on the RIGHT: 55°".
    """
    words = words or CLINICAL_WORDS
    concept = lexicon.concepts.get(field.concept)
    value, place, answered = word_value(field, concept, plain=words.plain), word_place(field, lexicon, (), words.places), False
    if not value and field.status is None:  # the answer is words: an occupation, the dominant hand
        answered = True
        value = printable(field.qualifier or "") or name_place(field, lexicon, (), words.places) or "(no answer understood)"
        place = place if field.qualifier else ""
    pattern = _pattern(field, concept, lexicon, words, numbered=bool(value) and not answered)
    severity = f"{field.severity} " if field.severity and "{severity}" in pattern else ""
    name = words.name(concept) if concept else field.concept.replace("_", " ").capitalize()
    if field.mode and not words.modes:
        name = f"{field.mode} {lower_first(name)}"
    inside = not pattern.startswith("{name}")
    body = pattern.format(name=lower_first(name) if inside else name, place=place, value=value, severity=severity).strip()
    if place and "{place}" not in pattern:
        body += place
    extras = [value] if value and "{value}" not in pattern else []
    if field.severity and not severity:
        extras.append(field.severity)
    if field.mode and (words.modes or "{name}" not in pattern):
        extras.append(words.modes.get(field.mode, field.mode))
    denied = field.status == "absent" and concept is not None and concept.kind in {"finding", "impression"}
    if denied and (particular := printable(field.qualifier or "")):  # "No wound on the RIGHT (laceration)"
        body, answered = f"{body} ({particular})", True
    extras += word_details(field, without_qualifier=answered)
    sentence = ", ".join([body, *extras])
    if field.certainty:
        sentence = f"{words.suspected}: {lower_first(sentence)}"
    return sentence[:1].upper() + sentence[1:]


def mode_note(field: RecordField, lexicon: Lexicon) -> str:
    """Return "mode not stated" for a movement whose mode was not said, else "". For review; the note leaves
    it out.
    """
    concept = lexicon.concepts.get(field.concept)
    moves = concept is not None and "mode" in concept.takes and field.status != "not_assessed"
    return "mode not stated" if moves and field.mode is None else ""


def note_wording(lexicon: Lexicon) -> dict[str, dict[str, str]]:
    """Return concept -> status, or "value" -> sentence pattern: the entry's own, else that of its kind."""
    return {concept.id: _patterns(concept, lexicon) for concept in lexicon.concepts.values()}


def _patterns(concept: Concept, lexicon: Lexicon) -> dict[str, str]:
    return {**lexicon.wording.get(concept.kind, {}), **concept.wording}


CLINICAL_WORDS = Words(_patterns, CLINICAL, "Suspected")


def _pattern(field: RecordField, concept: Concept | None, lexicon: Lexicon, words: Words, *, numbered: bool) -> str:
    patterns = words.patterns(concept, lexicon) if concept else {}
    if field.status is None:
        return patterns.get("value", "{name}{place}: {value}")
    if field.status == "present" and numbered and "value" in patterns:
        return patterns["value"]
    return patterns.get(field.status, "{name}{place}: " + field.status.replace("_", " ").replace("{", "").replace("}", ""))


def word_details(field: RecordField, *, without_qualifier: bool = False) -> list[str]:
    """Return the details kept as said, in the order a reader needs them."""
    said = [] if without_qualifier else [field.qualifier]
    said += [
        f"tested {field.position}" if field.position and _adverbial(field.position) else field.position,
        field.occasion,
    ]
    if field.trial is not None:
        said.append("mean of the trials" if field.trial == "mean" else f"trial {field.trial}")
    return [text for text in map(printable, filter(None, said)) if text]


def _adverbial(position: str) -> bool:
    return position.split(" ", 1)[0].lower() in {"in", "with", "at"}
