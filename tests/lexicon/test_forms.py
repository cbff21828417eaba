"""Every spoken form, said by itself in the plainest sentence of its kind, is understood as its own entry.

A form that another form's words hide, or that a cue takes for a command, fails here. Left out are forms that only open a
statement whose answer is a number or words ("symptoms for", "X-ray shows"). Common practice, no source.
"""

from __future__ import annotations

import pytest

from dictation import draft_from_text
from dictation.lexicon.entries import Concept, Form
from dictation.lexicon.loading import load_lexicon

SENTENCES = {
    "finding": "Right hand: {form}.", "test": "{form} positive on the right.", "movement": "{form} on the right is normal.",
    "sensation": "{form} on the right is normal.", "circulation": "{form} on the right is normal.",
    "function": "{form} on the right is normal.", "power": "{form} on the right is four.",
    "strength": "{form} on the right is thirty kilograms.", "score": "{form} on the right is seven.",
    "impression": "Impression: {form} on the right.", "plan": "Plan: {form} on the right.",
}  # fmt: skip
CONCEPTS = load_lexicon().concepts
SAID = [c for c in CONCEPTS.values() if c.kind in SENTENCES and c.statuses != ("not_assessed",) and c.id != "carrying_angle"]


def sentence(concept: Concept, form: Form) -> str:
    if form.observed:
        return f"{form.text} on the right is normal."
    pattern = "On the right, {form}." if form.sets.get("status") else SENTENCES[concept.kind]
    return pattern.format(form=form.text)


@pytest.mark.parametrize("concept", SAID, ids=lambda concept: concept.id)
def test_a_form_by_itself_is_its_own_entry(concept: Concept) -> None:
    wrong = []
    for form in concept.spoken:
        draft = draft_from_text(sentence(concept, form))
        status = form.sets.get("status") or ("absent" if form.observed else None)
        found = [f for f in draft.fields if f.concept == concept.id and status in {None, f.status}]
        if len(found) != 1 or len(draft.fields) != 1:
            wrong.append((form.text, [(f.concept, f.status) for f in draft.fields]))
    assert concept.spoken
    assert not wrong


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("AIN, PIN and ulnar motor intact",
         [("flexor_pollicis_longus_power", "normal"), ("finger_extension_power", "normal"), ("intrinsic_power", "normal")]),
        ("Median nerve motor function intact", [("abductor_pollicis_brevis_power", "normal")]),
        ("Motor and sensory function intact", [("neurovascular_status", "normal")]),
        ("Scar is supple and non-tender", [("scar", "present"), ("tenderness", "absent")]),
        ("Nearly makes a full fist", [("composite_flexion", "reduced")]),
        ("Clunk on rotation", [("crepitus_on_movement", "present")]),
        ("No block to forearm rotation", [("block_to_movement", "absent")]),
        ("Good blood supply", [("perfusion", "normal")]),
        ("Cold intolerance in the index", [("hypersensitivity", "present")]),
        ("Purulent discharge from the wound", [("wound", "present")]),
        ("Tapping over the ulnar nerve is positive", [("tinel_test", "positive")]),
        ("Table-top relocation test negative", [("lateral_pivot_shift_test", "negative")]),
    ],
)  # fmt: skip
def test_what_shorter_words_within_would_turn_into_another_finding(said: str, meant: list[tuple[str, str]]) -> None:
    draft = draft_from_text(f"Right hand. {said}.")
    assert [(f.concept, f.status) for f in draft.fields] == meant


def test_a_qualifier_keeps_the_capitals_of_its_form() -> None:
    wrong = []
    for form in (form for concept in CONCEPTS.values() for form in concept.spoken):
        short = {word.casefold(): word for word in form.text.split() if len(word) > 1 and word.isupper()}
        said = form.sets.get("qualifier", "")
        wrong += [(form.text, said) for word in said.split() if short.get(word.casefold(), word) != word]
    assert not wrong
