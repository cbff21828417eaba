"""One tokeniser for dictations and lexicon forms: normal forms, stops, and letters said one by one."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from spoken import corrected, facts, tokens

from dictation.extraction.tokens import form_tokens, normalise


def texts(said: str) -> list[str]:
    return [token.text for token in tokens(said)]


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("4+/5.", ["4", "+", "/", "5"]),
        ("4-/5", ["4", "-", "/", "5"]),
        ("0-110", ["0", "-", "110"]),
        ("0–110°", ["0", "-", "110", "degree"]),
        ("-10", ["minus", "10"]),
        ("\u221210", ["minus", "10"]),
        ("70°", ["70", "degree"]),
        ("62.5", ["62.5"]),
        ("20kg", ["20", "kg"]),
        ("<2s", ["<", "2", "s"]),
        ("≥6mm", [">=", "6", "mm"]),
        ("Tinel's", ["tinel"]),
        ("Tinel’s", ["tinel"]),
        ("Boutonnière", ["boutonniere"]),
        ("wrists", ["wrist"]),
        ("carpus", ["carpus"]),
        ("can't", ["can", "not"]),
        ("isn't", ["is", "not"]),
        ("there's", ["there", "is"]),
        ("non-tender", ["non", "tender"]),
        ("swelling/erythema", ["swelling", "erythema"]),
        ("?scaphoid", ["query", "scaphoid"]),
        ("M.C.P.", ["mcp"]),
        ("(left)", ["left"]),
        ("...", []),
        ("", []),
    ],
)
def test_a_written_word_has_one_normal_form(written: str, read: list[str]) -> None:
    assert [part for part, _ in normalise(written)] == read


def test_a_dropped_plural_is_remembered() -> None:
    assert normalise("wrists") == [("wrist", True)]
    assert normalise("wrist's") == [("wrist", False)]


def test_punctuation_stays_with_the_last_part_of_its_word() -> None:
    assert [(t.text, t.stop) for t in tokens("Left wrist, 4+/5.")] == [
        ("left", ""), ("wrist", ","), ("4", ""), ("+", ""), ("/", ""), ("5", "."),
    ]  # fmt: skip


def test_a_lone_stop_belongs_to_the_word_before_it() -> None:
    assert [(t.text, t.stop) for t in tokens("tender . Left")] == [("tender", "."), ("left", "")]


@pytest.mark.parametrize(
    ("said", "read"),
    [
        ("the m c p joint", ["the", "mcp", "joint"]),
        ("M C P J", ["mcpj"]),
        ("e c r l", ["ecrl"]),
        ("c six dermatome", ["c6", "dermatome"]),
        ("R wrist", ["right", "wrist"]),
        ("Lt. elbow", ["left", "elbow"]),
        ("x y z", ["x", "y", "z"]),
    ],
)
def test_letters_said_one_by_one_are_joined_where_the_lexicon_knows_them(said: str, read: list[str]) -> None:
    assert texts(said) == read


def test_letters_of_a_spelled_name_are_not_sides() -> None:
    assert "right" not in texts("E C R L intact")


def test_a_spelled_joint_makes_the_field_of_the_written_one() -> None:
    spelled, written = facts("Left index m c p joint swollen."), facts("Left index MCP joint swollen.")
    assert spelled == written == ["swelling left index mcp present"]


def test_british_and_american_spellings_meet(lexicon: object) -> None:
    assert texts("5 millimeters")[-1] in {"millimetre", "millimeter"}
    assert facts("Left little finger two point discrimination 5 millimeters.") == facts(
        "Left little finger two point discrimination 5 millimetres."
    )


@given(st.text(st.characters(exclude_characters="'’"), max_size=60))  # an apostrophe alone: see test_extract.py
def test_any_text_reads_as_tokens_that_point_at_their_words(said: str) -> None:
    words = corrected(said).corrected
    read = tokens(said)
    assert all(0 <= token.word < len(words) and token.text for token in read)
    assert [t.word for t in read] == sorted(t.word for t in read)


@given(st.text(st.characters(categories=["L", "N", "P"]), max_size=20))
def test_a_form_and_a_dictation_are_read_alike(said: str) -> None:
    assert form_tokens(said, {}) == tuple(part for word in said.split() for part, _ in normalise(word))
