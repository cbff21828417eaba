"""What was not mentioned, shown in the terminal review by the encounter's purpose; printed in no note."""

from __future__ import annotations

from pathlib import Path

import pytest
from scripted import LEXICON, REFERENCE, WHEN, WHO, Script

from dictation.completeness import purposes
from dictation.note.text import render_text
from dictation.review.rules import Review
from dictation.store import facts
from dictation.store.facts import Details
from dictation.store.store import open_store
from dictation.terminal.missing import show_missing
from dictation.terminal.walk import Walk


def _review(tmp_path: Path, purpose: str | None) -> Review:
    store = open_store(tmp_path)
    store.open_encounter(REFERENCE, Details(purpose=purpose), WHO, WHEN)
    script = Script()
    script.say("tenderness", "tender in the snuffbox", side="right", structure="anatomical_snuffbox", status="present")
    return script.take(store)


def _lines(review: Review, most: int | None = None) -> list[str]:
    return [line for line, _ in show_missing(review, most)]


def test_a_purpose_is_one_word_in_the_store_and_in_what_is_asked_for() -> None:
    assert set(facts.PURPOSES) == {purposes.GENERAL, *purposes.PURPOSES}


def test_what_the_findings_call_for_comes_first_whatever_the_purpose(tmp_path: Path) -> None:
    lines = _lines(_review(tmp_path, "rheumatoid"))
    assert lines[0].startswith("Not mentioned (rheumatoid examination)")
    assert lines[1].startswith(f"  RIGHT: {LEXICON.concepts['scaphoid_compression_test'].preferred}. The snuffbox is tender")
    assert any("synovitis" in line.casefold() for line in lines[2:])


def test_the_purpose_decides_what_else_is_named(tmp_path: Path) -> None:
    nerve, none = _lines(_review(tmp_path / "a", "nerve")), _lines(_review(tmp_path / "b", None))
    assert any("Froment" in line for line in nerve)
    assert none[0].startswith("Not mentioned (general examination)")
    assert nerve[2:] != none[2:]


def test_no_more_than_asked_for_and_the_rest_is_counted(tmp_path: Path) -> None:
    review = _review(tmp_path, "nerve")
    every, few = _lines(review), _lines(review, 2)
    assert few == [*every[:3], f"  … and {len(every) - 3} more; missing lists them."]


@pytest.mark.parametrize("rejected", [False, True])
def test_what_was_rejected_was_not_mentioned(tmp_path: Path, rejected: bool) -> None:
    review = _review(tmp_path, "trauma")
    name = review.add("malrotation", {"side": "right", "status": "absent"}, WHO, WHEN)
    if rejected:
        review.reject(name, "not looked at", WHO, WHEN)
    malrotation = f"  RIGHT: {LEXICON.concepts['malrotation'].preferred}."
    assert any(line.startswith(malrotation) for line in _lines(review)) is rejected


def test_it_stands_before_the_signature_and_in_no_note(tmp_path: Path) -> None:
    review = _review(tmp_path, "nerve")
    answers, shown = iter(["confirm", "missing", "sign", "Dr A", "Surgeon", "", "", "2041"]), list[str]()
    assert Walk(review, WHO, lambda prompt: next(answers), lambda line, tone: shown.append(line), lambda: WHEN).run()
    named = [n for n, line in enumerate(shown) if line.startswith("Not mentioned")]
    assert len(named) == 2  # before the signature, and asked for
    assert "Froment" not in render_text(review.signed(), LEXICON)
