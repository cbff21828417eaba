"""A recording drafted again: what each statement was in the draft before, and no decision moves by itself."""

from __future__ import annotations

from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st
from scripted import WHEN, WHO, Script, decide_all, in_memory, invented_examination, word

from dictation.review.earlier import Earlier, compare, earlier_draft
from dictation.review.rules import Review
from dictation.store.facts import Taken
from dictation.store.store import open_store
from dictation.terminal.walk import Walk


def _examination(degrees: float, *, scar: bool = True) -> Script:
    script = Script()
    script.say("wrist_extension", "extension fifteen degrees", side="right", value=degrees, unit="deg", mode="active")
    script.say("swelling", "no swelling", side="right", status="absent")
    if scar:
        script.say("scar", "a scar", side="right", status="present")
    return script


def _earlier(review: Review) -> Earlier | None:
    return earlier_draft(review.journal.encounter, review.draft_sha256, review.draft)


def test_the_first_draft_has_none_before_it(tmp_path: Path) -> None:
    assert _earlier(_examination(15).take(open_store(tmp_path))) is None


def test_what_reads_otherwise_is_new_or_is_gone(tmp_path: Path) -> None:
    store = open_store(tmp_path)
    first = _examination(15).take(store)
    first.confirm("f1", WHO, WHEN)
    first.reject("f2", "not looked at", WHO, WHEN)
    second = _examination(50, scar=False)
    second.say("erythema", "no redness", side="right", status="absent")
    review = second.take(store)
    found = _earlier(review)
    assert found is not None
    assert [review.state.fields[name].field.concept for name in review.state.pending] == [
        "wrist_extension", "swelling", "erythema"
    ]  # fmt: skip
    assert {name: (d.field.value, d.state) for name, d in found.was.items()} == {
        "f1": (15.0, "confirmed"), "f2": (None, "rejected")
    }  # fmt: skip
    assert [field.id for field in review.draft.fields if found.changed(field)] == ["f1", "f2", "f3"]
    assert [d.field.concept for d in found.gone] == ["scar"]


def test_the_draft_that_was_decided_on_is_the_one_compared_with(tmp_path: Path) -> None:
    store = open_store(tmp_path)
    decide_all(_examination(15).take(store))
    _examination(25).take(store)
    found = _earlier(_examination(50).take(store))
    assert found is not None
    assert found.was["f1"].field.value == 15


def test_another_recording_s_draft_is_not_compared_with(tmp_path: Path) -> None:
    store = open_store(tmp_path)
    encounter = _examination(15).take(store).journal.encounter
    content = _examination(50).draft().model_dump_json().encode()
    sha256 = encounter.take_draft(content, "1" * 64, "other.wav", spoken=True, who=WHO, time=WHEN)
    assert earlier_draft(encounter, sha256, _examination(50).draft()) is None


def test_the_review_says_it_at_the_start_beside_each_statement_and_before_signing(tmp_path: Path) -> None:
    store = open_store(tmp_path)
    first = _examination(15).take(store)
    first.confirm("f1", WHO, WHEN)
    second = _examination(50, scar=False).take(store)
    answers, shown = iter(["confirm", "confirm"]), list[str]()

    def ask(prompt: str) -> str:
        try:
            return next(answers)
        except StopIteration:
            raise EOFError from None

    Walk(second, WHO, ask, lambda line, tone: shown.append(line), lambda: WHEN, earlier=_earlier(second)).run()
    text = "\n".join(shown)
    assert "of the statements now, 1 read otherwise, 0 are new, 1 of then are not among them" in text
    assert f"In the draft before: {word(first.state.fields['f1'].field)}, confirmed by {WHO}." in text
    assert "As in the draft before, not decided there." in text
    assert text.index("Nothing is pending") < text.index("In the draft before, and in no statement here:")
    assert second.state.fields["f1"].state == "confirmed"


@given(st.permutations(range(11)), st.sets(st.integers(0, 10)))
def test_each_statement_stands_against_one_at_most_and_nothing_gets_lost(order: list[int], left_out: set[int]) -> None:
    review = in_memory(invented_examination())
    then = list(review.state.fields.values())
    draft = review.draft.model_copy(deep=True)
    draft.fields = [draft.fields[n] for n in order if n not in left_out]
    found = compare(Taken("0" * 64, "a", False, WHEN), then, draft)
    assert set(found.was) == {field.id for field in draft.fields}
    assert all(found.was[name].field.id == name for name in found.was)
    assert {d.field.id for d in found.gone} == {then[n].field.id for n in left_out}
    assert not any(found.changed(field) for field in draft.fields)
