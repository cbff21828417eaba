"""Speech that is no statement of the clinician makes no field; where it names something clinical it is shown."""

from __future__ import annotations

import pytest
from spoken import draft, facts, flags, unplaced

from dictation.extraction.speech import REASONS
from dictation.lexicon.entries import Lexicon
from dictation.pipeline import draft as draft_transcript
from dictation.record import Source
from dictation.transcript import Transcript, Word

NOT_STATEMENTS = [
    ("command", "Hold your left wrist straight."),
    ("command", "Remember that a positive Finkelstein's test is a sign of de Quervain's."),
    ("risk", "Risks of left digital nerve injury, stiffness and recurrence explained."),
    ("risk", "She was warned about scar tenderness in the left palm and a stiff left ring finger."),
    ("risk", "Consent form signed for the left hand."),
    ("announce", "Now I'm going to do Phalen's test on the left."),
    ("announce", "Make a fist for me."),
    ("question", "Is the left wrist tender?"),
    ("question", "Does it hurt over the snuffbox of the right wrist?"),
    ("question", "Can you feel this in the left little finger?"),
    ("teaching", "A positive Phalen's test suggests carpal tunnel syndrome."),
    ("teaching", "Wrist extension should reach eighty degrees."),
    ("conditional", "If the left elbow is tender we will inject."),
    ("conditional", "Unless the left wrist is swollen we will not aspirate."),
    ("history", "Last year the right wrist was swollen."),
    ("history", "Six months ago the left wrist was tender."),
    ("family", "His mother had a ganglion on the right wrist."),
    ("family", "Her sister has Dupuytren's disease of the left hand."),
    ("other_body", "The left knee is swollen."),
    ("patient", "I have a swelling on my left wrist."),
    ("patient", "She says my left thumb hurts."),
]


@pytest.mark.parametrize(("reason", "said"), NOT_STATEMENTS)
def test_no_field_comes_out_and_the_clinical_words_are_shown(reason: str, said: str) -> None:
    assert facts(said) == []
    assert unplaced(said) == [(said, REASONS[reason])]


def test_every_reason_is_exercised() -> None:
    assert {reason for reason, _ in NOT_STATEMENTS} == set(REASONS)


@pytest.mark.parametrize(
    "said",
    [
        "That's the way. Lovely weather today.",
        "Have you come far? Take a seat please.",
        "The letter goes out on Thursday.",
        "Thank you, that is all for now.",
    ],
)
def test_ordinary_talk_is_neither_field_nor_unplaced(said: str) -> None:
    assert (facts(said), unplaced(said)) == ([], [])


@pytest.mark.parametrize(("_reason", "said"), NOT_STATEMENTS)
def test_a_finding_after_it_is_still_found(_reason: str, said: str) -> None:
    assert facts(f"{said} The right elbow is swollen.")[-1:] == ["swelling right elbow present"]


def test_a_finding_inside_a_teaching_remark_is_the_patients() -> None:
    said = "Extension should reach seventy on the left wrist but she only gets to fifty."
    assert facts(said) == ["wrist_extension left wrist 50 deg"]
    assert unplaced(said) == [("Extension should reach seventy on the left wrist", REASONS["teaching"])]


def test_a_finding_beside_a_question_is_shown_where_it_is_not_taken() -> None:
    said = "I can feel swelling over the left wrist, can you bend it for me?"
    assert "swelling" in " ".join([*facts(said), *(text for text, _ in unplaced(said))])


def test_speaking_to_the_patient_asks_to_be_checked() -> None:
    assert facts("Your right wrist is swollen.") == ["swelling right wrist present"]
    assert flags("Your right wrist is swollen.") == ["speaker_unclear check"]


@pytest.mark.parametrize(
    "said",
    [
        "Any numbness? Numb in the little finger.",
        "Does it hurt? Not tender at all.",
        "Is that sore? Very tender over the lunate.",
    ],
)
def test_what_only_the_patient_feels_right_after_a_question_may_be_the_answer(said: str) -> None:
    assert "speaker_unclear check" in flags(f"Left wrist. {said}")


@pytest.mark.parametrize(
    "said",
    [
        "Is that tender? No. No tenderness over the snuffbox.",  # the clinician takes the answer up
        "Does it hurt? She is tender over the snuffbox.",  # told of the patient
        "Does it hurt? I find tenderness over the snuffbox.",  # told by the examiner
        "Can you bend it? Flexion sixty degrees.",  # measured, not felt
    ],
)
def test_what_the_clinician_says_after_a_question_asks_for_nothing(said: str) -> None:
    assert len(facts(f"Left wrist. {said}")) == 1
    assert "speaker_unclear check" not in flags(f"Left wrist. {said}")


@pytest.mark.parametrize(
    "said",
    [
        "Ouch, tender there.",  # a cry
        "Yes, it hurts over the snuffbox.",  # an answer
        "Does that hurt? It goes numb in the night, I wake up.",  # the first person after a question
        "Does that hurt? Every time I wring a cloth out, tender there.",
        "The snuffbox is tender, isn't it?",  # a tag makes a question
        "She says it is numb over the thumb.",  # a report of speech
    ],
)
def test_the_patients_words_and_tags_make_no_field_of_the_examination(said: str) -> None:
    assert [f.concept for f in draft(f"Left wrist. {said}").fields if f.part != "reported"] == []


def test_a_pause_parts_an_answer_from_what_the_clinician_says_next(lexicon: Lexicon) -> None:
    """Timing: sound has no question marks, but a pause starts a sentence, so "my" holds for its own words alone."""
    said = "it is my wrist left wrist swollen".split()
    words = tuple(Word(w, i + (3.0 if i > 3 else 0.0), i + 0.5 + (3.0 if i > 3 else 0.0), 0.95) for i, w in enumerate(said))
    source = Source(name="invented.wav", sha256="0", duration_s=12.0, recogniser="scripted", model=None, program_version="0",
                    lexicon_version="0")  # fmt: skip
    (field,) = draft_transcript(Transcript(words, breaks=frozenset({0, 4})), source, lexicon).fields
    assert (field.concept, field.side, field.evidence[0].words) == ("swelling", "left", (4, 7))


def test_what_the_clinician_reports_is_of_part_reported() -> None:
    (field,) = draft("He complains of numbness in the right index finger.").fields
    assert (field.part, field.concept, field.side, field.digit) == ("reported", "reported_numbness", "right", "index")


def test_a_test_named_without_a_result_is_shown() -> None:
    assert unplaced("Left wrist tender. Phalen's test.") == [("Phalen's test.", "no result was said with it")]


def test_an_operation_and_its_anaesthetic_are_the_plan_and_its_risks_are_no_finding() -> None:
    said = "Plan left limited fasciectomy under regional block, risks of nerve injury and stiffness discussed, consent signed."
    assert [(f.concept, f.side, f.qualifier) for f in draft(said).fields] == [
        ("surgery_listing", "left", "limited fasciectomy under regional block")
    ]
    assert [text.split()[0] for text, _ in unplaced(said)] == ["risks"]


def test_after_the_risks_what_is_found_is_read_again() -> None:
    found = draft("Risks of infection and stiffness discussed, left index swollen, follow up in two weeks.").fields
    assert [f.concept for f in found] == ["swelling", "follow_up"]
    assert [f.concept for f in draft("The flap on the left index is at risk, swollen.").fields] == ["swelling"]


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ("X-rays show no fracture.", "X-rays show no fracture."),
        ("No neck pain.", "No neck pain."),
        ("Right thumb, no recurrence.", "Right thumb, no recurrence."),
        ("On the left no scar, power four out of five throughout.", "power four out of five"),
        ("Left hand. No wasting, power normal.", "power normal."),
    ],
)
def test_what_is_denied_or_graded_and_not_understood_is_shown_with_its_words(said: str, shown: str) -> None:
    assert [text for text, _ in unplaced(said)] == [shown]


@pytest.mark.parametrize("said", ["No problem. No rush.", "No, it's fine."])
def test_a_no_in_talk_is_not_shown(said: str) -> None:
    assert unplaced(said) == []
