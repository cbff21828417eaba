"""The lexicon and its matcher, built once a run for every test of extraction."""

from __future__ import annotations

import pytest
from spoken import tokens

from dictation.extraction.matching import TermMatcher
from dictation.lexicon.entries import Lexicon
from dictation.lexicon.loading import load_lexicon


@pytest.fixture(scope="session", autouse=True)
def lexicon() -> Lexicon:
    """The shipped lexicon, checked; the drafts of these tests share what is built from it."""
    shipped = load_lexicon()
    tokens("warm up")
    return shipped


@pytest.fixture(scope="session")
def matcher(lexicon: Lexicon) -> TermMatcher:
    """A matcher over the shipped lexicon."""
    return TermMatcher(lexicon)
