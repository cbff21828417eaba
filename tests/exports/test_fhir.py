"""FHIR: a document bundle that fhir.resources validates, whole and closed, of R4's elements, its states and codes right.

Rules named bdl-, cmp-, obs- are invariants of the FHIR specification, R4 (hl7.org/fhir/R4), quoted from memory: the library
checks types and cardinalities, not these.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from exported import ACCENTS, HOSTILE, numbered, said, signed_examination
from fhir.resources.R4B.bundle import Bundle
from hypothesis import given, settings
from hypothesis import strategies as st
from scripted import ENDING, SHIPPED, WHEN, WHO, Script, decide_all, in_memory, invented_examination

from dictation.exports.fhir.bundle import render_fhir
from dictation.lexicon.entries import Concept
from dictation.note.options import NoteOptions
from dictation.note.printable import printable
from dictation.review.records import SignedRecord

TYPES = {"Bundle", "Composition", "Practitioner", "Observation", "BodyStructure", "Provenance"}
"""None of these is among what R4B changed: hl7.org/fhir/R4B/history.html, release 4.3.0 (seen)."""

ELEMENTS = {
    "Observation": "text identifier status category code subject effectiveDateTime issued performer valueQuantity valueRange "
    "valueCodeableConcept valueString dataAbsentReason interpretation note bodySite method component",
    "BodyStructure": "location locationQualifier patient",
    "Practitioner": "name qualification",
    "Provenance": "target occurredDateTime recorded activity agent entity",
    "Composition": "text identifier status type subject date author title attester relatesTo section",
}
"""Elements of R4 that the export uses, quoted from memory."""


def _bundle(record: SignedRecord, options: NoteOptions | None = None) -> dict[str, Any]:
    """The bundle, validated by fhir.resources, and the same after a round trip through it."""
    made = render_fhir(record, SHIPPED, options or NoteOptions())
    found: dict[str, Any] = json.loads(made)
    again = Bundle.model_validate_json(made)
    assert json.loads(again.model_dump_json()) == found
    return found


def _of(bundle: dict[str, Any], kind: str) -> list[dict[str, Any]]:
    resources = [entry["resource"] for entry in bundle["entry"]]
    return [one for one in resources if one["resourceType"] == kind]


def _by_field(bundle: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {one["identifier"][0]["value"].split("/")[1]: one for one in _of(bundle, "Observation")}


def _values(node: Any, key: str) -> Iterator[Any]:
    if isinstance(node, dict):
        for name, value in node.items():
            if name == key:
                yield value
            yield from _values(value, key)
    elif isinstance(node, list):
        for value in node:
            yield from _values(value, key)


def _sections(sections: list[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    for section in sections:
        yield section
        yield from _sections(section.get("section", []))


def _check(bundle: dict[str, Any]) -> None:
    """The invariants of a document, and that it is closed: what it refers to is in it, what is in it is referred to."""
    assert bundle["type"] == "document"
    assert set(bundle["identifier"]) == {"system", "value"}  # bdl-9
    assert bundle["timestamp"]  # bdl-10
    resources = [entry["resource"] for entry in bundle["entry"]]
    assert resources[0]["resourceType"] == "Composition"  # bdl-11
    assert {one["resourceType"] for one in resources} <= TYPES
    urls = [entry["fullUrl"] for entry in bundle["entry"]]
    assert urls == [f"urn:uuid:{one['id']}" for one in resources]
    assert len(set(urls)) == len(urls)  # bdl-7
    referred = set(_values(bundle, "reference"))
    provenance = {f"urn:uuid:{one['id']}" for one in _of(bundle, "Provenance")}
    assert referred | provenance | {urls[0]} == set(urls)
    for one in resources:
        used = set(one) - {"resourceType", "id"}
        assert used <= set(ELEMENTS[one["resourceType"]].split()), one["resourceType"]
    sections = list(_sections(resources[0]["section"]))
    assert all({"text", "entry", "section"} & set(section) for section in sections)  # cmp-1
    entered = [entry["reference"] for section in sections for entry in section.get("entry", [])]
    assert sorted(entered) == sorted(f"urn:uuid:{one['id']}" for one in _of(bundle, "Observation"))
    for one in _of(bundle, "Observation"):
        values = [name for name in one if name.startswith("value")]
        assert len(values) + ("dataAbsentReason" in one) == 1  # obs-6
        assert all(part["code"] != one["code"] for part in one.get("component", []))  # obs-7
    for system in _values(bundle, "system"):
        assert re.fullmatch(r"urn:[a-z0-9:-]+|http://[a-zA-Z0-9./-]+", system), system


def test_the_invented_examination_is_a_document(tmp_path: Path) -> None:
    record = signed_examination(tmp_path, numbered(), examined="2025-03-04 14:00")
    bundle = _bundle(record)
    _check(bundle)
    fields = _by_field(bundle)
    assert set(fields) == {decision.field.id for decision in record.complete.kept}
    assert bundle["identifier"]["value"] == f"{record.signature.checksum}.{record.head}"
    assert record.head in json.dumps(_of(bundle, "Provenance"))

    extension = fields["f7"]
    assert extension["valueQuantity"] == {"value": -20, "unit": "deg", "system": "http://unitsofmeasure.org", "code": "deg"}
    assert extension["note"] == [{"text": "lacks 20° of extension"}]
    assert extension["bodySite"]["text"] == "LEFT elbow"
    assert fields["f6"]["method"] == {"text": "active"}
    assert fields["f8"]["valueString"] == "4+ out of 5"
    assert fields["f3"]["valueCodeableConcept"]["text"] == "absent"
    assert fields["f3"]["interpretation"][0]["coding"][0]["code"] == "NEG"
    assert fields["f9"]["interpretation"][0]["coding"][0]["code"] == "POS"
    assert fields["f10"]["valueCodeableConcept"]["coding"][0]["code"] == "suspected"
    assert "interpretation" not in fields["f10"]
    assert fields["f1"]["valueCodeableConcept"]["coding"][0]["code"] == "24028007"
    assert "bodySite" not in fields["f1"]
    assert fields["f2"]["component"][0]["valueCodeableConcept"]["text"] == "mild"
    assert {one["effectiveDateTime"] for one in fields.values()} == {"2025-03-04"}
    assert {one["issued"] for one in fields.values()} == {"2025-03-04T14:30:00+01:00"}
    assert {one["status"] for one in fields.values()} == {"final"}


def test_the_side_is_in_the_words_and_coded(tmp_path: Path) -> None:
    bundle = _bundle(signed_examination(tmp_path))
    places = {f"urn:uuid:{one['id']}": one for one in _of(bundle, "BodyStructure")}
    seen = 0
    for one in _of(bundle, "Observation"):
        if site := one.get("bodySite"):
            place = places[site["extension"][0]["valueReference"]["reference"]]
            codes = {c["code"] for q in place["locationQualifier"] for c in q.get("coding", [])}
            assert codes == {"24028007"} if site["text"].startswith("RIGHT") else {"7771000"}
            seen += 1
    assert seen == 10


def test_the_patient_is_a_placeholder_by_reference_only(tmp_path: Path) -> None:
    bundle = _bundle(signed_examination(tmp_path))
    subjects = {json.dumps(one) for key in ("subject", "patient") for one in _values(bundle, key)}
    assert len(subjects) == 1
    assert json.loads(subjects.pop())["identifier"]["value"] == "H-2041"
    assert not _of(bundle, "Patient")


def _scripts(concepts: Iterable[Concept]) -> list[Script]:
    """Each concept with every status it may carry, and with a number, a range or words where it takes them."""
    scripts, script = [], Script()
    for concept in concepts:
        side = {"side": "left"} if "side" in concept.takes else {}
        for status in concept.statuses:
            script.say(concept.id, "x", status=status, **side)
        if concept.unit:
            low, high = concept.plausible or (0.0, 5.0)
            script.say(concept.id, "x", value=low, unit=concept.unit, **side)
            script.say(concept.id, "x", low=low, high=high, unit=concept.unit, **side)
        if not concept.statuses or concept.unit is None:
            details = {"severity": "mild", "trial": 2, "occasion": "before", "position": "seated"}
            script.say(concept.id, "x", qualifier="as told", **details, **side)
        if len(script.fields) > 60:  # deciding takes longer the more there is
            scripts.append(script)
            script = Script()
    return [*scripts, script]


def _validated(concepts: Iterable[Concept]) -> set[tuple[str, str | None]]:
    """The concepts and statuses of bundles that were validated."""
    seen: set[tuple[str, str | None]] = set()
    for script in _scripts(concepts):
        review = in_memory(script, SHIPPED)
        decide_all(review)
        record = review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING)
        bundle = _bundle(record)
        _check(bundle)
        seen |= {(d.field.concept, d.field.status) for d in record.complete.kept}
    return seen


def test_every_kind_of_concept_and_status_validates() -> None:
    ways = {(c.kind, c.unit, c.statuses): c for c in SHIPPED.concepts.values()}
    seen = _validated(ways.values())
    assert {SHIPPED.concepts[name].kind for name, _ in seen} == {concept.kind for concept in SHIPPED.concepts.values()}
    assert len(seen) > 100


@pytest.mark.slow
def test_every_concept_of_the_lexicon_validates_in_every_status() -> None:
    seen = _validated(SHIPPED.concepts.values())
    assert {concept for concept, _ in seen} == set(SHIPPED.concepts)
    assert len(seen) > 1000


def test_what_was_entered_in_error_and_what_is_superseded(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    decide_all(review)
    signed = review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING)
    before = _bundle(signed)
    record = review.add_addendum("The scar is wrong.", "Dr B. Invented", "Registrar", WHEN, ending=ENDING, errors=["f4"])
    bundle = _bundle(record)
    _check(bundle)
    composition = bundle["entry"][0]["resource"]
    assert composition["status"] == "amended"
    assert composition["relatesTo"][0]["targetIdentifier"]["value"] == before["identifier"]["value"]
    assert "The scar is wrong." in json.dumps(composition["section"])
    states = {name: one["status"] for name, one in _by_field(bundle).items()}
    assert [name for name, status in states.items() if status == "entered-in-error"] == ["f4"]
    assert "ENTERED IN ERROR" in _by_field(bundle)["f4"]["text"]["div"]
    first = _bundle(record, NoteOptions(as_signed=True))
    _check(first)
    assert first["identifier"] == before["identifier"]
    assert first["meta"]["tag"][0]["code"] == "superseded"
    assert first["entry"][0]["resource"]["title"].startswith("SUPERSEDED")
    assert {one["status"] for one in _of(first, "Observation")} == {"final"}
    assert "tag" not in before["meta"]


def test_a_demonstration_names_no_practitioner_and_is_marked_as_test_data(tmp_path: Path) -> None:
    bundle = _bundle(signed_examination(tmp_path, demonstration=True))
    _check(bundle)
    assert not _of(bundle, "Practitioner")
    assert bundle["meta"]["tag"][0]["code"] == "HTEST"
    assert bundle["entry"][0]["resource"]["status"] == "preliminary"
    assert {one["status"] for one in _of(bundle, "Observation")} == {"preliminary"}


def test_a_rejected_statement_is_not_there_and_who_decided_is(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    review.reject("f5", "said by the student", "Dr C. Invented", WHEN)
    review.confirm("f3", "Dr C. Invented", WHEN)
    review.add("radial_pulse", {"side": "right", "status": "normal"}, WHO, WHEN)
    decide_all(review)
    bundle = _bundle(review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING))
    fields = _by_field(bundle)
    assert "f5" not in fields
    assert fields["f3"]["performer"][0]["display"] == "Dr C. Invented"
    activities = {one["activity"]["text"] for one in _of(bundle, "Provenance")}
    assert activities == {"confirmed", "amended", "added by hand", "signed"}
    targets = [t["reference"] for one in _of(bundle, "Provenance") for t in one["target"]]
    assert {f"urn:uuid:{one['id']}" for one in fields.values()} < set(targets)


class _Text(HTMLParser):
    def __init__(self, div: str) -> None:
        super().__init__()
        self.text, self.tags = "", set[str]()
        self.feed(div)

    def handle_starttag(self, tag: str, attrs: object) -> None:
        self.tags.add(tag)

    def handle_data(self, data: str) -> None:
        self.text += data


def test_whatever_was_spoken_is_text_alone(tmp_path: Path) -> None:
    words = [*HOSTILE, ACCENTS]
    bundle = _bundle(signed_examination(tmp_path, said(*words)))
    _check(bundle)
    for text, one in zip(words, _of(bundle, "Observation"), strict=True):
        narrative = _Text(one["text"]["div"])
        assert narrative.tags <= {"div", "p", "ul", "li"}
        assert narrative.text == f"Scar on the RIGHT{', ' * bool(printable(text))}{printable(text)}."
        components = {part["code"]["text"]: part["valueString"] for part in one.get("component", [])}
        assert components.get("qualifier", "") == printable(text)
    assert not set(json.dumps(bundle, ensure_ascii=False)) & set("\x1b\x07\x00\x01\x0b\u202e\u2066\ufffe")


@settings(deadline=None, max_examples=25)
@given(st.floats(-60, 100), st.sampled_from([None, "<", "<=", ">=", ">"]), st.sampled_from(["right", "left"]))
def test_a_number_comes_back_as_it_was(value: float, comparator: str | None, side: str) -> None:
    script = Script()
    script.say("wrist_extension", "x", value=value, unit="deg", comparator=comparator, side=side)
    review = in_memory(script, SHIPPED)
    decide_all(review)
    quantity = _of(_bundle(review.sign("Dr A.", "Surgeon", WHEN, ending=ENDING)), "Observation")[0]["valueQuantity"]
    assert float(quantity["value"]) == pytest.approx(value, abs=0)
    assert quantity.get("comparator") == comparator
