"""The patient's summary: plain words for everything, easy to read, and nothing but what is in the record."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from pocketsphinx import get_model_path
from scripted import ENDING, SHIPPED, WHEN, WHO, Script, in_memory

from dictation.errors import LexiconError
from dictation.lexicon.loading import load_lexicon
from dictation.note.options import NoteOptions
from dictation.note.plain import plain_words
from dictation.note.text import render_text
from dictation.note.wording import word_field
from dictation.record import RecordField

PLAIN = plain_words(SHIPPED)


def _field(concept: str, **keys: Any) -> RecordField:
    script = Script()
    script.say(concept, "said", **keys)
    return script.fields[0]


def _every_sentence() -> list[str]:
    sentences = []
    for concept in SHIPPED.concepts.values():
        side = {"side": "right"} if "side" in concept.takes else {}
        sentences += [word_field(_field(concept.id, status=status, **side), SHIPPED, PLAIN) for status in concept.statuses]
    return sentences


def test_everything_has_plain_words_and_nothing_else_has() -> None:
    assert len(SHIPPED.concepts) > 300
    assert set(SHIPPED.plain["names"]) == set(SHIPPED.concepts)
    assert set(SHIPPED.plain["structures"]) == set(SHIPPED.structures)
    assert set(SHIPPED.plain["joints"]) == set(SHIPPED.joints)
    assert set(SHIPPED.plain["aspects"]) == set(SHIPPED.aspects)
    kinds = {concept.kind for concept in SHIPPED.concepts.values()}
    for key in SHIPPED.plain["patterns"]:
        of, status = key.split(".")
        assert of in kinds or status in SHIPPED.concepts[of].statuses, key


def test_every_status_of_every_concept_gives_a_plain_sentence_of_its_own() -> None:
    for concept in SHIPPED.concepts.values():
        side = {"side": "right"} if "side" in concept.takes else {}
        said = [word_field(_field(concept.id, status=status, **side), SHIPPED, PLAIN) for status in concept.statuses]
        assert len(set(said)) == len(said), concept.id
        assert not any(re.search(r"[{}]|\s\s|\s[,.:]", sentence) for sentence in said), said
        assert not side or all("RIGHT" in sentence for sentence in said), said


SENTENCES: list[tuple[str, dict[str, Any], str]] = [
    ("swelling", {"side": "left", "joint": "wrist", "aspect": "dorsal", "status": "present", "severity": "mild"},
     "Mild swelling on the back of the LEFT wrist"),
    ("elbow_extension", {"side": "left", "value": -20.0, "unit": "deg", "mode": "active"},
     "Straightening the elbow on the LEFT: 20 degrees short of straight, moved by you"),
    ("wrist_extension", {"side": "right", "value": -10.0, "unit": "deg", "mode": "passive"},
     "Bending the wrist back on the RIGHT: 10 degrees short of the middle position, moved for you"),
    ("range_of_motion", {"side": "right", "digit": "ring", "joint": "pip", "low": -10.0, "high": 90.0, "unit": "deg"},
     "Movement at the RIGHT ring finger middle joint: 10 degrees past straight to 90 degrees"),
    ("tenderness", {"side": "right", "structure": "anatomical_snuffbox", "status": "absent"},
     "No soreness when pressed at the RIGHT hollow at the base of the thumb"),
    ("scaphoid_fracture", {"side": "right", "status": "present", "certainty": "suspected"},
     "It may be: a broken scaphoid (a small wrist bone) on the RIGHT"),
    ("scaphoid_fracture", {"side": "right", "status": "absent"}, "Not a broken scaphoid (a small wrist bone) on the RIGHT"),
    ("injection", {"side": "left", "status": "absent"}, "Not planned: injection on the LEFT"),
    ("hand_dominance", {"side": "right"}, "Hand you use most: RIGHT"),
    ("tendon_integrity", {"side": "left", "digit": "ring", "structure": "flexor_digitorum_profundus", "status": "absent"},
     "Tendon (cord that moves the joint) does not work at the LEFT ring finger tendon that bends the end joint (FDP)"),
    ("reported_numbness", {"side": "left", "status": "absent"}, "You told us of no numb or tingling feeling on the LEFT"),
    ("tinel_test", {"side": "right", "structure": "cubital_tunnel", "status": "equivocal"},
     "Test of tapping on the nerve (Tinel's test): not clear at the RIGHT cubital tunnel (inner side of the elbow)"),
]  # fmt: skip


@pytest.mark.parametrize(("concept", "keys", "sentence"), SENTENCES)
def test_the_plain_sentence_of_a_field(concept: str, keys: dict[str, Any], sentence: str) -> None:
    assert word_field(_field(concept, **keys), SHIPPED, PLAIN) == sentence


@cache
def _pronunciations() -> dict[str, str]:
    """The CMU Pronouncing Dictionary, as pocketsphinx ships it."""
    lines = Path(get_model_path("en-us/cmudict-en-us.dict")).read_text(encoding="utf-8").splitlines()
    return dict(line.split(" ", 1) for line in lines)


def _syllables(word: str) -> int:
    phones = _pronunciations().get(word.lower(), "")
    vowels = sum(phone[0] in "AEIOU" for phone in phones.split())
    return vowels or max(1, len(re.findall(r"[aeiouyé]+", word.lower())))


def test_a_child_of_ten_could_read_it() -> None:
    """Flesch-Kincaid grade: 0.39 words a sentence + 11.8 syllables a word - 15.59 (Kincaid et al., 1975, quoted from memory).

    Grade 4 is read by children of 9 to 10; guidance for the public asks for a reading age of 9 to 11 (common practice).
    """
    sentences = _every_sentence()
    assert len(sentences) > 900
    words = [word for sentence in sentences for word in re.findall(r"[A-Za-zéÀ-ÿ'-]+", sentence)]
    a_word = sum(map(_syllables, words)) / len(words)
    grade = 0.39 * len(words) / len(sentences) + 11.8 * a_word - 15.59
    assert grade < 4, grade
    assert a_word < 1.5, a_word


def test_the_summary_names_nobody_s_advice_and_holds_every_statement() -> None:
    script = Script()
    script.say("swelling", "x", side="right", joint="wrist", status="present", severity="mild")
    for name in ("scar", "erythema", "bruising"):
        script.say(name, "x", side="right", joint="wrist", status="absent")
    script.say("phalen_test", "x", side="right", status="not_assessed")
    script.say("carpal_tunnel_syndrome", "x", side="right", status="present", certainty="suspected")
    script.say("splint", "x", side="right", joint="wrist", status="present", qualifier="at night")
    review = in_memory(script, SHIPPED)
    for name in list(review.state.fields):
        review.confirm(name, WHO, WHEN)
    record = review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING, examined="2025-03-04 14:00")
    note = render_text(record, SHIPPED, NoteOptions(length="patient"))
    assert note.split("\n\nEncounter")[0] == (
        """YOUR EXAMINATION, IN PLAIN WORDS

This page says in plain words what is in the record of your examination of 2025-03-04
14:00.

WHAT IT IS THOUGHT TO BE
  It may be: carpal tunnel syndrome (a squeezed nerve at the wrist) on the RIGHT.

WHAT IS PLANNED
  Splint or cast at the RIGHT wrist, at night.

WHAT WAS FOUND
  Mild swelling at the RIGHT wrist.

WHAT WAS NORMAL OR NOT THERE
  No scar, redness or bruising at the RIGHT wrist.

WHAT WAS NOT CHECKED
  Test with the wrist held bent (Phalen's test): not done on the RIGHT.

A test is positive when it shows what it looks for, and negative when it does not."""
    )


def test_what_has_no_plain_name_stands_in_the_words_confirmed() -> None:
    names = {name: words for name, words in SHIPPED.plain["names"].items() if name != "swelling"}
    lexicon = replace(SHIPPED, plain={**SHIPPED.plain, "names": names})
    script = Script()
    script.say("swelling", "x", side="right", status="absent")
    review = in_memory(script, lexicon)
    review.confirm("f1", WHO, WHEN)
    record = review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING)
    assert "In clinical words: No swelling on the RIGHT." in render_text(record, lexicon, NoteOptions(length="patient"))


def test_a_clinic_s_own_plain_words_and_what_is_wrong_with_them(tmp_path: Path) -> None:
    own = tmp_path / "own.yaml"
    own.write_text('plain:\n  names:\n    swelling: "puffy feel"\n', encoding="utf-8")
    lexicon = load_lexicon(own)
    field = _field("swelling", side="left", status="absent")
    assert word_field(field, lexicon, plain_words(lexicon)) == "No puffy feel on the LEFT"
    assert len(lexicon.plain["names"]) == len(SHIPPED.plain["names"])
    for text, line, problem in (
        ('plain:\n  words:\n    swelling: "x"\n', 2, "no such part of plain"),
        ("plain:\n  names:\n    swelling: 3\n", 3, "must be text"),
        ('plain:\n  patterns:\n    finding.absent: "No {thing}"\n', 3, "unknown placeholder"),
        ("plain: 3\n", 1, "must be a mapping"),
    ):
        own.write_text(text, encoding="utf-8")
        with pytest.raises(LexiconError, match=problem) as caught:
            load_lexicon(own)
        assert f"own.yaml:{line}" in str(caught.value) or f"line {line}" in str(caught.value)
