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
