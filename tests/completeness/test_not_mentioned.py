"""What a complete examination would speak of and nobody did: per side examined, never a finding, never twice."""

from __future__ import annotations

import pytest

from dictation import draft_from_text
from dictation.completeness.not_mentioned import complete_examination, not_mentioned
from dictation.completeness.purposes import GENERAL, PURPOSES
from dictation.lexicon.loading import load_lexicon
from dictation.record import RecordField

LEXICON = load_lexicon()
CORE = {c.id: c for c in LEXICON.concepts.values() if c.core}


def missing(text: str) -> set[tuple[str, str | None]]:
    return {(item.concept, item.side) for item in draft_from_text(text).not_mentioned}


def field(concept: str, side: str | None) -> RecordField:
    return RecordField(id=concept, part=LEXICON.concepts[concept].part, concept=concept, side=side)  # type: ignore[arg-type]


def test_the_lexicon_names_what_is_core_and_why() -> None:
    assert len(CORE) >= 10
    assert all(concept.why for concept in CORE.values())


def test_nothing_is_asked_of_a_dictation_without_an_examination() -> None:
    assert missing("Consent obtained. Plan: steroid injection on the right.") == set()
    assert missing("") == set()


def test_every_core_concept_but_the_one_said_is_missing_on_the_side_examined() -> None:
    found = missing("The left wrist is swollen.")
    assert {concept for concept, _ in found} == set(CORE) - {"swelling"}
    assert {side for _, side in found} <= {"left", None}


def test_a_denial_mentions() -> None:
    assert ("swelling", "left") not in missing("No swelling of the left wrist.")


def test_each_side_examined_is_asked_for_apart() -> None:
    found = missing("The left wrist is swollen. The right wrist is tender.")
    assert ("swelling", "right") in found
    assert ("swelling", "left") not in found


def test_a_side_not_examined_is_not_asked_for() -> None:
    assert "right" not in {side for _, side in missing("The left wrist is swollen.")}


def test_a_general_phrase_mentions_nothing_by_itself() -> None:
    found = missing("The left wrist is swollen. Otherwise unremarkable.")
    assert {concept for concept, _ in found} == set(CORE) - {"swelling"}


def test_a_concept_that_counts_for_another_mentions_it() -> None:
    standing = [(c.id, c.counts_for) for c in LEXICON.concepts.values() if c.counts_for in CORE]
    assert standing
    for concept, counted in standing:
        if LEXICON.concepts[concept].part in {"context", "reported", "impression", "plan"}:
            continue
        found = not_mentioned([field(concept, "left")], LEXICON)
        assert counted not in {item.concept for item in found}, concept


def test_it_is_a_function_of_the_fields_and_leaves_them_alone() -> None:
    fields = draft_from_text("The left wrist is swollen.").fields
    before = [f.model_dump() for f in fields]
    assert not_mentioned(fields, LEXICON) == not_mentioned(fields, LEXICON)
    assert [f.model_dump() for f in fields] == before
    assert {item.why for item in not_mentioned(fields, LEXICON)} <= {c.why for c in CORE.values()}


@pytest.mark.parametrize("purpose", [GENERAL, *PURPOSES])
def test_every_purpose_names_concepts_of_the_lexicon_with_a_reason(purpose: str) -> None:
    listed = complete_examination(LEXICON, purpose)
    assert len(listed) >= 5
    assert all(why for _, why in listed)


def test_the_purpose_decides_what_is_asked_for() -> None:
    fields = draft_from_text("The left wrist is swollen.").fields
    asked = {purpose: {item.concept for item in not_mentioned(fields, LEXICON, purpose)} for purpose in PURPOSES}
    assert "tabletop_test" in asked["dupuytren"]
    assert "tabletop_test" not in asked["nerve"]
    assert "ok_sign" in asked["child"]
    assert "swelling" not in asked["trauma"]


@pytest.mark.parametrize(
    ("text", "concept", "side"),
    [
        ("Tender in the right anatomical snuffbox.", "scaphoid_compression_test", "right"),
        ("She reports numbness of the left little finger. No swelling of the left hand.", "froment_sign", "left"),
        (
            "She reports numbness of the left little finger. No swelling of the left hand.",
            "first_dorsal_interosseous_power",
            "left",
        ),
        ("There is a wound over the left palm.", "digital_nerve_sensation", "left"),
        ("Dupuytren's cord of the right ring finger.", "tabletop_test", "right"),
    ],
)
def test_a_finding_calls_for_what_belongs_to_it(text: str, concept: str, side: str) -> None:
    found = not_mentioned(draft_from_text(text).fields, LEXICON)
    reasons = {(item.concept, item.side): item.why for item in found}
    assert reasons[concept, side]
    assert found[0].concept != "consent"  # what the findings call for comes first


def test_what_was_said_is_not_called_for() -> None:
    text = "Tender in the right anatomical snuffbox. Scaphoid compression test positive on the right."
    fields = draft_from_text(text).fields
    assert "scaphoid_compression_test" not in {item.concept for item in not_mentioned(fields, LEXICON)}


@pytest.mark.parametrize(
    "protection",
    [
        field("hand_fracture", "right").model_copy(update={"status": "present"}),
        field("splint_in_place", "right").model_copy(update={"status": "present"}),
        field("radiograph_result", "right").model_copy(update={"status": "abnormal"}),
        field("previous_surgery", "right").model_copy(
            update={"status": "present", "qualifier": "flexor tendon repair ten days ago"}
        ),
    ],
)
@pytest.mark.parametrize("purpose", [GENERAL, *PURPOSES])
def test_after_a_fracture_a_fresh_repair_or_in_a_splint_nothing_that_strains_is_asked_for(
    protection: RecordField, purpose: str
) -> None:
    """Common practice, no source."""
    snuffbox = field("tenderness", "right").model_copy(update={"status": "present", "structure": "anatomical_snuffbox"})
    asked = not_mentioned([snuffbox, protection], LEXICON, purpose)
    parts = {item.concept: LEXICON.concepts[item.concept].part for item in asked if item.side == "right"}
    assert [name for name, part in parts.items() if part == "power" or (part == "special_tests" and name != "tinel_test")] == []


@pytest.mark.parametrize(
    ("said", "asked"),
    [(None, False), ("flexor tendon repair", False), ("carpal tunnel release three years ago", True), ("months ago", True)],
)
def test_after_an_operation_of_unknown_date_nothing_that_strains_is_asked_for(said: str | None, asked: bool) -> None:
    """Common practice, no source: a repair counts as fresh until somebody says that it is not."""
    fields = [field("swelling", "right")]
    if said is not None:
        fields.append(field("previous_surgery", "right").model_copy(update={"status": "present", "qualifier": said}))
    missing = {item.concept for item in not_mentioned(fields, LEXICON, "after operation")}
    assert ("composite_flexion" in missing) is asked
    assert "capillary_refill_time" in missing


def test_the_other_hand_may_be_strained() -> None:
    broken = field("hand_fracture", "right").model_copy(update={"status": "present"})
    asked = not_mentioned([field("swelling", "right"), field("swelling", "left"), broken], LEXICON)
    assert "phalen_test" in {item.concept for item in asked if item.side == "left"}
    assert "phalen_test" not in {item.concept for item in asked if item.side == "right"}
