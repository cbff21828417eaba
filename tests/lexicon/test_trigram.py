"""The trigram model: a probability distribution after every context, and the ARPA file says the same as the model."""

from __future__ import annotations

import math

import pytest
from arpa_for_tests import from_arpa, read_arpa
from hypothesis import given
from hypothesis import strategies as st

from dictation.lexicon.trigram import END, START, Bigrams, Model, arpa

TEXT = [
    s.split() for s in ("no swelling", "no swelling or redness", "no redness", "tender over the wrist", "the wrist is tender")
]
TALK = [s.split() for s in ("how is the wrist", "come in", "come in and sit", "is it tender")]
WORDS = frozenset(w for s in (*TEXT, *TALK) for w in s)
CONTEXTS = [(START, "no"), ("no", "swelling"), ("the", "wrist"), ("tender", "no"), ("sit", "wrist"), (START, "come")]


@pytest.mark.parametrize("context", CONTEXTS)
def test_what_can_follow_adds_up_to_one(context: tuple[str, str]) -> None:
    model = Model(TEXT, WORDS)
    assert sum(model.three(*context, [*WORDS, END])) == pytest.approx(1)
    everyday = Bigrams(dict.fromkeys(WORDS, 0.1) | {END: 0.1}, {"the": {"wrist": 0.5, "redness": 0.6}})
    assert sum(everyday.three(*context, [*WORDS, END])) == pytest.approx(1)
    table = read_arpa(arpa([(0.7, model), (0.3, Model(TALK, WORDS))], WORDS))
    assert sum(from_arpa(table, context, w) for w in [*WORDS, END]) == pytest.approx(1, abs=2e-3)  # four decimals


def test_the_file_says_what_the_mixture_says() -> None:
    dictated, talk = Model(TEXT, WORDS), Model(TALK, WORDS)
    table = read_arpa(arpa([(0.6, dictated), (0.4, talk)], WORDS))
    for context in (START, "no"), ("no", "swelling"), ("how", "is"):
        for word in ("swelling", "redness", "or", "the"):
            mixed = 0.6 * dictated.three(*context, [word])[0] + 0.4 * talk.three(*context, [word])[0]
            if (*context, word) in table:
                assert math.log10(mixed) == pytest.approx(table[(*context, word)][0], abs=1e-3)
    assert ("no", "swelling", "or") in table


def test_what_was_seen_is_likelier() -> None:
    model = Model(TEXT, WORDS)
    seen, unseen = model.three("no", "swelling", ["or", "wrist"])
    assert seen > 5 * unseen
    seen, unseen = model.two("the", ["wrist", "no"])
    assert seen > 5 * unseen
    assert min(model.three("never", "heard", sorted(WORDS))) > 0


def test_weights_must_add_up() -> None:
    with pytest.raises(ValueError, match="add up to one"):
        arpa([(0.5, Model(TEXT, WORDS)), (0.6, Model(TALK, WORDS))], WORDS)


@given(st.lists(st.lists(st.sampled_from(sorted(WORDS)), max_size=6), min_size=1, max_size=12))
def test_any_text_gives_a_distribution(text: list[list[str]]) -> None:
    model = Model(text, WORDS)
    for context in CONTEXTS:
        assert sum(model.three(*context, [*WORDS, END])) == pytest.approx(1)
