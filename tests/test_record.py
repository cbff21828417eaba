"""The draft record survives save and load; what is none, damaged or newer is refused in a sentence without patient text."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from pydantic import ValidationError
from strategies import drafts

from dictation import draft_from_text
from dictation.errors import InputError, RecordError
from dictation.record import PARTS, SCHEMA_VERSION, DraftRecord, RecordField, read_draft

SECRET = "Zebedee"
TEXT = f"Left wrist. Snuffbox tender over the {SECRET} scar. Flexion seventy degrees, extension 4+/5."
FIELD_KEYS = {
    "id", "part", "concept", "side", "digit", "joint", "structure", "aspect", "status", "certainty", "severity", "value",
    "low", "high", "unit", "comparator", "grade_sign", "trial", "position", "occasion", "qualifier", "mode", "confidence",
    "flags", "evidence", "decision",
}  # fmt: skip


def saved(tmp_path: Path, data: Any) -> Path:
    path = tmp_path / "one.draft.json"
    path.write_text(data if isinstance(data, str) else json.dumps(data), encoding="utf-8")
    return path


def plain() -> dict[str, Any]:
    return dict(json.loads(draft_from_text(TEXT).model_dump_json()))


def test_the_names_of_the_json_are_those_of_the_contract() -> None:
    data = plain()
    assert set(data) == {
        "schema_version", "source", "transcript", "runs", "fields", "unplaced", "not_mentioned", "computed",
    }  # fmt: skip
    assert data["fields"]
    assert all(set(field) == FIELD_KEYS for field in data["fields"])
    assert {"said", "start", "end", "probability"} == set(data["transcript"]["words"][0])
    assert {"role", "said", "corrected", "words", "start", "end"} == set(data["fields"][0]["evidence"][0])
    assert {"side", "words", "start", "end", "fields"} == set(data["runs"][0])
    assert {field["part"] for field in data["fields"]} <= set(PARTS)


def test_a_corrected_word_names_the_heard_words_under_from() -> None:
    assert set(plain()["transcript"]["corrected"][0]) == {"text", "from", "reason", "distance", "runner_up"}


def test_a_draft_survives_save_and_load(tmp_path: Path) -> None:
    record = draft_from_text(TEXT)
    assert read_draft(saved(tmp_path, record.model_dump_json())) == record


@given(drafts())
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
def test_any_draft_survives_save_and_load(tmp_path: Path, record: DraftRecord) -> None:
    text = record.model_dump_json()
    again = read_draft(saved(tmp_path, text))
    assert again == record
    assert again.model_dump_json() == text


@pytest.mark.parametrize("version", ["2.0", "2.7", "99"])
def test_a_newer_schema_is_refused(tmp_path: Path, version: str) -> None:
    path = saved(tmp_path, plain() | {"schema_version": version, "news": SECRET})
    with pytest.raises(RecordError, match=f"{version}, newer than this program's {SCHEMA_VERSION}; update") as err:
        read_draft(path)
    assert SECRET not in str(err.value)


@pytest.mark.parametrize(
    "text",
    ["", "nonsense", "[]", "null", "12", '"Zebedee"', "{}", '{"schema_version": "Zebedee"}', '{"schema_version": null}',
     '{"schema_version": "1.0"', "[" * 5000],
)  # fmt: skip
def test_what_is_no_draft_is_refused(tmp_path: Path, text: str) -> None:
    with pytest.raises(RecordError, match=r"one\.draft\.json is not a draft record; draft the recording again\.") as err:
        read_draft(saved(tmp_path, text))
    assert SECRET not in str(err.value)


def _set(*where: Any, to: Any) -> Any:
    def damage(data: dict[str, Any]) -> None:
        place: Any = data
        for key in where[:-1]:
            place = place[key]
        place[where[-1]] = to

    return damage


DAMAGE = [
    _set("source", to=None),
    _set("fields", to={}),
    _set("fields", 0, "side", to=SECRET),
    _set("fields", 0, "value", to="12"),
    _set("fields", 0, "value", to=True),
    _set("fields", 0, "value", to=float("nan")),
    _set("fields", 0, "value", to=float("inf")),
    _set("fields", 0, "confidence", to=1.5),
    _set("fields", 0, "part", to=SECRET),
    _set("fields", 0, "decision", to=SECRET),
    _set("fields", 0, "trial", to="Zebedee"),
    _set("fields", 0, "more", to=SECRET),
    _set("fields", 0, "flags", to=[{"code": SECRET, "level": "check", "message": ""}]),
    _set("fields", 0, "evidence", 0, "words", to=[0, 900]),
    _set("fields", 0, "evidence", 0, "words", to=[-1, 2]),
    _set("fields", 0, "evidence", 0, "words", to=[2, 1]),
    _set("fields", 0, "id", to="the same"),
    _set("transcript", "words", 0, "said", to=12),
    _set("transcript", "corrected", 0, "from", to=[0, 900]),
    _set("runs", 0, "fields", to=[SECRET]),
    _set("computed", to=["grip ratio"]),
]


@pytest.mark.parametrize("damage", DAMAGE)
def test_a_damaged_draft_is_refused_without_showing_what_it_holds(tmp_path: Path, damage: Any) -> None:
    data = plain()
    data["fields"][1]["id"] = "the same"
    damage(data)
    if data["fields"] and isinstance(data["fields"], list) and data["fields"][0]["id"] != "the same":
        assert data != plain()
    with pytest.raises(RecordError) as err:
        read_draft(saved(tmp_path, data))
    message = str(err.value)
    assert message.startswith("one.draft.json does not fit the record")
    assert message.endswith(("draft again.", "draft the recording again."))
    assert SECRET not in message
    assert "scar" not in message


def test_the_undamaged_draft_is_read(tmp_path: Path) -> None:
    """The damage above is what is refused, not the draft it was done to."""
    assert len(read_draft(saved(tmp_path, plain())).fields) >= 2


def test_a_file_that_cannot_be_read_is_an_input_error(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"Cannot read gone\.json: FileNotFoundError"):
        read_draft(tmp_path / "gone.json")
    with pytest.raises(InputError, match="Cannot read"):
        read_draft(tmp_path)
    (tmp_path / "bytes.json").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match=r"bytes\.json: UnicodeDecodeError"):
        read_draft(tmp_path / "bytes.json")


@pytest.mark.parametrize("value", ["12", True, float("nan"), float("inf")])
def test_a_value_is_a_finite_number(value: Any) -> None:
    with pytest.raises(ValidationError) as err:
        RecordField(id="one", part="look", concept="swelling", value=value)
    assert "input_value" not in str(err.value)


def test_checked_means_a_flag_that_asks_to_look() -> None:
    flagged = {f.concept: f.checked() for f in draft_from_text("Left wrist. Snuffbox tender. Elbow extension 20.").fields}
    assert flagged == {"tenderness": False, "elbow_extension": True}
