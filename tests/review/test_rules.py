"""The rules of review: what may be decided, how, and that nothing else leads to a note."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

import pytest
from scripted import ENDING, LEXICON, WHEN, WHO, Script, again, cautious, check, decide_all, info, invented_examination, word

from dictation.errors import RecordError, ReviewError
from dictation.record import DraftRecord
from dictation.review.checksum import record_checksum
from dictation.review.grouping import group_fields
from dictation.review.records import CompleteRecord, SignedRecord


def test_nothing_is_decided_to_begin_with(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    assert len(review.state.pending) == 11
    assert review.state.uncleared == [0]
    assert review.journal.entries == ()


def test_confirming_keeps_who_when_and_the_sentence(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    review.confirm("f2", WHO, WHEN)
    decision = review.state.fields["f2"]
    assert (decision.state, decision.who, decision.time) == ("confirmed", WHO, WHEN)
    assert decision.sentence == "Mild swelling on the dorsal aspect of the RIGHT wrist"


def test_amending_keeps_the_first_value_and_the_evidence(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    review.amend("f6", {"value": 54.0}, WHO, WHEN)
    decision = review.state.fields["f6"]
    assert decision.first is not None
    assert (decision.first.value, decision.field.value, decision.state) == (45.0, 54.0, "amended")
    assert decision.field.evidence == decision.first.evidence
    entry = review.journal.entries[-1]
    assert (entry.before["changes"], entry.after["changes"]) == ({"value": 45.0}, {"value": 54.0})


@pytest.mark.parametrize(
    ("field", "changes", "why"),
    [
        ("f9", {"status": "present"}, "positive, negative"),
        ("f9", {"digit": "ring"}, "takes no digit"),
        ("f6", {"value": 400.0}, "plausible"),
        ("f6", {"low": 50.0, "high": 20.0}, "lower number"),
        ("f6", {"value": 45.0}, "already"),
        ("f6", {"value": "54"}, "does not fit"),
        ("f6", {"value": float("nan")}, "does not fit"),
        ("f2", {"joint": "pip", "digit": "thumb"}, "cannot be that"),
        ("f2", {"status": None}, "needs a status"),
        ("f6", {"evidence": []}, "takes no evidence"),
        ("f6", {"flags": []}, "takes no flags"),
        ("f11", {"qualifier": "by day"}, "side"),
    ],
)
def test_an_amendment_that_does_not_fit_is_refused_and_writes_nothing(
    tmp_path: Path, field: str, changes: dict[str, Any], why: str
) -> None:
    review = invented_examination().review(tmp_path)
    with pytest.raises(ReviewError, match=why):
        review.amend(field, changes, WHO, WHEN)
    assert review.journal.entries == ()
    assert review.state.fields[field].state == "pending"


def test_an_implausible_number_is_kept_only_when_insisted_on_and_is_flagged(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    review.amend("f6", {"value": 120.0}, WHO, WHEN, accept_implausible=True)
    assert [flag.code for flag in review.state.fields["f6"].field.flags] == ["out_of_range"]


def test_pounds_are_judged_as_kilograms(tmp_path: Path) -> None:
    script = Script()
    script.say("grip_strength", "grip twenty", side="right", value=20.0, unit="kg")
    review = script.review(tmp_path)
    review.amend("f1", {"value": 150.0, "unit": "[lb_av]"}, WHO, WHEN)  # 68 kg; 150 kg would be implausible
    assert review.state.fields["f1"].sentence == "Grip strength on the RIGHT: 150 pounds"


def test_a_field_without_its_side_cannot_be_confirmed_but_can_be_given_one(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    with pytest.raises(ReviewError, match="No side"):
        review.confirm("f11", WHO, WHEN)
    review.amend("f11", {"side": "left"}, WHO, WHEN)
    assert review.state.fields["f11"].sentence == "Splint or cast at the LEFT wrist, at night"


def test_a_field_without_an_answer_cannot_be_confirmed(tmp_path: Path) -> None:
    script = Script()
    script.say("occupation", "works as a")
    review = script.review(tmp_path)
    assert word(review.draft.fields[0]) == "Occupation: (no answer understood)"
    with pytest.raises(ReviewError, match="No answer"):
        review.confirm("f1", WHO, WHEN)
    review.amend("f1", {"qualifier": "carpenter"}, WHO, WHEN)
    assert review.state.fields["f1"].sentence == "Occupation: carpenter"


def test_no_side_can_be_said_outright(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    review.amend("f11", {"side": None}, WHO, WHEN)
    assert review.state.fields["f11"].state == "amended"
    assert "(no side)" in (review.state.fields["f11"].sentence or "")


def test_rejecting_needs_a_reason_and_takes_the_field_out(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    with pytest.raises(ReviewError, match="reason"):
        review.reject("f2", "  ", WHO, WHEN)
    review.reject("f2", "the patient said that", WHO, WHEN)
    assert review.state.fields["f2"].state == "rejected"
    with pytest.raises(ReviewError, match="rejected"):
        review.amend("f2", {"severity": "severe"}, WHO, WHEN)


def test_a_field_added_by_hand_is_marked_and_can_come_from_unplaced_speech(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    name = review.add("pisotriquetral_grind_test", {"side": "right", "status": "positive"}, WHO, WHEN, unplaced=0)
    assert review.state.fields[name].added
    assert review.state.fields[name].field.evidence == []
    assert review.state.uncleared == []
    review.undo(WHO, WHEN)
    assert name not in review.state.fields
    assert review.state.uncleared == [0]
    assert review.add("phalen_test", {"side": "left", "status": "negative"}, WHO, WHEN) != name


def test_a_field_added_by_hand_needs_its_side_said(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    with pytest.raises(ReviewError, match="needs a side"):
        review.add("phalen_test", {"status": "negative"}, WHO, WHEN)


def test_undo_is_a_new_entry_and_the_undone_one_stays(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    review.confirm("f2", WHO, WHEN)
    review.amend("f2", {"severity": "severe"}, WHO, WHEN)
    review.undo(WHO, WHEN)
    assert (review.state.fields["f2"].state, review.state.fields["f2"].field.severity) == (
        "confirmed",
        "mild",
    )
    review.undo(WHO, WHEN)
    assert review.state.fields["f2"].state == "pending"
    with pytest.raises(ReviewError, match="no decision"):
        review.undo(WHO, WHEN)
    assert [e.what for e in review.journal.entries] == ["confirmed", "amended", "undone", "undone"]


def test_a_group_is_confirmed_and_undone_as_one(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    review.confirm_group(["f3", "f4"], ["f3", "f4"], WHO, WHEN)
    assert {review.state.fields[n].state for n in ("f3", "f4")} == {"confirmed"}
    assert set(review.undo(WHO, WHEN)) == {"f3", "f4"}
    assert {review.state.fields[n].state for n in ("f3", "f4")} == {"pending"}


def test_a_group_must_have_been_shown_and_be_of_one_part_and_side(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    with pytest.raises(ReviewError, match="shown"):
        review.confirm_group(["f3", "f4"], ["f3"], WHO, WHEN)
    with pytest.raises(ReviewError, match="one side"):
        review.confirm_group(["f3", "f5"], ["f3", "f5"], WHO, WHEN)
    assert review.journal.entries == ()


_NEVER_IN_A_GROUP: list[tuple[str, dict[str, Any]]] = [
    ("swelling", {"status": "present"}),
    ("phalen_test", {"status": "positive"}),
    ("phalen_test", {"status": "equivocal"}),
    ("phalen_test", {"status": "not_assessed"}),
    ("radial_pulse", {"status": "absent"}),
    ("light_touch", {"status": "absent"}),
    ("light_touch", {"status": "reduced"}),
    ("tendon_integrity", {"status": "absent"}),
    ("wrist_flexion", {"value": 70.0, "unit": "deg"}),
    ("capillary_refill_time", {"status": "normal", "value": 2.0, "unit": "s"}),
    ("swelling", {"status": "absent", "qualifier": "now"}),
    ("swelling", {"status": "absent", "occasion": "after reduction"}),
    ("swelling", {"status": "absent", "flags": [check("low_recognition")]}),
    ("swelling", {"status": "absent", "flags": [info("copied_side")]}),
    ("wrist_flexion", {"status": "normal", "flags": [info("expanded")]}),
    ("carpal_tunnel_syndrome", {"status": "absent"}),
    ("radiographs", {"status": "absent"}),
    ("reported_pain", {"status": "absent"}),
]


@pytest.mark.parametrize(("concept", "keys"), _NEVER_IN_A_GROUP)
def test_what_is_never_decided_in_a_group(tmp_path: Path, concept: str, keys: dict[str, Any]) -> None:
    script = Script()
    names = [
        script.say(concept, "said once", side="right", **keys),
        script.say(concept, "said twice", side="right", **keys),
    ]
    review = script.review(tmp_path)
    assert group_fields(review.draft.fields, LEXICON) == []
    with pytest.raises(ReviewError, match="plain negatives"):
        review.confirm_group(names, names, WHO, WHEN)
    assert review.journal.entries == ()


def test_each_part_and_side_is_a_group_of_its_own() -> None:
    script = Script()
    for side in ("right", "left"):
        for concept in ("swelling", "scar"):
            script.say(concept, "no", side=side, status="absent")
        script.say("tenderness", "no", side=side, status="absent")
    groups = group_fields(script.fields, LEXICON)
    assert [[f.id for f in group] for group in groups] == [["f1", "f2"], ["f4", "f5"]]


def test_contradictions_are_found_after_a_change_of_side(tmp_path: Path) -> None:
    script = Script()
    script.say("phalen_test", "positive", side="right", status="positive")
    script.say("phalen_test", "negative", side="left", status="negative")
    review = script.review(tmp_path)
    changed = review.amended("f2", {"side": "right"})
    assert [field.id for field in review.contradictions(changed)] == ["f1"]
    assert review.contradictions(review.state.fields["f2"].field) == []


def test_only_review_makes_complete_and_signed_records(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    decide_all(review)
    signed = review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING)
    with pytest.raises(ReviewError):
        CompleteRecord("H-2041", review.draft, "0" * 64, (), object())
    with pytest.raises(ReviewError):
        SignedRecord(signed.complete, signed.signature, (), object())


def test_signing_freezes_the_record_under_a_checksum(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    decide_all(review)
    signed = review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING, examined="2025-03-04 14:00")
    signed.verify()
    assert signed.signature.head == review.journal.entries[-1].hash
    for act in (
        lambda: review.undo(WHO, WHEN),
        lambda: review.amend("f6", {"value": 50.0}, WHO, WHEN),
        lambda: review.add("phalen_test", {"side": "left", "status": "negative"}, WHO, WHEN),
        lambda: review.sign("Dr B", "Hand surgeon", WHEN, ending=ENDING),
    ):
        with pytest.raises(ReviewError, match="signed"):
            act()
    signed.complete.decisions[1].field.side = "left"
    with pytest.raises(RecordError, match="not what was signed"):
        signed.verify()
    review.signed().verify()  # the review keeps its own copy


def test_a_signed_record_is_the_same_when_opened_again(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    decide_all(review)
    signed = review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING)
    later = again(review).signed()
    assert later.signature == signed.signature
    assert record_checksum(later.complete, later.signature.program_version) == signed.signature.checksum


@pytest.mark.parametrize(("signer", "role"), [("", "Surgeon"), ("Dr A", " ")])
def test_a_signature_needs_name_and_role(tmp_path: Path, signer: str, role: str) -> None:
    review = invented_examination().review(tmp_path)
    decide_all(review)
    with pytest.raises(ReviewError, match="name and role"):
        review.sign(signer, role, WHEN, ending=ENDING)
    assert review.state.signature is None


def test_signing_asks_how_the_reference_of_the_encounter_ends(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    decide_all(review)
    for typed in ("", "2040", "041", "H-2041"):
        with pytest.raises(ReviewError, match="right patient"):
            review.sign("Dr A", "Hand surgeon", WHEN, ending=typed)
    assert review.state.signature is None
    assert review.sign("Dr A", "Hand surgeon", WHEN, ending=" 2041 ").signature.reference == "H-2041"


def _carried() -> Script:
    script = Script()
    keys: dict[str, Any] = {"side": "right", "status": "absent"}
    ids = [script.say(concept, "none", flags=[check("side_carried")], **keys) for concept in ("swelling", "scar", "erythema")]
    script.carry("right", *ids[:2])
    return script


def test_the_side_of_a_carried_stretch_is_decided_once_and_before_its_fields(tmp_path: Path) -> None:
    review = _carried().review(tmp_path)
    assert review.open_runs() == [0]
    with pytest.raises(ReviewError, match="side of the stretch"):
        review.confirm("f1", WHO, WHEN)
    review.confirm("f3", WHO, WHEN)
    review.decide_side(0, "left", WHO, WHEN)
    assert review.open_runs() == []
    assert [review.state.fields[n].field.side for n in ("f1", "f2", "f3")] == ["left", "left", "right"]
    assert review.state.pending == ["f1", "f2"]
    assert not review.state.fields["f1"].field.checked()
    review.confirm_group(["f1", "f2"], ["f1", "f2"], WHO, WHEN)
    decision = review.state.fields["f1"]
    assert (decision.state, decision.sentence) == ("amended", "No swelling on the LEFT")
    review.undo(WHO, WHEN)
    review.undo(WHO, WHEN)
    assert again(review).state.fields["f1"].field.side == "right"
    assert again(review).open_runs() == [0]


def test_a_field_of_a_carried_stretch_may_be_given_its_own_side_or_rejected(tmp_path: Path) -> None:
    review = _carried().review(tmp_path)
    review.amend("f1", {"side": "left"}, WHO, WHEN)
    review.reject("f2", "not looked at", WHO, WHEN)
    assert review.open_runs() == []
    with pytest.raises(ReviewError, match="not waiting"):
        review.decide_side(0, "right", WHO, WHEN)


def test_a_change_of_side_flags_what_no_longer_agrees(tmp_path: Path) -> None:
    script = Script()
    script.say("phalen_test", "positive", side="right", status="positive")
    script.say("phalen_test", "negative", side="left", status="negative")
    script.say("swelling", "none", side="left", status="absent")
    review = script.review(tmp_path)
    review.amend("f1", {"side": "left"}, WHO, WHEN)
    assert [f.code for f in review.state.fields["f2"].field.flags] == ["contradiction"]
    assert not review.state.fields["f3"].field.flags
    review.undo(WHO, WHEN)
    assert not review.state.fields["f2"].field.flags


def test_a_group_decided_faster_than_it_can_be_read_is_journalled(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)  # eight words: 238 a minute make two seconds, half of it one
    assert review.confirm_group(["f3", "f4"], ["f3", "f4"], WHO, WHEN, shown_s=0.5)
    assert review.state.hasty
    assert review.journal.entries[-1].after["shown_s"] == 0.5
    review.undo(WHO, WHEN)
    assert not review.confirm_group(["f3", "f4"], ["f3", "f4"], WHO, WHEN, shown_s=1.5)
    assert not review.state.hasty


def test_a_caution_is_answered_before_signing_and_the_answer_is_journalled(tmp_path: Path) -> None:
    script = Script()
    script.say("tenderness", "tender in the snuffbox", side="right", structure="anatomical_snuffbox", status="present")
    review = cautious(script.review(tmp_path))
    review.confirm("f1", WHO, WHEN)
    with pytest.raises(ReviewError, match="1 caution not answered"):
        review.sign("Dr A", "Hand surgeon", WHEN, ending=ENDING)
    (caution,) = review.cautions()
    with pytest.raises(ReviewError, match="answered by one of"):
        review.answer_caution(caution, "never", WHO, WHEN)
    review.answer_caution(caution, "acting", WHO, WHEN)
    assert review.cautions() == []
    assert review.journal.entries[-1].after == {"answer": "acting", "text": caution.text}
    review.amend("f1", {"side": "left"}, WHO, WHEN)  # another side is another caution
    assert [one.name for one in review.cautions()] == ["scaphoid-left"]


def test_addenda_are_all_that_can_follow_a_signature(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    with pytest.raises(ReviewError, match="not decided"):
        review.add_addendum("Seen again.", "Dr B", "Registrar", WHEN, ending=ENDING)
    decide_all(review)
    signed = review.sign("Dr A", "Hand surgeon", WHEN, ending=ENDING)
    for text, signer, ending in (("", "Dr B", ENDING), ("Seen again.", " ", ENDING), ("Seen again.", "Dr B", "1")):
        with pytest.raises(ReviewError):
            review.add_addendum(text, signer, "Registrar", WHEN, ending=ending)
    added = review.add_addendum("Seen again.", "Dr B", "Registrar", WHEN, ending=ENDING)
    assert (added.complete, added.signature) == (signed.complete, signed.signature)
    assert [(one.text, one.signer, one.to) for one in added.addenda] == [("Seen again.", "Dr B", signed.signature.checksum)]
    assert added.head == review.journal.entries[-1].hash != signed.head
    assert again(review).signed() == added
    with pytest.raises(RecordError, match="not what was signed"):
        dataclasses.replace(added, addenda=(dataclasses.replace(added.addenda[0], to="0" * 64),)).verify()


def test_a_recording_drafted_again_moves_no_decision_and_is_signed_once(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    decide_all(review)
    review.sign("Dr A", "Hand surgeon", WHEN, ending=ENDING)
    script = invented_examination()
    script.say("erythema", "no redness", side="left", status="absent")  # the same recording, drafted again
    later = script.take(review.journal.encounter.store)
    assert len(later.state.pending) == 12
    assert again(review).signed().signature.signer == "Dr A"
    decide_all(later)
    with pytest.raises(ReviewError, match="signed already"):
        later.sign("Dr B", "Hand surgeon", WHEN, ending=ENDING)


def test_a_decision_needs_a_name(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    with pytest.raises(ReviewError, match="name"):
        review.confirm("f2", " ", WHEN)


def test_states_are_values_that_cannot_be_changed(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    with pytest.raises(dataclasses.FrozenInstanceError):
        review.state.fields["f1"].state = "confirmed"  # type: ignore[misc]  # the point of the test
    assert isinstance(review.draft, DraftRecord)


def test_a_review_takes_up_what_its_encounter_was_told_of_elsewhere(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    again(review).confirm("f2", WHO, WHEN)
    review.journal.encounter.refresh()  # by another who shares the encounter, not by this review
    assert review.state.fields["f2"].state == "pending"
    review.refresh()
    assert review.state.fields["f2"].state == "confirmed"
    again(review).undo(WHO, WHEN)
    review.journal.encounter.refresh()
    review.confirm("f6", WHO, WHEN)
    assert [review.state.fields[name].state for name in ("f2", "f6")] == ["pending", "confirmed"]
