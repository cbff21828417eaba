"""One field of the record as a FHIR Observation, with the BodyStructure of its place. The mapping is in DEVELOPERS.md.

A number keeps its sign and unit as in the record, with the direction in words beside it; a suspicion is never coded as
present. Imports codes, context and the note's wording of places and numbers.
"""

from __future__ import annotations

import re
from typing import Any

from dictation.exports.fhir.codes import (
    EXAM,
    LATERALITY,
    NOT_PERFORMED,
    OWN,
    SEVERITY,
    UCUM,
    coding,
    concept_of,
    interpretation,
)
from dictation.exports.fhir.context import Context, instant, narrative
from dictation.lexicon.entries import Concept
from dictation.note.numbers import UNITS, word_value
from dictation.note.places import name_place
from dictation.note.printable import printable
from dictation.note.wording import HEADINGS
from dictation.record import RecordField
from dictation.review.decisions import Decision

_BODY_SITE = "http://hl7.org/fhir/StructureDefinition/bodySite"
_PLACE_KEYS = ("side", "digit", "joint", "structure", "aspect")
_APART = {"context", "reported", "impression", "plan"}
_DETAILS = ("qualifier", "position", "occasion")


def observation(decision: Decision, context: Context, *, status: str, sentence: str) -> dict[str, Any]:
    """Return the Observation of one field. status: FHIR's, of the statement as it now stands. sentence: as the note has it."""
    field, lexicon = decision.field, context.lexicon
    concept = lexicon.concepts.get(field.concept)
    name = concept.preferred if concept else field.concept
    version = context.record.complete.draft.source.lexicon_version
    own = {"system": f"{OWN}:concept", "version": printable(version), "code": field.concept, "display": name}
    made: dict[str, Any] = {
        "resourceType": "Observation",
        "id": context.uuid("Observation", field.id),
        "text": narrative([sentence]),
        "identifier": [{"system": f"{OWN}:field", "value": f"{context.record.complete.draft_sha256}/{field.id}"}],
        "status": status,
        "category": [{"text": HEADINGS[field.part]} if field.part in _APART else concept_of(EXAM, HEADINGS[field.part])],
        "code": {"coding": [own], "text": name},
        "subject": context.patient(),
        **_examined(context.record.signature.examined),
        "performer": [context.person(decision.who or "")],
        **_value(field, concept),
    }
    if decision.time:
        made["issued"] = instant(decision.time)
    if field.status and field.part not in _APART and field.certainty is None:
        normal = concept is not None and "normal" in concept.statuses
        if meaning := interpretation(field.status, normal):
            made["interpretation"] = [meaning]
    if field.mode:
        made["method"] = {"text": field.mode}
    if site := place_name(field, context):
        made["bodySite"] = {
            "extension": [{"url": _BODY_SITE, "valueReference": context.reference("BodyStructure", _place_key(field))}],
            "text": site,
        }
    if components := _components(field):
        made["component"] = components
    said = word_value(field, concept)
    if said and not re.fullmatch(r"[0-9.]+°?( \w+)?", said):  # a direction, a comparator: not in the bare number
        made["note"] = [{"text": said}]
    return made


def body_structure(field: RecordField, context: Context) -> dict[str, Any]:
    """Return where a field is, for a machine: what in location, which side in locationQualifier."""
    qualifiers = [concept_of(LATERALITY[field.side])] if field.side else []
    qualifiers += [{"text": field.aspect}] if field.aspect else []
    sideless = place_name(field.model_copy(update={"side": None, "aspect": None}), context)
    return {
        "resourceType": "BodyStructure",
        "id": context.uuid("BodyStructure", _place_key(field)),
        "location": {"text": sideless or "upper limb"},
        "locationQualifier": qualifiers or [{"text": "no side"}],
        "patient": context.patient(),
    }


def place_name(field: RecordField, context: Context) -> str:
    """Return the whole place in words, side first, "" where there is none or where the side is the answer itself."""
    if _side_is_answer(field):
        return ""
    bare = field.model_copy(update={"concept": ""})  # so that nothing is left out for being in the concept's name
    place = name_place(bare, context.lexicon)
    return printable(f"{place}, {field.aspect} aspect" if field.aspect and place else place)


def _place_key(field: RecordField) -> str:
    return "/".join(str(getattr(field, key)) for key in _PLACE_KEYS)


def _side_is_answer(field: RecordField) -> bool:
    """Whether the side is what is said, not where it is: the dominant hand."""
    said = (field.status, field.value, field.low, field.high, field.qualifier)
    return field.side is not None and all(value is None for value in said)


def _examined(text: str | None) -> dict[str, str]:
    """The day alone: the hour was stated without its zone."""
    found = re.match(r"\d{4}-\d\d-\d\d", text or "")
    return {"effectiveDateTime": found[0]} if found else {}


def _value(field: RecordField, concept: Concept | None) -> dict[str, Any]:
    if field.status == "not_assessed":
        return {"dataAbsentReason": concept_of(NOT_PERFORMED)}
    unit = field.unit or (concept.unit if concept else None)
    if field.grade_sign and field.value is not None:  # 4+ is not the number 4
        return {"valueString": word_value(field, concept)}
    if field.value is not None:
        return {"valueQuantity": _quantity(field.value, unit, field.comparator)}
    if field.low is not None or field.high is not None:
        return {"valueRange": _range(field, unit)}
    if field.status:
        return {"valueCodeableConcept": _status(field)}
    if _side_is_answer(field):
        return {"valueCodeableConcept": concept_of(LATERALITY[field.side or ""])}
    return {"valueString": printable(field.qualifier or "") or "no answer understood"}


def _status(field: RecordField) -> dict[str, Any]:
    code = field.certainty or field.status or ""
    text = code.replace("_", " ") if not field.certainty else f"{field.status}, {field.certainty}"
    return {"coding": [{"system": f"{OWN}:status", "code": code}], "text": text}


def _quantity(value: float, unit: str | None, comparator: str | None = None) -> dict[str, Any]:
    made: dict[str, Any] = {"value": int(value) if value == int(value) else value}
    if comparator:
        made["comparator"] = comparator
    if unit:
        made |= {"unit": UNITS.get(unit, (unit, unit))[1], "system": UCUM, "code": unit}
    return made


def _range(field: RecordField, unit: str | None) -> dict[str, Any]:
    ends = {"low": field.low, "high": field.high}
    return {name: _quantity(end, unit) for name, end in ends.items() if end is not None}


def _components(field: RecordField) -> list[dict[str, Any]]:
    """What the main value does not say: status beside a number, range beside a value, severity, details as said."""
    numbered = any(n is not None for n in (field.value, field.low, field.high))
    found: list[tuple[str, dict[str, Any]]] = []
    if numbered and field.status and field.status != "not_assessed":
        found.append(("status", {"valueCodeableConcept": _status(field)}))
    elif numbered and field.certainty:
        found.append(("certainty", {"valueString": field.certainty}))
    if field.status == "not_assessed" and numbered:
        found.append(("number said", {"valueString": word_value(field, None)}))
    if field.value is not None and (field.low is not None or field.high is not None):
        found.append(("range", {"valueRange": _range(field, field.unit)}))
    if field.severity:
        code = SEVERITY[field.severity]
        found.append(("severity", {"valueCodeableConcept": {"coding": [coding(code)], "text": field.severity}}))
    if field.trial is not None:
        found.append(("trial", {"valueString": "mean of the trials" if field.trial == "mean" else str(field.trial)}))
    words = field.status is None and not numbered  # the qualifier is then the answer itself
    for key in _DETAILS[words:]:
        if text := printable(getattr(field, key) or ""):
            found.append((key, {"valueString": text}))
    return [{"code": {"text": name}, **value} for name, value in found]
