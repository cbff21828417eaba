"""What stands once more before the signature, and how a note says what was typed, added, or thought not to be so."""

from __future__ import annotations

from scripted import ENDING, SHIPPED, WHEN, Script, decide_all, in_memory

from dictation.note.options import NoteOptions
from dictation.note.summary import summarise
from dictation.note.text import render_text
from dictation.terminal.showing import show_summary


def test_only_what_was_found_is_positive_and_numbers_stand_apart() -> None:
    script = Script()
    kinds = {
        "Positive": [
            script.say("phalen_test", "positive", side="right", status="positive"),
            script.say("capillary_refill_time", "cap refill reduced", side="right", status="reduced"),
            script.say("scar", "a scar of 3 cm", side="right", status="present", value=3.0, unit="cm"),
            script.say("carpal_tunnel_syndrome", "carpal tunnel syndrome", side="right", status="present"),
        ],
        "Numbers": [
            script.say("wrist_extension", "seventy", side="right", value=70.0, unit="deg"),
            script.say("capillary_refill_time", "two seconds", side="right", status="normal", value=2.0, unit="s"),
        ],
        "Not assessed or no result": [
            script.say("tinel_test", "not tested", side="right", status="not_assessed"),
            script.say("scar", "scar", side="right"),
        ],
    }
    script.say("erythema", "no redness", side="right", status="absent")
    script.say("capillary_refill_time", "cap refill normal", side="right", status="normal")
    review = in_memory(script, SHIPPED)
    found = {what: [one.id for _, fields in by_side for one in fields] for what, by_side in summarise(review).blocks}
    assert {what: sorted(names) for what, names in found.items()} == {what: sorted(names) for what, names in kinds.items()}
    shown = [line for line, _ in show_summary(review)]
    assert [line for line in shown if line.endswith(":")] == [f"{what}, RIGHT:" for what in kinds]


def test_impressions_against_something_come_after_those_for_something() -> None:
    script = Script()
    script.say("complex_regional_pain_syndrome", "no CRPS", side="right", status="absent")
    script.say("carpal_tunnel_syndrome", "carpal tunnel syndrome", side="left", status="present")
    review = in_memory(script, SHIPPED)
    decide_all(review)
    note = render_text(review.complete(), SHIPPED)
    assert 0 < note.index("Carpal tunnel syndrome") < note.lower().index("complex regional pain syndrome")


def test_a_note_of_typed_text_says_so() -> None:
    for recogniser, says, says_not in (("text", "typed text", "was dictated"), ("embedded", "was dictated", "typed")):
        script = Script()
        script.say("scar", "no scars", side="right", status="absent")
        review = in_memory(script, SHIPPED)
        review.draft.source.recogniser = recogniser
        decide_all(review)
        signed = review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING)
        note = " ".join(render_text(signed, SHIPPED).split())
        assert says in note
        assert says_not not in note
        plain = " ".join(render_text(signed, SHIPPED, NoteOptions("patient")).split())
        assert ("words that were typed" in plain) == (recogniser == "text")


def test_the_patient_reads_of_no_hand_in_what_was_added() -> None:
    script = Script()
    script.say("scar", "no scars", side="right", status="absent")
    review = in_memory(script, SHIPPED)
    review.add("phalen_test", {"side": "right", "status": "positive"}, "Dr A", WHEN)
    decide_all(review)
    plain = " ".join(render_text(review.complete(), SHIPPED, NoteOptions("patient")).split())
    assert "(written in by the clinician)" in plain
    assert "by hand)" not in plain
    assert "(added by hand)" in " ".join(render_text(review.complete(), SHIPPED).split())
