"""A signed record as JSON: the record with its outcome, every decision, the signature, what was added since.

Its JSON Schema is published beside this file (``signed_record.schema.json``) and made from the classes here. The record
in it is that of DEVELOPERS.md, "The record"; each field's ``decision`` is its outcome.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any, Literal

from pydantic import Field

from dictation.note.options import NoteOptions
from dictation.record import Base, DecisionState, DraftRecord, RecordField
from dictation.review.decisions import Decision
from dictation.review.records import SignedRecord
from dictation.store.journal import Moment

SCHEMA = Path(__file__).with_name("signed_record.schema.json")
SCHEMA_ID = "urn:hand-examination-dictation:signed-record:1"


class ExportedMoment(Base):
    """A point in time, UTC, and the minutes the local clock was ahead of it."""

    at: str = Field(pattern=r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ$")
    utc_offset_min: int


class ExportedDecision(Base):
    """Where one field stands.

    first: as drafted, null where added by hand. sentence: as confirmed, null where rejected. entered_in_error: an addendum
    says so.
    """

    field: str
    decision: DecisionState
    added: bool
    sentence: str | None
    entered_in_error: bool
    first: RecordField | None
    reason: str | None
    who: str
    time: ExportedMoment


class ExportedSignature(Base):
    """Who signed: named, not authenticated. demonstration: no clinician confirmed anything of this."""

    signer: str
    role: str
    time: ExportedMoment
    examined: str | None
    dictated: str | None
    program_version: str
    demonstration: bool


class ExportedAddendum(Base):
    """What was added after signing."""

    text: str
    signer: str
    role: str
    time: ExportedMoment


class ExportedEncounter(Base):
    """What was stated of the encounter when it was signed; null where it was not."""

    purpose: str | None
    age: int | None
    sex: str | None
    consent: str | None
    examined: str | None
    examiner: str | None
    role: str | None
    present: str | None


class ExportedMeasure(Base):
    """A value worked out from confirmed fields, with the ids of those, its formula and its source."""

    kind: str
    text: str
    side: Literal["right", "left"] | None
    digit: str | None
    value: float | None
    unit: str | None
    fields: list[str]
    formula: str
    source: str
    notes: list[str]


class SignedExport(Base):
    """The whole export. state: superseded where addenda were left out. record.fields: with those added by hand."""

    format: Literal["hand-examination-dictation/signed-record"] = "hand-examination-dictation/signed-record"
    version: Literal["1.0"] = "1.0"
    reference: str
    state: Literal["signed", "superseded"]
    checksum_sha256: str = Field(pattern="^[0-9a-f]{64}$")
    journal_head_sha256: str = Field(pattern="^[0-9a-f]{64}$")
    draft_sha256: str
    encounter: ExportedEncounter | None
    signature: ExportedSignature
    addenda: list[ExportedAddendum]
    record: DraftRecord
    decisions: list[ExportedDecision]
    measures: list[ExportedMeasure]


def render_json(record: SignedRecord, options: NoteOptions) -> str:
    """Return the export as indented JSON, ending in a newline. Raises RecordError where the record is not what was signed."""
    return export_record(record, options).model_dump_json(indent=2) + "\n"


def export_record(record: SignedRecord, options: NoteOptions) -> SignedExport:
    """Return the export. Raises RecordError where the record is not what was signed."""
    record.verify()
    complete, signature = record.complete, record.signature
    superseded = options.as_signed and bool(record.addenda)
    fields = [d.field.model_copy(update={"decision": d.state}) for d in complete.decisions]
    return SignedExport(
        reference=complete.reference,
        state="superseded" if superseded else "signed",
        checksum_sha256=signature.checksum,
        journal_head_sha256=record.head,
        draft_sha256=complete.draft_sha256,
        encounter=ExportedEncounter(**asdict(complete.details)) if complete.details else None,
        signature=ExportedSignature(
            signer=signature.signer,
            role=signature.role,
            time=_moment(signature.time),
            examined=signature.examined,
            dictated=signature.dictated,
            program_version=signature.program_version,
            demonstration=signature.demonstration,
        ),
        addenda=[
            ExportedAddendum(text=a.text, signer=a.signer, role=a.role, time=_moment(a.time))
            for a in (() if superseded else record.addenda)
        ],
        record=complete.draft.model_copy(update={"fields": fields}),
        decisions=[_decision(d, not superseded and d.field.id in record.in_error) for d in complete.decisions],
        measures=[
            ExportedMeasure(
                kind=m.kind, text=m.text, side=m.side, digit=m.digit, value=m.value, unit=m.unit, fields=list(m.inputs),
                formula=m.formula, source=str(m.source), notes=list(m.notes),
            )
            for m in options.measures
        ],
    )  # fmt: skip


def json_schema() -> str:
    """Return the JSON Schema of the export, as it is published."""
    made: dict[str, Any] = SignedExport.model_json_schema(mode="serialization", by_alias=True)
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema", "$id": SCHEMA_ID}
    return json.dumps({**head, **made}, indent=2, ensure_ascii=False) + "\n"


def _moment(time: Moment) -> ExportedMoment:
    return ExportedMoment(at=time.at, utc_offset_min=time.utc_offset_min)


def _decision(decision: Decision, entered_in_error: bool) -> ExportedDecision:
    assert decision.time is not None  # a complete record has nothing that nobody decided
    return ExportedDecision(
        field=decision.field.id,
        decision=decision.state,
        added=decision.added,
        sentence=decision.sentence,
        entered_in_error=entered_in_error,
        first=decision.first,
        reason=decision.reason,
        who=decision.who or "",
        time=_moment(decision.time),
    )
