"""What an encounter states of the examination is under the signature and in the note."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from scripted import ENDING, LEXICON, REFERENCE, WHEN, WHO, again, decide_all, invented_examination

from dictation.errors import RecordError
from dictation.note.text import render_text
from dictation.review.checksum import record_checksum
from dictation.review.rules import Review
from dictation.store.facts import DETAILED, Details
from dictation.store.journal import Step
from dictation.store.store import open_store

STATED: Mapping[str, Any] = {
    "purpose": "after operation", "age": 54, "sex": "female", "consent": "given", "examined": "2025-03-04 14:00",
    "examiner": "Dr A. Invented", "role": "Hand surgeon", "present": "an interpreter",
}  # fmt: skip


def _review(tmp_path: Path, **stated: Any) -> Review:
    store = open_store(tmp_path / "store")
    store.open_encounter(REFERENCE, Details(**stated), WHO, WHEN)
    review = invented_examination().take(store)
    decide_all(review)
    return review


def _change(review: Review, **after: Any) -> None:
    review.journal.encounter.append([Step(DETAILED, before={}, after=after)], WHO, WHEN)


def test_every_detail_stated_is_in_the_preview_and_in_the_note(tmp_path: Path) -> None:
    review = _review(tmp_path, **STATED)
    before = render_text(review.complete(), LEXICON)
    review.sign(WHO, "Hand surgeon", WHEN, ending=ENDING)
    for text in (before, render_text(again(review).signed(), LEXICON)):
        for said in ("after operation", "54 years, female", "Dr A. Invented, Hand surgeon", "an interpreter", "given", "14:00"):
            assert said in text


def test_what_was_not_stated_is_not_in_the_note(tmp_path: Path) -> None:
    text = render_text(_review(tmp_path).complete(), LEXICON)
    assert not any(name in text for name in ("Purpose", "Age and sex", "Examiner", "Also present", "Consent"))


@pytest.mark.parametrize("detail", STATED)
def test_each_detail_is_under_the_checksum(tmp_path: Path, detail: str) -> None:
    review = _review(tmp_path, **STATED)
    complete = review.complete()
    other = {"purpose": "nerve", "age": 55, "sex": "male", "consent": "withdrawn", "examined": "2025-03-04 15:00"}
    _change(review, **{detail: other.get(detail, "another")})
    assert record_checksum(review.complete(), "1") != record_checksum(complete, "1")


def test_a_detail_changed_after_signing_changes_neither_record_nor_note(tmp_path: Path) -> None:
    review = _review(tmp_path, **STATED)
    signed = review.sign(WHO, "Hand surgeon", WHEN, ending=ENDING)
    note = render_text(signed, LEXICON)
    _change(review, purpose="nerve", age=23)
    later = again(review).signed()
    later.verify()
    assert later.complete.details == Details(**STATED)
    assert render_text(later, LEXICON) == note
    assert again(review).details.age == 23


def test_a_signature_that_kept_no_details_still_verifies(tmp_path: Path) -> None:
    review = _review(tmp_path, **STATED)
    complete = review.complete()
    signature = review.sign(WHO, "Hand surgeon", WHEN, ending=ENDING).signature
    assert signature.details == complete.details
    entry = review.journal.entries[-1]
    old = {key: value for key, value in entry.after.items() if key != "details"}
    other = _review(tmp_path / "old", **STATED)
    old["checksum"] = _without_details(other)
    other.journal.append([Step("signed", after=old)], WHO, WHEN)
    signed = again(other).signed()
    assert signed.complete.details is None
    assert "Examined" in render_text(signed, LEXICON)


def _without_details(review: Review) -> str:
    from dataclasses import replace

    from dictation import __version__

    return record_checksum(replace(review.complete(), details=None), __version__)


def test_details_that_fit_no_encounter_are_a_broken_entry(tmp_path: Path) -> None:
    review = _review(tmp_path, **STATED)
    review.sign(WHO, "Hand surgeon", WHEN, ending=ENDING)
    after = review.journal.entries[-1].after
    other = _review(tmp_path / "other")
    other.journal.append([Step("signed", after={**after, "details": {"purpose": "a secret"}})], WHO, WHEN)
    with pytest.raises(RecordError, match="does not fit its draft") as caught:
        again(other)
    assert "secret" not in str(caught.value)
