"""The review at a terminal, with scripted answers: what is shown, what an answer does, and what it never
does.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scripted import LEXICON, WHEN, WHO, Script, again, cautious, check, in_memory, info, invented_examination

from dictation.errors import ReviewError
from dictation.note.text import render_text
from dictation.review.rules import Review
from dictation.review.typed_number import read_number
from dictation.terminal.commands import COMMANDS
from dictation.terminal.demonstration import demonstrate
from dictation.terminal.walk import Order, Walk


class _Person:
    """Answers from a list, then leaves; keeps everything shown."""

    def __init__(self, answers: Iterable[str]) -> None:
        self.answers = iter(answers)
        self.shown: list[str] = []
        self.prompts: list[str] = []

    def ask(self, prompt: str) -> str:
        self.prompts.append(prompt)
        try:
            return next(self.answers)
        except StopIteration:
            raise EOFError from None

    def show(self, line: str, tone: str) -> None:
        self.shown.append(line)

    def text(self) -> str:
        return "\n".join(self.shown)


def _sit(review: Review, *answers: str, order: Order = "doubtful") -> _Person:
    person = _Person(answers)
    Walk(review, WHO, person.ask, person.show, lambda: WHEN, order, "Hand surgeon").run()
    return person


def _states(review: Review) -> dict[str, str]:
    return {name: decision.state for name, decision in review.state.fields.items()}


def test_cautions_come_before_anything_is_confirmed(tmp_path: Path) -> None:
    case = invented_examination()
    case.say("tenderness", "tender in the snuffbox", side="right", structure="anatomical_snuffbox", status="present")
    review = cautious(case.review(tmp_path))
    person = _sit(review, "confirm", "done")
    assert [line[:65] for line in person.shown if line.startswith("Caution")] == [
        "Caution, if heard right: Tender in the scaphoid area (right). Aft"
    ]
    assert [(entry.what, entry.field, entry.after["answer"]) for entry in review.journal.entries] == [
        ("caution answered", "scaphoid-right", "already done")
    ]


def test_how_well_the_voice_is_heard_stands_at_the_top_each_time(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    for answers in (["confirm"], []):
        person = _Person(tuple(answers))
        Walk(review, WHO, person.ask, person.show, lambda: WHEN, measured="Measured on an invented voice.").run()
        assert person.shown[0] == "Measured on an invented voice."


def test_doubtful_statements_come_first_with_the_doubt_and_the_words_heard(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    person = _sit(review)
    first = person.text().split("Special tests · RIGHT")[1]
    assert "Phalen's test positive on the RIGHT." in first
    assert "Check: “felons test” was read as “Phalen's test”." in first
    assert "[felons test positive]" in first
    assert "at 0:11 to 0:12" in first
    assert "Hand dominance" not in first.split("Stopped")[0]


def test_in_the_order_of_the_examination_context_comes_first(tmp_path: Path) -> None:
    person = _sit(invented_examination().review(tmp_path), order="examination")
    assert "Hand dominance: RIGHT." in person.text()
    assert "Phalen" not in person.text()


@pytest.mark.parametrize("answer", ["", "next", "n", "  ", "N"])
def test_next_and_an_empty_line_decide_nothing(tmp_path: Path, answer: str) -> None:
    review = invented_examination().review(tmp_path)
    _sit(review, *[answer] * 40)
    assert set(_states(review).values()) == {"pending"}
    assert review.journal.entries == ()


def test_no_beginning_of_next_is_a_beginning_of_confirm() -> None:
    assert not any("confirm".startswith("next"[:n]) for n in range(1, 5))
    assert not any(word.startswith("c") for word in COMMANDS if word != "confirm")


def test_an_unclear_answer_decides_nothing_and_says_what_can_be_said(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    person = _sit(review, "a", "y", "ok", "confirmed")
    assert review.journal.entries == ()
    assert "Say one of: amend, add." in person.text()


def test_confirm_then_stop_then_go_on_where_it_stopped(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    person = _sit(review, "confirm", "stop")
    assert _states(review)["f9"] == "confirmed"
    assert "1 of 11 decided" in person.text()
    person = _sit(again(review))
    assert "Going on where it stopped. 1 of 11 decided" in person.text()
    assert "Phalen" not in person.text()


def test_amending_a_side_shows_the_new_sentence_and_asks_before_it_counts(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    person = _sit(review, "amend", "side", "left", "")
    assert "Phalen's test positive on the LEFT." in person.text()
    assert review.journal.entries == ()
    _sit(review, "amend", "side", "left", "confirm")
    assert review.state.fields["f9"].field.side == "left"
    assert _states(review)["f9"] == "amended"


def test_a_contradiction_is_said_before_an_amendment_counts(tmp_path: Path) -> None:
    script = Script()
    script.say("phalen_test", "positive", side="right", status="positive", flags=[check("low_recognition")])
    script.say("phalen_test", "negative", side="left", status="negative")
    person = _sit(script.review(tmp_path), "amend", "side", "left")
    assert "does not agree with “Phalen's test negative on the LEFT”" in person.text()


def test_amending_a_number_with_its_direction_in_words(tmp_path: Path) -> None:
    script = Script()
    script.say(
        "elbow_extension",
        "extension twenty",
        side="right",
        value=20.0,
        unit="deg",
        flags=[check("direction_unclear")],
    )
    review = script.review(tmp_path)
    _sit(review, "amend", "number", "lacks 20", "confirm")
    assert review.state.fields["f1"].field.value == -20.0
    assert review.state.fields["f1"].sentence == "Elbow extension on the RIGHT: lacks 20° of extension"


def test_an_implausible_number_counts_only_when_insisted_on(tmp_path: Path) -> None:
    script = Script()
    script.say(
        "wrist_flexion",
        "flexion seventeen",
        side="right",
        value=17.0,
        unit="deg",
        flags=[check("number_unclear")],
    )
    review = script.review(tmp_path)
    person = _sit(review, "amend", "number", "170", "")
    assert "outside what is plausible" in person.text()
    assert review.journal.entries == ()
    _sit(review, "amend", "number", "170", "keep", "confirm")
    assert review.state.fields["f1"].field.value == 170.0


def test_a_number_instead_of_a_status_empties_the_status_and_the_other_way_round(tmp_path: Path) -> None:
    script = Script()
    script.say("wrist_flexion", "flexion normal", side="right", status="normal", flags=[check("low_recognition")])
    review = script.review(tmp_path)
    _sit(review, "amend", "number", "70", "confirm")
    assert review.state.fields["f1"].sentence == "Wrist flexion on the RIGHT: 70°"
    review.undo(WHO, WHEN)
    _sit(review, "amend", "status", "reduced", "confirm")
    assert review.state.fields["f1"].sentence == "Wrist flexion reduced on the RIGHT"


def test_rejecting_asks_why(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    _sit(review, "reject", "", "reject", "the patient said it")
    assert (_states(review)["f9"], review.state.fields["f9"].reason) == ("rejected", "the patient said it")


def test_a_missing_side_is_asked_for_and_none_must_be_said(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    person = _sit(review, "next", "confirm", "amend", "side", "none", "confirm")
    assert "No side was said for this field" in person.text()
    assert review.state.fields["f11"].sentence == "Splint or cast at the wrist (no side), at night"


@pytest.mark.parametrize(("answer", "side"), [("right", "right"), ("left", "left"), ("without", None)])
def test_a_missing_side_can_be_given_at_once_but_counts_only_when_confirmed(
    tmp_path: Path, answer: str, side: str | None
) -> None:
    review = invented_examination().review(tmp_path)
    person = _sit(review, "next", "r", answer, "")
    assert "Say one of: right, reject." in person.text()
    assert review.journal.entries == ()
    _sit(review, "next", answer, "confirm")
    assert (_states(review)["f11"], review.state.fields["f11"].field.side) == ("amended", side)


def test_a_group_shows_every_sentence_and_needs_its_own_word(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    person = _sit(review, "n", "n", "n", "n", "confirm", "together")
    shown = person.text()
    assert "Look · RIGHT · 2 plain negatives and normals" in shown
    assert "No erythema on the RIGHT." in shown
    assert "heard: [no scars]" in shown
    decided = {name for name, state in _states(review).items() if state == "confirmed"}
    assert decided == {"f3", "f4"}


def test_a_group_can_be_decided_singly(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    _sit(review, "n", "n", "n", "n", "singly", "confirm", "reject", "not looked at")
    assert (_states(review)["f3"], _states(review)["f4"]) == ("confirmed", "rejected")


def test_add_by_hand_from_a_few_letters(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    _sit(review, "add", "froment", "1", "left", "negative", "", "confirm")
    assert review.state.fields["added-1"].sentence == "Froment's sign negative on the LEFT"
    assert review.state.fields["added-1"].added


def test_adding_stops_where_no_side_is_given(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    _sit(review, "add", "froment", "1", "")
    assert review.journal.entries == ()


def test_undo_says_what_it_took_back(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    person = _sit(review, "confirm", "undo")
    assert "Taken back: Phalen's test positive on the RIGHT." in person.text()
    assert _states(review)["f9"] == "pending"


def test_undo_at_the_speech_comes_back_to_what_was_undone(tmp_path: Path) -> None:
    script = Script()
    script.say("scar", "no scars", side="right", status="absent")
    for words in ("pisotriquetral something", "another something"):
        script.leave(words)
    review = script.review(tmp_path)
    person = _sit(review, "confirm", "undo", "reject", "not looked at", "clear", "undo", "stop")
    assert _states(review) == {"f1": "rejected"}
    assert list(review.state.uncleared) == [0, 1]
    headings = [line for line in person.shown if line.startswith("Speech that became no field")]
    assert [line.split("number ")[1][0] for line in headings] == ["1", "1", "2", "1"]


def test_a_group_taken_back_is_shown_again_as_one(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    person = _sit(review, "n", "n", "n", "n", "together", "undo", "next", "stop")
    assert person.text().count("Look · RIGHT · 2 plain negatives and normals") == 2
    assert _states(review)["f3"] == _states(review)["f4"] == "pending"


@pytest.mark.parametrize("side", ["left", "right"])
def test_a_side_put_off_is_asked_again_at_the_statement_and_then_the_statement(tmp_path: Path, side: str) -> None:
    script = Script()
    ids = [script.say("scar", "a scar", side="right", status="present")]
    ids += [script.say("phalen_test", "positive", side="right", status="positive")]
    script.carry("right", *ids)
    review = script.review(tmp_path)
    person = _sit(review, "next", "confirm", side, "confirm")
    assert person.text().count("Which side is all of this?") == 2
    assert review.state.fields["f1"].state == ("confirmed" if side == "right" else "amended")
    assert review.state.fields["f1"].field.side == side
    assert f"on the {side.upper()}" in (review.state.fields["f1"].sentence or "")


def test_adding_asks_for_a_status_until_one_is_chosen_or_none_is_said(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    person = _sit(review, "add", "froment", "1", "left", "", "", "negative", "", "confirm")
    assert person.text().count("A status is never assumed") == 2
    assert review.state.fields["added-1"].field.status == "negative"


@pytest.mark.parametrize("word", ["leave", "stop"])
@pytest.mark.parametrize("before", ["froment", "froment 1", "froment 1 left", "froment 1 left negative"])
def test_a_chain_of_questions_can_be_left_anywhere(tmp_path: Path, before: str, word: str) -> None:
    review = invented_examination().review(tmp_path)
    person = _sit(review, "add", *before.split(), word, "confirm")
    assert "added-1" not in review.state.fields
    assert any(state == "confirmed" for state in _states(review).values()) == (word == "leave")
    assert person.shown[-1].startswith("Stopped.")


def test_a_wrong_ending_is_asked_again_alone(tmp_path: Path) -> None:
    script = Script()
    script.say("scar", "no scars", side="right", status="absent")
    review = script.review(tmp_path)
    person = _sit(review, "c", "sign", "Dr A", "", "2025-03-04 14:00", "", "9999", "2041")
    assert "not how this encounter's reference ends" in person.text()
    assert review.state.signature is not None
    assert review.state.signature.examined == "2025-03-04 14:00"


def test_speech_that_became_no_field_must_be_cleared_before_signing(tmp_path: Path) -> None:
    script = Script()
    script.say("scar", "no scars", side="right", status="absent")
    script.leave("pisotriquetral something")
    review = script.review(tmp_path)
    person = _sit(review, "confirm", "", "clear", "sign", "Dr A. Invented", "Hand surgeon", "2025-03-04 14:00", "", "2041")
    assert "“pisotriquetral something”" in person.text()
    assert "NOT SIGNED" in person.text()
    assert review.state.signature is not None
    assert (review.state.signature.examined, review.state.signature.dictated) == ("2025-03-04 14:00", None)


def test_a_time_still_to_come_is_not_taken(tmp_path: Path) -> None:
    script = Script()
    script.say("scar", "no scars", side="right", status="absent")
    review = script.review(tmp_path)
    person = _sit(review, "c", "sign", "Dr A", "", "2030-01-01 10:00", "today", "2025-03-04 14:00", "", "2041")
    assert "still to come" in person.text()
    assert review.state.signature is not None
    assert review.state.signature.role == "Hand surgeon"


def test_signing_can_be_left_and_nothing_is_signed_without_a_typed_name(tmp_path: Path) -> None:
    script = Script()
    script.say("scar", "no scars", side="right", status="absent")
    review = script.review(tmp_path)
    _sit(review, "c", "sign", "", "", "stop")
    assert review.state.signature is None


def test_undo_at_the_signature_goes_back_to_deciding(tmp_path: Path) -> None:
    script = Script()
    script.say("scar", "no scars", side="right", status="absent")
    review = script.review(tmp_path)
    _sit(review, "c", "undo", "reject", "not looked at", "sign", "Dr A", "", "", "", "2041")
    assert _states(review) == {"f1": "rejected"}
    assert review.state.signature is not None


def test_spoken_escapes_and_markup_reach_the_screen_as_text(tmp_path: Path) -> None:
    script = Script()
    script.say("scar", "a \x1b[31mscar\x07", side="right", status="present", qualifier="old\x1b[2J")
    script.leave("un\x1b]0;x\x07placed")
    person = _sit(script.review(tmp_path), "c")
    assert "\x1b" not in person.text() + "".join(person.prompts)
    assert "\x07" not in person.text()


NUMBERS = [
    ("wrist_extension", "45", {"value": 45.0}),
    ("wrist_extension", "45 degrees", {"value": 45.0}),
    ("wrist_extension", "lacks 20", {"value": -20.0}),
    ("elbow_extension", "beyond 10°", {"value": 10.0}),
    ("pip_flexion", "10 to 90", {"low": 10.0, "high": 90.0}),
    ("pip_flexion", "-10 to 90", {"low": -10.0, "high": 90.0}),
    ("capillary_refill_time", "less than 2 seconds", {"value": 2.0, "comparator": "<"}),
    ("grip_strength", "42 lb", {"value": 42.0, "unit": "[lb_av]"}),
    ("grip_strength", "24", {"value": 24.0, "unit": "kg"}),
    ("abductor_pollicis_brevis_power", "4+", {"value": 4.0, "grade_sign": "+"}),
    ("abductor_pollicis_brevis_power", "4 minus out of 5", {"value": 4.0, "grade_sign": "-"}),
    ("wrist_flexion", "lacks 20", None),
    ("wrist_flexion", "forty", None),
    ("grip_strength", "4+", None),
    ("grip_strength", "10 to 20", None),
    ("wrist_extension", "lacks -20", None),
    ("wrist_extension", "", None),
]


@pytest.mark.parametrize(("concept", "answer", "keys"), NUMBERS)
def test_numbers_as_a_person_types_them(concept: str, answer: str, keys: dict[str, object] | None) -> None:
    found = read_number(answer, LEXICON.concepts[concept])
    if keys is None:
        assert found is None
    else:
        assert found is not None
        unit = {"unit": keys.get("unit", LEXICON.concepts[concept].unit)}
        assert {key: value for key, value in found.items() if value is not None} == {**keys, **unit}


_WORDS = ["", "together", "singly", "clear", "sign", "side", "left", "none", *COMMANDS]
_WORDS += ["number", "20", "status", "keep", "1", "froment", "negative", "a reason"]


@settings(deadline=None, max_examples=80)
@given(st.lists(st.sampled_from(_WORDS) | st.text(max_size=6), max_size=60))
def test_whatever_is_typed_the_review_never_fails_and_the_journal_folds_to_what_is_shown(answers: list[str]) -> None:
    review = in_memory(invented_examination())
    _sit(review, *answers)
    assert again(review).state == review.state
    if review.state.signature is None and (review.state.pending or review.state.uncleared):
        with pytest.raises(ReviewError):
            review.complete()


def test_the_demonstration_decides_sides_and_answers_cautions_too(tmp_path: Path) -> None:
    case = invented_examination()
    tender = case.say(
        "tenderness", "tender in the snuffbox", side="right", structure="anatomical_snuffbox", status="present",
        flags=[info("side_carried")],
    )  # fmt: skip
    calm = case.say("erythema", "no redness", side="right", status="absent", flags=[info("side_carried")])
    case.carry("right", tender, calm)
    review = cautious(case.review(tmp_path))
    person = _Person([])
    assert demonstrate(review, person.show, lambda: WHEN).signature.demonstration
    assert "side:      right" in person.text()
    assert "caution:   Tender in the scaphoid area (right)" in person.text()


def test_the_demonstration_decides_everything_and_marks_it(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    person = _Person([])
    record = demonstrate(review, person.show, lambda: WHEN)
    assert "Check: “felons test” was read as “Phalen's test”." in person.text()
    assert "left out:  Splint or cast at the wrist (SIDE NOT SAID), at night." in person.text()
    assert record.signature.demonstration
    assert "DEMONSTRATION" in render_text(record, LEXICON)
    with pytest.raises(ReviewError, match="begun"):
        demonstrate(again(review), person.show, lambda: WHEN)
