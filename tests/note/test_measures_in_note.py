"""Measures in the note: off unless the clinic has them printed, each with its formula and source, from what stands alone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from scripted import ENDING, SHIPPED, WHEN, WHO, Script

from dictation.errors import InputError
from dictation.measurement.tables import RANGE_SOURCES
from dictation.note.text import render_text
from dictation.note.wording import word_field
from dictation.review.opening import open_review
from dictation.review.records import SignedRecord
from dictation.review.rules import Review
from dictation.reviewing import note_options
from dictation.settings import Settings
from dictation.store.facts import Details
from dictation.store.store import open_store


def _settings(**given: Any) -> Settings:
    return Settings(Path("data"), Path("store"), Path("cache"), **given)


def _review(age: int | None = 54) -> Review:
    script = Script()
    for side, degrees in (("right", 40.0), ("left", 70.0)):
        script.say("wrist_extension", "x", side=side, value=degrees, unit="deg", mode="active")
    script.say("phalen_test", "x", side="right", status="positive")
    store = open_store(Path("memory"), "sqlite://")
    encounter = store.open_encounter(f"H-{ENDING}", Details(age=age, sex="female"), WHO, WHEN)
    content = script.draft().model_dump_json().encode()
    sha256 = encounter.take_draft(content, "0" * 64, "invented", spoken=False, who=WHO, time=WHEN)
    review = open_review(encounter, sha256, SHIPPED, lambda field: word_field(field, SHIPPED))
    for name in list(review.state.pending):
        review.confirm(name, WHO, WHEN)
    return review


def _signed(review: Review) -> SignedRecord:
    return review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING)


def _note(record: SignedRecord, settings: Settings) -> str:
    return " ".join(render_text(record, SHIPPED, note_options(record, settings)).split())


def test_none_is_printed_unless_it_is_switched_on() -> None:
    record = _signed(_review())
    assert "MEASURES" not in _note(record, _settings())
    assert "worked out" not in _note(record, _settings())


def test_each_is_printed_with_its_side_formula_and_source() -> None:
    note = _note(_signed(_review()), _settings(measures_in_note="yes", normal_table="ama"))
    assert "MEASURES" in note
    assert "RIGHT: " in note.split("MEASURES")[1]
    assert "(worked out: " in note
    assert RANGE_SOURCES["ama"] in note
    assert RANGE_SOURCES["ama"] not in _note(_signed(_review()), _settings())


def test_scores_are_printed_where_they_are_switched_on_and_for_adults() -> None:
    switched = _settings(scores=("likelihood_ratio",))
    note = _note(_signed(_review()), switched)
    assert "MEASURES" in note
    assert "30° less" not in note  # other measures stay off
    assert "MEASURES" not in _note(_signed(_review(age=9)), switched)


def test_nothing_follows_from_what_was_entered_in_error() -> None:
    review = _review()
    _signed(review)
    record = review.add_addendum("Wrong.", WHO, "Surgeon", WHEN, ending=ENDING, errors=["f1", "f2", "f3"])
    assert "MEASURES" not in _note(record, _settings(measures_in_note="yes"))


def test_a_table_or_score_that_there_is_none_of_is_named() -> None:
    record = _signed(_review())
    for given, name in (({"normal_table": "nobody"}, "normal_table"), ({"scores": ("luck",)}, "scores")):
        with pytest.raises(InputError, match=name):
            note_options(record, _settings(**given))
