"""Every thing a field says has its reason, noted by the rule that gave it; every other word has its fate."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest
import running
from running import Run
from scoring import read_cases

from dictation.errors import InputError
from dictation.explaining import Explanation, explain_draft, explain_text, show_explanation
from dictation.extraction.reasons import Fate, Rule
from dictation.lexicon.loading import load_lexicon
from dictation.pipeline import draft
from dictation.record import RecordField, Source
from dictation.transcript import Transcript, Word

run = running.run  # a fixture
TABLE = read_cases(Path(__file__).parent / "cases" / "phrases_tuning.jsonl")

REASONS = [
    (Rule.TERM, "The left wrist is swollen.", '"swollen" is a form of swelling ("swollen") in the lexicon'),
    (Rule.MOVEMENT, "Left wrist. Flexion sixty.", '"Flexion" is the movement word flexion, at the joint said or in force'),
    (Rule.CONTINUES, "Left Tinel's positive, negative on the right.",
     'no concept is named here: it continues "Left Tinel\'s positive"'),
    (Rule.DEVIATION, "Left wrist flexion sixty, extension fifty, radial fifteen.", None),
    (Rule.PAIN, "Left wrist flexion full but painful.", "a movement said to hurt is pain on movement"),
    (Rule.GENERAL, "Left hand otherwise normal.", None),
    (Rule.TABLE, "Muscle wasting of the left thenar eminence.", "read as what this place has of its own"),
    (Rule.TABLE, "Left grip 30 kilograms.", "read as a strength, since it was measured"),
    (Rule.TABLE, "Impression: left ganglion.", "read as an impression, since it is offered as one"),
    (Rule.EXPANDED, "Left elbow full range of movement.",
     "one of the fields that the collective phrase stands for (full range)"),
    (Rule.PLACE_SAID, "Left snuffbox tender.", 'anatomical_snuffbox: said in "Left snuffbox"'),
    (Rule.PLACE_OF_CONCEPT, "Left wrist flexion sixty.", "wrist: belongs to the concept, said or not"),
    (Rule.PLACE_OF_FORM, "Left ADM power four.", "little: the form of the term carries it"),
    (Rule.PLACE_OF_SUBJECT, "Left index and thumb: swollen at the PIP, tender.", None),
    (Rule.PLACE_OF_NEIGHBOUR, "Swelling over the left snuffbox and tender.", None),
    (Rule.PLACE_OF_HEADING, "Left wrist. Swollen.", 'wrist: the heading "Left wrist" holds until another place is named'),
    (Rule.PLACE_SHARED, "Left hand. Mild swelling and moderate tenderness over the snuffbox.", None),
    (Rule.SITE, "Tinel's positive at the left elbow.", "cubital_tunnel: where this nerve test is done at the place said"),
    (Rule.ONLY_DIGIT, "Left IP joint tender.", "thumb: the only digit with this joint"),
    (Rule.DIGIT_IN_FORCE, "Left index finger swollen. PIP joint tender.", "index: the digit spoken of before"),
    (Rule.SIDE_SAID, "The left wrist is swollen.", 'left: said here, in "The left wrist"'),
    (Rule.SIDE_OF_FORM, "She is right handed.", "right: the form of the term carries it"),
    (Rule.SIDE_OTHER, "Left wrist tender. Contralateral wrist tender.",
     'right: "Contralateral wrist" is read from the side spoken before'),
    (Rule.SIDE_CARRIED, "Left wrist. Snuffbox tender.", 'left: carried from "Left wrist"'),
    (Rule.SIDE_LATER, "Snuffbox tender, wrist swollen on the left.", None),
    (Rule.SIDE_MISSING, "Snuffbox tender.", "none was said, and none is in force that this may take"),
    (Rule.DENIED, "No swelling of the left wrist.", 'absent: "No" denies it'),
    (Rule.DENIED_LIST, "No swelling over the left wrist, tenderness of the thumb or warmth.",
     'absent: "No" holds for the whole list'),
    (Rule.RESULT, "Left Tinel's positive.", 'positive: "positive" is the result'),
    (Rule.RESULT_OF_FORM, "Left wrist non-tender.", "absent: the form of the term carries it"),
    (Rule.RESULT_AS_BEFORE, "Left Tinel's positive, Phalen's the same.", None),
    (Rule.ASSERTED, "The left wrist is swollen.", "present: named, and nothing denies it"),
    (Rule.NORMAL_OF_PHRASE, "Left elbow full range of movement.", "normal: what the collective phrase says of each"),
    (Rule.NUMBER, "Left wrist flexion sixty.", '60: said as "sixty"'),
    (Rule.ZERO, "Left wrist extension to neutral.", '0: "neutral" is the neutral position'),
    (Rule.SHORT_OF, "Left elbow lacks twenty degrees of extension.", '"lacks" makes it short of the full movement'),
    (Rule.BEYOND, "Left elbow extension ten beyond neutral.", None),
    (Rule.TRIAL, "Left grip strength 20 kilograms, 22 kilograms, 24 kilograms.", "trial 2, in the order said"),
    (Rule.MEAN, "Left grip strength mean 22 kilograms.", '"mean" says that this is the mean'),
    (Rule.MODE, "Left wrist active flexion sixty.", 'active: said in "active"'),
    (Rule.MODE_OF_HEADING, "Left wrist. Passive range: flexion sixty.", "passive: a heading said so"),
    (Rule.MODE_OF_FORM, "Passive range of the left wrist is full.", None),
    (Rule.DETAIL_OF_FORM, "Complains of mild pain in the left wrist.", None),
    (Rule.DETAIL, "Mild swelling of the left wrist.", 'severity mild: said in "Mild"'),
    (Rule.PURPOSE, "Plan: aspiration of the ganglion on the left.", '"ganglion" is what it is for, and no finding'),
    (Rule.COPIED, "Left Phalen's positive. Same on the right.", None),
    (Rule.CORRECTED, "Right wrist tender, correction, left.", 'corrected by "correction, left"'),
    (Rule.REPLACES, "Left wrist flexion sixty, correction, wrist flexion seventy.", None),
    (Rule.TURNED_ROUND, "Right wrist swollen. No it is not.", 'turned round by "No it is not"'),
]  # fmt: skip


@cache
def explained(text: str) -> Explanation:
    return explain_text(text)


@pytest.mark.parametrize(("rule", "said", "sentence"), REASONS)
def test_the_rule_that_gave_it_is_named(rule: Rule, said: str, sentence: str | None) -> None:
    steps = [step for field in explained(said).fields for step in field.steps if step.rule is rule]
    assert steps
    if sentence is not None:
        assert sentence in {step.sentence for step in steps}


def test_every_rule_is_named_by_some_test() -> None:
    assert {rule for rule, _, _ in REASONS} == set(Rule)


def wants(field: RecordField) -> set[str]:
    """What of a field must have a reason."""
    out = {"concept"}
    out |= {"place"} if any((field.digit, field.joint, field.structure, field.aspect)) else set()
    out |= {"side"} if field.side else set()
    out |= {"status"} if field.status and field.concept not in {"normal_examination", "neurovascular_status"} else set()
    out |= {"number"} if field.value is not None or field.low is not None else set()
    return out | ({"mode"} if field.mode else set())


def test_nothing_that_a_field_says_is_without_a_reason() -> None:
    missing = []
    count = 0
    for case in TABLE:
        for one in explained(case["text"]).fields:
            lacking = wants(one.field) - {step.about for step in one.steps}
            missing += [(case["id"], one.field.concept, sorted(lacking))] if lacking else []
            count += 1
    assert count > 450
    assert missing == []


def test_the_words_of_a_reason_are_words_of_the_dictation() -> None:
    for case in TABLE:
        explanation = explained(case["text"])
        heard = [w.said for w in explanation.draft.transcript.words]
        for step in (step for field in explanation.fields for step in field.steps):
            quoted = re.findall(r'^"(.+?)" (?:is|makes|says|denies)', step.sentence)
            assert step.words is None or 0 <= step.words[0] < step.words[1] <= len(heard)
            for words in quoted:
                assert words in " ".join(heard)


FATES = [
    (Fate.HEADING, "Left wrist. Swollen.", "Left wrist.",
     "a heading: it sets the side (left) and the place (wrist) for what follows"),
    (Fate.HEADING, "Left wrist tender. Plan: right carpal tunnel.", "Plan:",
     "a heading: it sets the part (plan) for what follows"),
    (Fate.LOST, "Plan: right carpal tunnel.", "right carpal tunnel.", "an impression or plan of which no term was recognised"),
    (Fate.LOST, "Left wrist tender. Twenty seven degrees.", "Twenty seven degrees.", "what this is about was not clear"),
    (Fate.NOT_A_STATEMENT, "Last time the grip was forty kilos.", "the grip was forty kilos.", "about an earlier time"),
    (Fate.NOT_A_STATEMENT, "Does it hurt? I wake with it.", "I wake with it.", "may be the patient's own words"),
    (Fate.UNUSED, "Does it hurt here? No. Left wrist swollen.", "No.",
     'the lexicon knows "no" (negation) here, and no statement took it up'),
    (Fate.ANEW, "Left wrist tender. New patient.", "New patient.", "a new patient: nothing said before it is carried over"),
    (Fate.BARE_WORD, "Right. Left wrist swollen.", "Right.", '"right" by itself is taken as the word, not as the side'),
    (Fate.MODE, "Left wrist flexion sixty. Passive now. Seventy.", "Passive", "says passive of the numbers beside it"),
    (Fate.CORRECTION, "Left wrist swollen. Scratch that.", "Scratch that.", "takes back or corrects what was said before"),
    (Fate.TAKEN_BACK, "Left wrist swollen. Scratch that.", "Left wrist swollen.", "taken back by the speaker"),
    (Fate.NOT_A_STATEMENT, "Is the left wrist tender?", "Is the left wrist tender?", "a question"),
    (Fate.LOST, "Left wrist tender. Phalen's test.", "Phalen's test.", "no result was said with it"),
    (Fate.UNUSED, "Right, moving on. Left wrist tender.", "Right,",
     'the lexicon knows "right" (right) here, and no statement took it up'),
    (Fate.UNKNOWN, "Left wrist tender. Thank you.", "Thank you.", "no word here is a term of the lexicon"),
]  # fmt: skip


@pytest.mark.parametrize(("fate", "said", "words", "sentence"), FATES)
def test_what_became_of_other_words_is_said(fate: Fate, said: str, words: str, sentence: str | None) -> None:
    found = [s for s in explained(said).stretches if s.fate is fate]
    assert words in " ".join(s.text for s in found)
    if sentence is not None:
        assert sentence in {s.sentence for s in found}


def test_every_word_is_in_a_field_or_has_a_fate() -> None:
    for case in TABLE:
        explanation = explained(case["text"])
        there = {k for s in explanation.stretches for k in range(*s.words)}
        there |= {k for f in explanation.fields for e in f.field.evidence for k in range(*e.words)}
        heard = explanation.draft.transcript.words
        assert [w.said for k, w in enumerate(heard) if k not in there and any(c.isalnum() for c in w.said)] == []


def test_a_field_and_a_stretch_can_be_asked_for() -> None:
    explanation = explained("Left wrist. No swelling. Thank you.")
    assert explanation.field("1") == explanation.field(explanation.draft.fields[0].id)
    fields, stretches = explanation.within(2, 4)
    assert ([f.number for f in fields], stretches) == ([1], [])
    assert [s.text for s in explanation.within(4, 6)[1]] == ["Thank you."]


@pytest.mark.parametrize("ask", [{"field": "9"}, {"words": (3, 3)}, {"words": (0, 99)}])
def test_what_is_not_there_is_one_sentence(ask: dict[str, object]) -> None:
    with pytest.raises(InputError, match=r"^There (is|are) no such .*\.$"):
        list(show_explanation(explained("Left wrist swollen."), **ask))  # type: ignore[arg-type]


def test_a_draft_of_sound_is_explained_from_its_own_words() -> None:
    heard = Transcript(tuple(Word(w, i * 0.5, i * 0.5 + 0.4, 0.95) for i, w in enumerate("left wrist is swollen".split())))
    source = Source(name="invented.wav", sha256="0", duration_s=3.0, recogniser="scripted", model=None, program_version="0",
                    lexicon_version="0")  # fmt: skip
    explanation = explain_draft(draft(heard, source, load_lexicon()), load_lexicon())
    assert explanation.fields[0].steps
    assert len(explanation.changed) == 2


def test_a_field_that_does_not_come_out_again_is_not_explained_by_guess() -> None:
    record = explained("Left wrist swollen.").draft.model_copy(deep=True)
    record.fields[0].status = "absent"
    explanation = explain_draft(record, load_lexicon())
    assert explanation.fields[0].steps == ()
    assert "its reasons are not known" in "\n".join(show_explanation(explanation))


SAID = "Left wrist. No swelling. Thank you."


def test_the_command_explains_text_and_a_draft(run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "spoken.txt").write_text(SAID + "\n", encoding="utf-8")
    assert run("explain", SAID) == 0
    printed = capsys.readouterr().out
    assert "1. No swelling at the LEFT wrist (swelling)" in printed
    assert 'result   absent: "No" denies it' in printed
    assert 'words 4:6  "Thank you.": no word here is a term of the lexicon' in printed
    assert run("draft", "spoken.txt", "--out-dir", ".") == 0
    capsys.readouterr()
    for what in ("spoken.txt", "spoken.draft.json"):
        assert run("explain", what) == 0
        assert capsys.readouterr().out == printed


@pytest.mark.parametrize(
    ("args", "code"),
    [(["none.txt"], 3), (["none.json"], 3), ([SAID, "--field", "7"], 3), ([SAID, "--words", "9:99"], 3),
     ([SAID, "--words", "two"], 2)],
)  # fmt: skip
def test_the_command_refuses_what_it_cannot_use(
    run: Run, capsys: pytest.CaptureFixture[str], args: list[str], code: int
) -> None:
    assert run("explain", *args) == code
    err = capsys.readouterr().err
    assert err.strip().endswith(".")
    assert "Traceback" not in err
