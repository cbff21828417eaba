"""A signed record as a FHIR document bundle: Composition, an Observation a field, people, places, Provenance.

Written and validated as R4B by fhir.resources, and made only of resources and elements that R4B left as they were in R4,
so that it is R4 too. The patient is a placeholder by reference only. The mapping is in DEVELOPERS.md, "FHIR".
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from fhir.resources.R4B.bundle import Bundle

from dictation import __version__
from dictation.exports.fhir.codes import ASSEMBLER, ATTESTER, AUTHOR, OWN, SECTIONS, TEST_DATA, coding, concept_of
from dictation.exports.fhir.context import Context, instant, narrative
from dictation.exports.fhir.observation import body_structure, observation, place_name
from dictation.lexicon.entries import Lexicon
from dictation.note.content import DEMONSTRATION, DOES_NOT, superseded
from dictation.note.facts import record_facts
from dictation.note.merging import confirmed
from dictation.note.options import NoteOptions
from dictation.note.order import order_by_part
from dictation.note.printable import printable
from dictation.note.wording import HEADINGS
from dictation.review.decisions import Addendum, Decision
from dictation.review.records import SignedRecord

TITLE = "Hand, wrist and elbow examination"
_APART = ("context", "reported")
_CONCLUDING = ("impression", "plan")


def render_fhir(record: SignedRecord, lexicon: Lexicon, options: NoteOptions) -> str:
    """Return the bundle as JSON, ending in a newline. Raises RecordError where the record is not what was signed."""
    return Bundle.model_validate(document_bundle(record, lexicon, options)).model_dump_json(indent=2) + "\n"


def document_bundle(record: SignedRecord, lexicon: Lexicon, options: NoteOptions) -> dict[str, Any]:
    """Return the bundle as FHIR's JSON has it. Raises RecordError where the record is not what was signed."""
    record.verify()
    context = Context(record, lexicon, superseded=options.as_signed and bool(record.addenda))
    errors = {} if context.superseded else record.in_error
    sentences = {d.field.id: _sentence(d, errors) for d in record.complete.kept}
    right = "preliminary" if record.signature.demonstration else "final"
    observations = [
        observation(d, context, status="entered-in-error" if d.field.id in errors else right, sentence=sentences[d.field.id])
        for d in record.complete.kept
    ]
    places = {
        place["id"]: place
        for d in record.complete.kept
        if place_name(d.field, context)
        for place in [body_structure(d.field, context)]
    }
    composition = _composition(context, sentences, options)
    resources = [composition, *observations, *places.values(), *_provenances(context)]
    resources[1:1] = context.people.values()  # met by all of these
    return {
        "resourceType": "Bundle",
        "id": context.uuid("Bundle", ""),
        "meta": _meta(context),
        "identifier": {"system": f"{OWN}:document", "value": f"{record.signature.checksum}.{context.version}"},
        "type": "document",
        "timestamp": composition["date"],
        "entry": [{"fullUrl": f"urn:uuid:{one['id']}", "resource": one} for one in resources],
    }


def _sentence(decision: Decision, errors: dict[str, int]) -> str:
    number = errors.get(decision.field.id)
    return f"ENTERED IN ERROR (addendum {number}): {confirmed(decision)}" if number else confirmed(decision)


def _meta(context: Context) -> dict[str, Any]:
    tags = [coding((f"{OWN}:state", "superseded", "Superseded by an addendum"))] if context.superseded else []
    tags += [coding(TEST_DATA)] if context.record.signature.demonstration else []
    return {"tag": tags} if tags else {"source": f"{OWN}:{__version__}"}


def _addenda(context: Context) -> Sequence[Addendum]:
    return () if context.superseded else context.record.addenda


def _composition(context: Context, sentences: dict[str, str], options: NoteOptions) -> dict[str, Any]:
    record, addenda = context.record, _addenda(context)
    signature = record.signature
    banner = DEMONSTRATION if signature.demonstration else superseded(record.addenda) if context.superseded else None
    last = addenda[-1].time if addenda else signature.time
    signer = context.person(signature.signer, signature.role)
    made: dict[str, Any] = {
        "resourceType": "Composition",
        "id": context.uuid("Composition", ""),
        "text": narrative([banner or TITLE, DOES_NOT]),
        "identifier": {"system": f"{OWN}:record-sha256", "value": signature.checksum},
        "status": "preliminary" if signature.demonstration else "amended" if addenda else "final",
        "type": {"text": "Hand, wrist and elbow examination note"},
        "subject": context.patient(),
        "date": instant(last),
        "title": f"{banner.split(' ')[0]}: {TITLE}" if banner else TITLE,
        "section": [*_parts(context, sentences), *_rest(context, options)],
    }
    if not signature.demonstration:
        made["attester"] = [{"mode": "professional", "time": instant(signature.time), "party": signer}]
    made["author"] = [signer, *(context.person(one.signer, one.role) for one in addenda if one.signer != signature.signer)]
    if addenda:
        first = f"{signature.checksum}.{signature.head}"
        made["relatesTo"] = [{"code": "replaces", "targetIdentifier": {"system": f"{OWN}:document", "value": first}}]
    return made


def _parts(context: Context, sentences: dict[str, str]) -> Iterable[dict[str, Any]]:
    """The sections of the parts, those of the examination under one."""
    parts = order_by_part(context.record.complete.kept, context.lexicon)
    made = {part: _section(part, found, context, sentences) for part, found in parts}
    yield from (made[part] for part in _APART if part in made)
    examined = [section for part, section in made.items() if part not in (*_APART, *_CONCLUDING)]
    if examined:
        code = SECTIONS["examination"]
        yield {"title": "Examination", "code": concept_of(code), "section": examined}
    yield from (made[part] for part in _CONCLUDING if part in made)


def _section(
    part: str, found: Sequence[Decision], context: Context, sentences: dict[str, str]
) -> dict[str, Any]:
    made: dict[str, Any] = {"title": HEADINGS[part]}
    if part in SECTIONS:
        made["code"] = concept_of(SECTIONS[part])
    made["text"] = narrative([sentences[d.field.id] for d in found])
    made["entry"] = [context.reference("Observation", d.field.id) for d in found]
    return made


def _rest(context: Context, options: NoteOptions) -> Iterable[dict[str, Any]]:
    """Measures, addenda, and what the note says of its record."""
    if options.measures:
        lines = [f"{m.text} (worked out: {m.formula}; {m.source})" for m in options.measures]
        yield {"title": "Measures, worked out from confirmed statements", "text": narrative(lines)}
    for number, one in enumerate(_addenda(context), 1):
        said = f"{one.text} ({one.signer}, {one.role}, {one.time.words()})"
        yield {"title": f"Addendum {number}", "text": narrative([said])}
    facts = [f"{name}: {value}" for name, value in record_facts(context.record)]
    yield {"title": "Record", "text": narrative(facts)}


def _provenances(context: Context) -> Iterable[dict[str, Any]]:
    """Who decided what and when, together where it was one decision; who signed; who added."""
    record, signature = context.record, context.record.signature
    together: dict[tuple[str, str, str], list[Decision]] = {}
    for decision in record.complete.kept:
        done = "added by hand" if decision.added else str(decision.state)
        if decision.time:
            together.setdefault((decision.who or "", instant(decision.time), done), []).append(decision)
    for (who, time, done), found in together.items():
        targets = [context.reference("Observation", d.field.id) for d in found]
        yield _provenance(context, f"{who}/{time}/{done}", targets, time, done, [(AUTHOR, context.person(who))])
    program = {"display": printable(f"hand examination dictation {signature.program_version}")}
    signer = context.person(signature.signer, signature.role)
    document = [context.reference("Composition", "")]
    made = _provenance(
        context, "signed", document, instant(signature.time), "signed", [(ATTESTER, signer), (ASSEMBLER, program)]
    )
    source = record.complete.draft.source.sha256
    made["entity"] = [_entity("source-sha256", source), _entity("journal-head-sha256", record.head)]
    yield made
    for number, one in enumerate(_addenda(context), 1):
        agents = [(AUTHOR, context.person(one.signer, one.role))]
        yield _provenance(context, f"addendum/{number}", document, instant(one.time), "addendum", agents)


def _provenance(
    context: Context, name: str, targets: list[dict[str, str]], time: str, activity: str,
    agents: Iterable[tuple[tuple[str, str, str], dict[str, Any]]],
) -> dict[str, Any]:  # fmt: skip
    return {
        "resourceType": "Provenance",
        "id": context.uuid("Provenance", name),
        "target": targets,
        "occurredDateTime": time,
        "recorded": time,
        "activity": {"text": activity},
        "agent": [{"type": concept_of(role), "who": who} for role, who in agents],
    }


def _entity(system: str, value: str) -> dict[str, Any]:
    return {"role": "source", "what": {"identifier": {"system": f"{OWN}:{system}", "value": printable(value)}}}
