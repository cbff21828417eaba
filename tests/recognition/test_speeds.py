"""Readings at other speeds: when they are wanted, and where they agree."""

from __future__ import annotations

import pytest

from dictation.recognition.agreement import HeardWord
from dictation.recognition.speeds import agreed, is_sure


def word(text: str, start: int, end: int, posterior: float = 1.0) -> HeardWord:
    return HeardWord(text, ("N",), start, end, posterior, -1.0)


@pytest.mark.parametrize(
    ("others", "share"),
    [
        ([], 1.0),
        ([[word("no", 10, 30)]], 1.0),
        ([[word("no", 20, 60)]], 1.0),  # half of its time
        ([[word("no", 21, 60)]], 0.0),  # less
        ([[word("now", 10, 30)]], 0.0),
        ([[word("no", 10, 30)], [word("now", 10, 30)], []], 1 / 3),
    ],
)
def test_the_share_of_readings_that_have_the_word_at_its_time(others: list[list[HeardWord]], share: float) -> None:
    assert agreed(word("no", 10, 30), others) == pytest.approx(share)


def test_sureness_is_weighted_by_length() -> None:
    assert is_sure([word("a", 0, 2, 0.1), word("swelling", 2, 100, 0.99)])
    assert not is_sure([word("a", 0, 2, 1.0), word("swelling", 2, 100, 0.9)])
    assert not is_sure([])
