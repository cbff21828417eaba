"""JSON: valid against the schema that is published, by a validator that is not ours, and nothing lost on the way."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from exported import ACCENTS, HOSTILE, said, signed_examination
from scripted import ENDING, WHEN, WHO, again, decide_all, invented_examination

from dictation.exports.json_record import SCHEMA, SignedExport, json_schema, render_json
from dictation.note.options import NoteOptions
from dictation.review.records import SignedRecord

PUBLISHED = json.loads(SCHEMA.read_text(encoding="utf-8"))


def _valid(record: SignedRecord, options: NoteOptions | None = None) -> dict[str, Any]:
    """Validated against JSON Schema, draft 2020-12, by the jsonschema library."""
    found: dict[str, Any] = json.loads(render_json(record, options or NoteOptions()))
    jsonschema.Draft202012Validator(PUBLISHED).validate(found)
    return found


def test_the_published_schema_is_the_one_of_the_classes_and_a_schema() -> None:
    assert SCHEMA.read_text(encoding="utf-8") == json_schema()
    jsonschema.Draft202012Validator.check_schema(PUBLISHED)


def test_an_export_holds_the_record_with_its_outcome(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    review.reject("f5", "said by the student", WHO, WHEN)
    review.add("radial_pulse", {"side": "right", "status": "normal"}, WHO, WHEN)
    decide_all(review)
    review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING, examined="2025-03-04 14:00")
    record = again(review).signed()
    found = _valid(record)
    outcome = {field["id"]: field["decision"] for field in found["record"]["fields"]}
    assert outcome["f5"] == "rejected"
    assert outcome["f11"] == "amended"
    assert len(outcome) == 12
    assert [d["added"] for d in found["decisions"]].count(True) == 1
    assert next(d["reason"] for d in found["decisions"] if d["field"] == "f5") == "said by the student"
    assert (found["checksum_sha256"], found["journal_head_sha256"]) == (record.signature.checksum, record.head)
    assert found["signature"]["time"] == {"at": "2025-03-04T13:30:00Z", "utc_offset_min": 60}
    assert found["record"]["transcript"]["words"]
    assert SignedExport.model_validate_json(json.dumps(found)).model_dump(mode="json", by_alias=True) == found


def test_addenda_and_what_they_supersede(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    decide_all(review)
    review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING)
    record = review.add_addendum("Seen again.", "Dr B. Invented", "Registrar", WHEN, ending=ENDING, errors=["f4"])
    assert [d["field"] for d in _valid(record)["decisions"] if d["entered_in_error"]] == ["f4"]
    assert _valid(record)["addenda"][0]["text"] == "Seen again."
    first = _valid(record, NoteOptions(as_signed=True))
    assert (first["state"], first["addenda"]) == ("superseded", [])


def test_whatever_was_spoken_comes_back_as_it_was(tmp_path: Path) -> None:
    words = [text.encode("utf-8", "ignore").decode() for text in (*HOSTILE, ACCENTS)]
    found = _valid(signed_examination(tmp_path, said(*words)))
    assert [field["qualifier"] for field in found["record"]["fields"]] == words


@pytest.mark.parametrize("breaks", [{"state": "draft"}, {"checksum_sha256": "x"}, {"extra": 1}])
def test_the_schema_refuses_what_is_no_export(tmp_path: Path, breaks: dict[str, Any]) -> None:
    found = _valid(signed_examination(tmp_path)) | breaks
    assert not jsonschema.Draft202012Validator(PUBLISHED).is_valid(found)
