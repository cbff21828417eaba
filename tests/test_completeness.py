"""What a complete examination would speak of and nobody did: per side examined, never a finding, never twice."""

from __future__ import annotations

from dictation import draft_from_text
from dictation.completeness import not_mentioned
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
