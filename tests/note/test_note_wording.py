"""The sentence of a field: places, sides, numbers with unit and direction in words, and nothing lost."""

from __future__ import annotations

import re
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scripted import LEXICON, SHIPPED, Script, word

from dictation.lexicon.entries import Lexicon
from dictation.note.numbers import number, word_value
from dictation.note.printable import markdown, printable
from dictation.note.wording import mode_note, word_field
from dictation.record import RecordField

SENTENCES: list[tuple[str, dict[str, Any], str]] = [
    ("swelling", {"side": "right", "digit": "ring", "joint": "pip", "status": "absent"},
     "No swelling at the RIGHT ring finger PIP joint"),
    ("swelling", {"side": "left", "joint": "wrist",
      "aspect": "dorsal", "status": "present", "severity": "mild"},
     "Mild swelling on the dorsal aspect of the LEFT wrist"),
    ("swelling", {"side": "right", "joint": "mcp", "status": "present"}, "Swelling at the RIGHT MCP joints"),
    ("heberden_nodes", {"side": "left", "digit": "index", "status": "present"},
     "Heberden's nodes at the LEFT index finger"),
    ("heberden_nodes", {"side": "left", "status": "absent"}, "No Heberden's nodes on the LEFT"),
    ("tenderness", {"side": "right", "structure": "anatomical_snuffbox", "status": "present"},
     "Tenderness at the RIGHT anatomical snuffbox"),
    ("elbow_extension", {"side": "left", "value": -20.0, "unit": "deg"},
     "Elbow extension on the LEFT: lacks 20° of extension"),
    ("elbow_extension", {"side": "left", "value": 10.0, "unit": "deg"},
     "Elbow extension on the LEFT: 10° beyond neutral (hyperextension)"),
    ("elbow_extension", {"side": "left", "value": 0.0, "unit": "deg"}, "Elbow extension on the LEFT: 0°"),
    ("wrist_extension", {"side": "right", "value": 45.0, "unit": "deg", "mode": "passive"},
     "Passive wrist extension on the RIGHT: 45°"),
    ("wrist_extension", {"side": "right", "value": -10.0, "unit": "deg"},
     "Wrist extension on the RIGHT: lacks 10° of extension"),
    ("pip_flexion", {"side": "right", "digit": "ring", "low": 10.0, "high": 90.0, "unit": "deg"},
     "PIP joint flexion at the RIGHT ring finger: 10° to 90°"),
    ("range_of_motion", {"side": "right", "digit": "ring", "joint": "pip",
      "low": -10.0, "high": 90.0, "unit": "deg"},
     "Range of movement at the RIGHT ring finger PIP joint: 10° of hyperextension to 90°"),
    ("forearm_pronation", {"side": "left", "value": -10.0, "unit": "deg"},
     "Forearm pronation on the LEFT: 10° short of neutral"),
    ("abductor_pollicis_brevis_power", {"side": "right", "value": 4.0, "unit": "{score}", "grade_sign": "+"},
     "Abductor pollicis brevis power on the RIGHT: 4+ out of 5"),
    ("abductor_pollicis_brevis_power", {"side": "right", "value": 4.0, "unit": "{score}", "grade_sign": "-"},
     "Abductor pollicis brevis power on the RIGHT: 4 minus out of 5"),
    ("capillary_refill_time", {"side": "right", "value": 2.0, "unit": "s", "comparator": "<"},
     "Capillary refill time on the RIGHT: less than 2 seconds"),
    ("grip_strength", {"side": "left", "value": 42.0, "unit": "[lb_av]", "trial": 2},
     "Grip strength on the LEFT: 42 pounds, trial 2"),
    ("grip_strength", {"side": "left", "value": 3.5, "unit": "kg", "trial": "mean"},
     "Grip strength on the LEFT: 3.5 kg, mean of the trials"),
    ("phalen_test", {"side": "right", "status": "positive", "qualifier": "at thirty seconds"},
     "Phalen's test positive on the RIGHT, at thirty seconds"),
    ("phalen_test", {"side": "right", "status": "not_assessed"}, "Phalen's test not assessed on the RIGHT"),
    ("scaphoid_fracture", {"side": "right", "status": "present", "certainty": "suspected"},
     "Suspected: scaphoid fracture on the RIGHT"),
    ("light_touch", {"side": "left", "digit": "index", "structure": "pulp", "status": "reduced"},
     "Light touch reduced at the LEFT index finger pulp"),
    ("thumb_ucl_stress_test", {"side": "right", "status": "positive", "value": 30.0, "unit": "deg",
      "position": "in thirty degrees of flexion"},
     "Thumb ulnar collateral ligament stress test positive on the RIGHT, 30°, "
     "tested in thirty degrees of flexion"),
    ("fixed_flexion_deformity", {"side": "left", "digit": "little", "joint": "pip",
      "status": "present", "value": 30.0, "unit": "deg"},
     "Fixed flexion deformity at the LEFT little finger PIP joint: 30°"),
    ("tenderness", {"side": "left", "joint": "wrist", "status": "absent", "occasion": "before block"},
     "No tenderness at the LEFT wrist, before block"),
    ("hand_dominance", {"side": "right"}, "Hand dominance: RIGHT"),
    ("hand_dominance", {"qualifier": "ambidextrous"}, "Hand dominance: ambidextrous"),
    ("occupation", {"qualifier": "carpenter"}, "Occupation: carpenter"),
    ("consent", {"status": "present", "qualifier": "verbal"}, "Consent to examination: yes, verbal"),
    ("radiographs", {"side": "left", "joint": "wrist", "status": "present"}, "Radiographs at the LEFT wrist"),
    ("injection", {"side": "left", "status": "absent"}, "Decided against: injection on the LEFT"),
    ("hand_infection", {"side": "left", "joint": "wrist", "status": "present", "qualifier": "septic arthritis"},
     "Hand infection at the LEFT wrist, septic arthritis"),
    ("hand_infection", {"side": "left", "joint": "wrist", "status": "absent", "qualifier": "septic arthritis"},
     "No hand infection at the LEFT wrist (septic arthritis)"),
    ("wrist_extension", {"side": "left", "status": "absent", "mode": "active"}, "No active wrist extension on the LEFT"),
    ("hand_therapy_referral", {"status": "present"}, "Hand therapy referral (no side)"),
]  # fmt: skip


def _field(concept: str, **keys: Any) -> RecordField:
    script = Script()
    script.say(concept, "said", **keys)
    return script.fields[0]


@pytest.mark.parametrize(("concept", "keys", "sentence"), SENTENCES)
def test_the_sentence_of_a_field(concept: str, keys: dict[str, Any], sentence: str) -> None:
    assert word(_field(concept, **keys)) == sentence


@pytest.mark.parametrize(
    ("concept", "status", "sentence"),
    [
        ("capillary_refill_time", "reduced", "Capillary refill delayed on the LEFT"),
        ("skin_temperature", "reduced", "Skin cool on the LEFT"),
        ("buttoning", "absent", "Cannot manage buttons on the LEFT"),
        ("range_of_motion", "absent", "No movement on the LEFT"),
        ("resting_cascade_abnormality", "absent", "Normal resting cascade on the LEFT"),
    ],
)
def test_an_entry_words_what_its_kind_would_put_awkwardly(concept: str, status: str, sentence: str) -> None:
    assert word_field(_field(concept, side="left", status=status), SHIPPED) == sentence


def test_the_mode_is_asked_for_in_review_but_left_out_of_the_note() -> None:
    field = _field("wrist_flexion", side="right", value=70.0, unit="deg")
    assert mode_note(field, LEXICON) == "mode not stated"
    assert "mode" not in word(field)
    assert mode_note(_field("wrist_flexion", side="right", value=70.0, unit="deg", mode="active"), LEXICON) == ""
    assert mode_note(_field("swelling", side="right", status="absent"), LEXICON) == ""


@pytest.mark.parametrize("lexicon", [LEXICON, SHIPPED], ids=["by kind", "by entry"])
def test_every_status_of_every_concept_gives_a_sentence_of_its_own(lexicon: Lexicon) -> None:
    seen = 0
    for concept in lexicon.concepts.values():
        side = {"side": "right"} if "side" in concept.takes else {}
        sentences = [word_field(_field(concept.id, status=status, **side), lexicon) for status in concept.statuses]
        assert len(set(sentences)) == len(sentences), concept.id
        assert not any(re.search(r"[{}]|\s\s|\s[,.:]", sentence) for sentence in sentences), sentences
        if side:
            assert all("RIGHT" in sentence for sentence in sentences), sentences
        seen += len(sentences)
    assert seen > 500


def test_every_kind_of_concept_has_its_patterns() -> None:
    for concept in LEXICON.concepts.values():
        patterns = {**LEXICON.wording[concept.kind], **concept.wording}
        assert [status for status in concept.statuses if status not in patterns] == [], concept.id


_CONCEPTS = st.sampled_from(sorted(LEXICON.concepts))
_NUMBERS = st.floats(-400, 400).map(lambda x: round(x, 2))


@settings(deadline=None, max_examples=300)
@given(
    by_entry=st.booleans(), concept=_CONCEPTS, status=st.booleans(),
    side=st.sampled_from(["right", "left", None]), value=st.none() | _NUMBERS,
    severity=st.sampled_from([None, "mild", "severe"]), digit=st.sampled_from([None, "index", "thumb"]),
    qualifier=st.sampled_from([None, "well healed"]), occasion=st.sampled_from([None, "before block"]),
    position=st.sampled_from([None, "elbow straight"]), mode=st.sampled_from([None, "active", "passive"]),
    certainty=st.sampled_from([None, "suspected"]), trial=st.sampled_from([None, 3, "mean"]),
    comparator=st.sampled_from([None, "<", ">="]),
)  # fmt: skip
def test_nothing_a_field_holds_is_lost_and_no_number_or_side_is_made_up(
    by_entry: bool, concept: str, status: bool, side: str | None, value: float | None, severity: str | None,
    digit: str | None,
    qualifier: str | None, occasion: str | None, position: str | None, mode: str | None,
    certainty: str | None,
    trial: int | str | None, comparator: str | None,
) -> None:  # fmt: skip
    entry = LEXICON.concepts[concept]
    keys: dict[str, Any] = {
        "status": entry.statuses[0] if status and entry.statuses else None, "side": side, "value": value, 
        "mode": mode,
        "severity": severity, "digit": entry.digit or digit, "qualifier": qualifier,
        "occasion": occasion, "position": position,
        "certainty": certainty, "trial": trial, 
        "comparator": comparator if value is not None else None,
        "unit": entry.unit,
    }  # fmt: skip
    sentence = word_field(_field(concept, **keys), SHIPPED if by_entry else LEXICON)
    for text in (severity, qualifier, occasion, position, mode):
        assert text is None or text.casefold() in sentence.casefold()
    assert certainty is None or sentence.startswith("Suspected: ")
    assert ("RIGHT" in sentence, "LEFT" in sentence) == (side == "right", side == "left")
    if value is not None:
        assert number(abs(value)) in sentence
        assert "-" not in word_value(_field(concept, **keys), entry)
    assert trial != 3 or "trial 3" in sentence
    assert comparator != "<" or value is None or "less than" in sentence


@given(st.floats(0, 1e6))
def test_a_number_is_written_so_that_it_reads_back_the_same(value: float) -> None:
    assert float(number(value)) == value
    assert "e" not in number(value)


@given(st.text())
def test_whatever_was_spoken_is_one_harmless_line(text: str) -> None:
    shown = printable(text)
    assert shown.isprintable() or shown == ""
    assert not set(shown) & set("\x1b\x9b\r\n\u202e\u2066\u200b\u2028")
    assert printable(shown) == shown


def test_markup_in_spoken_words_stays_text() -> None:
    assert markdown("<script>[x](y) **no**") == r"\<script\>\[x\]\(y\) \*\*no\*\*"


def test_terminal_escapes_in_spoken_words_do_not_reach_the_sentence() -> None:
    sentence = word(_field("scar", side="right", status="present", qualifier="well\x1b[1A\x1b[2K healed\u202e"))
    assert sentence == "Scar on the RIGHT, well[1A[2K healed"
