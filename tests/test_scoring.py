"""The scorer counts what it says, on drafts wrong in one known way each."""

from __future__ import annotations

import importlib
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from scoring import score

NULLS = dict.fromkeys(("side", "digit", "joint", "structure", "status", "value", "low", "high", "unit", "mode"))
SWELLING = {**NULLS, "concept": "swelling", "side": "right", "status": "absent", "said": "no swelling"}
FLEXION = {
    **NULLS,
    "concept": "wrist_flexion",
    "side": "right",
    "value": 70,
    "unit": "deg",
    "said": "flexion seventy",
}
CASE = {"id": "one", "fields": [SWELLING, FLEXION]}
CHECK = [{"code": "side_missing", "level": "check", "message": ""}]
INFO = [{"code": "expanded", "level": "info", "message": ""}]


def _draft(*fields: dict[str, Any], unplaced: str | None = None) -> dict[str, Any]:
    return {"fields": list(fields), "unplaced": [{"text": unplaced}] if unplaced else []}


def test_all_right() -> None:
    total = score(CASE, _draft(SWELLING, {**FLEXION, "value": 70.0, "flags": INFO}))
    assert (total.f1, total.silent_per_100, total.right_checked_share, total.lost_share) == (
        1.0,
        0.0,
        0.0,
        0.0,
    )
    assert total.faults == []


@pytest.mark.parametrize(
    ("change", "kind"),
    [
        ({"side": "left"}, "side"),
        ({"status": "present"}, "polarity"),
        ({"value": 17.0}, "number"),
        ({"unit": "cm"}, "number"),
    ],
)
def test_a_silent_error_is_counted_by_kind_and_a_flagged_one_is_not(change: dict[str, Any], kind: str) -> None:
    field = SWELLING if "side" in change or "status" in change else FLEXION
    rest = FLEXION if field is SWELLING else SWELLING
    total = score(CASE, _draft(rest, {**field, **change}))
    assert (total.counts["silent"], total.counts[f"silent_{kind}"], total.silent_per_100) == (1, 1, 50.0)
    assert total.f1 == 0.5
    flagged = score(CASE, _draft(rest, {**field, **change, "flags": CHECK}))
    assert (flagged.counts["silent"], flagged.counts["wrong"]) == (0, 1)


def test_an_invented_field_is_silent_unless_flagged() -> None:
    pain = {**NULLS, "concept": "tenderness", "status": "present"}
    assert score(CASE, _draft(SWELLING, FLEXION, pain)).counts["silent_invented"] == 1
    assert score(CASE, _draft(SWELLING, FLEXION, {**pain, "flags": CHECK})).counts["silent_invented"] == 0
    assert score({"id": "talk", "fields": []}, _draft(pain)).silent_per_100 == 1.0


def test_the_same_field_twice_is_one_right_and_one_invented() -> None:
    total = score(CASE, _draft(SWELLING, SWELLING, FLEXION))
    assert (total.counts["right"], total.counts["invented"]) == (2, 1)


def test_reported_fields_are_judged_only_where_expected() -> None:
    pain = {**NULLS, "concept": "reported_pain", "side": "right", "status": "present"}
    assert score(CASE, _draft(SWELLING, FLEXION, pain)).f1 == 1.0
    assert score({"id": "talk", "fields": []}, _draft(pain)).counts["invented"] == 1
    other = {"id": "two", "fields": [{**pain, "side": "left"}]}
    assert score(other, _draft(pain)).counts["silent_side"] == 1


def test_what_is_missed_is_lost_unless_unplaced_speech_shows_it() -> None:
    assert score(CASE, _draft(SWELLING)).lost_share == 0.5
    assert score(CASE, _draft(SWELLING, unplaced="Flexion seventy degrees.")).lost_share == 0.0
    buried = "flexion seventy " + "and so on and on " * 5
    assert score(CASE, _draft(SWELLING, unplaced=buried)).lost_share == 0.5


def test_an_optional_field_counts_when_found_and_costs_nothing_when_missed() -> None:
    case = {"id": "three", "fields": [SWELLING, {**FLEXION, "optional": True}]}
    assert score(case, _draft(SWELLING)).f1 == 1.0
    assert score(case, _draft(SWELLING, FLEXION)).f1 == 1.0
    assert score(case, _draft(SWELLING, {**FLEXION, "value": 17})).counts["silent_number"] == 1


def test_right_fields_with_a_check_flag_are_counted() -> None:
    assert score(CASE, _draft({**SWELLING, "flags": CHECK}, FLEXION)).right_checked_share == 0.5


@pytest.mark.parametrize(("name", "shown"), [("phrases_more", True), ("phrases_second", True), ("phrases_blind", False)])
def test_the_benchmark_prints_no_fault_of_unseen_texts(
    name: str, shown: bool, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    root = Path(__file__).parents[1]
    monkeypatch.syspath_prepend(str(root))
    bench = importlib.import_module("tests.benchmarks.bench_text")
    nothing = SimpleNamespace(model_dump_json=lambda: '{"fields": []}')
    monkeypatch.setattr(bench, "draft_from_text", lambda text: nothing)
    monkeypatch.setattr(bench, "FILES", [root / "tests" / "cases" / f"{name}.jsonl"])
    monkeypatch.setattr(sys, "argv", ["bench_text", "--faults", "5"])
    bench.main()
    assert ("Fault(" in capsys.readouterr().out) is shown
