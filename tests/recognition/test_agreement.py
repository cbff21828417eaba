"""Two readings compared: words that fit the sound are trusted, words laid over other sound are not."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictation.recognition.agreement import Evidence, HeardWord, Phone, is_talk, probability, weigh


def distance(a: tuple[str, ...], b: tuple[str, ...]) -> float:
    """Share of phones that differ, position by position: enough for these tests."""
    longest = max(len(a), len(b))
    return 1 - sum(x == y for x, y in zip(a, b, strict=False)) / longest if longest else 0.0


def loop(phones: str) -> list[Phone]:
    return [Phone(p, 10 * i, 10 * i + 10) for i, p in enumerate(phones.split())]


def word(text: str, phones: str, start: int, posterior: float = 1.0, language: float = -20.0) -> HeardWord:
    said = tuple(phones.split())
    return HeardWord(text, said, start, start + 10 * len(said), posterior, language)


def test_a_word_both_readings_hear_is_trusted() -> None:
    (evidence,) = weigh([word("tender", "T EH N D ER", 0)], loop("T EH N D ER"), distance)
    assert evidence == Evidence(1.0, 0.0, 0.0, -20.0, -20.0, 5, 1.0, 1.0)
    assert probability(evidence) > 0.85


def test_words_laid_over_other_sound_are_not() -> None:
    heard = [word("no", "N OW", 0, 0.2, -60.0), word("radial", "R EY D IY AH L", 20, 0.2, -60.0)]
    sure = [probability(e) for e in weigh(heard, loop("K AE N D UW F AO R"), distance)]
    assert max(sure) < 0.4
    assert is_talk(heard, sure)


def test_one_bad_word_among_good_ones_stands_out() -> None:
    heard = [
        word("tender", "T EH N D ER", 0), word("over", "OW V ER", 50), 
        replace(word("lunate", "L UW N EY T", 80, 0.2, -70.0), agreed=0.0),
        word("wrist", "R IH S T", 130), word("joint", "JH OY N T", 170),
    ]  # fmt: skip
    sure = [probability(e) for e in weigh(heard, loop("T EH N D ER OW V ER P IH K AH L R IH S T JH OY N T"), distance)]
    assert sure[2] < 0.45 < min(sure[0], sure[1], sure[3], sure[4])
    assert not is_talk(heard, sure)


def test_phones_on_an_edge_belong_to_one_word_and_silence_to_none() -> None:
    heard = [word("a", "AH", 0), word("b", "B IY", 10)]
    shifted = [Phone("AH", 0, 13), Phone("SIL", 13, 15), Phone("B", 15, 21), Phone("+SPN+", 21, 23), Phone("IY", 23, 30)]
    assert [e.distance for e in weigh(heard, shifted, distance)] == [0.0, 0.0]


def test_neighbours_are_those_of_one_word_either_side() -> None:
    heard = [word(str(i), "AH", 10 * i, language=-10.0 * i) for i in range(4)]
    assert [e.around_language for e in weigh(heard, loop("AH AH AH AH"), distance)] == [-5.0, -10.0, -20.0, -25.0]


def test_nothing_heard_is_not_talk() -> None:
    assert weigh([], loop("AH"), distance) == []
    assert not is_talk([], [])


VALUES = st.builds(
    Evidence, st.floats(0, 1), st.floats(0, 1), st.floats(0, 1), st.floats(-120, 0), st.floats(-120, 0), st.floats(1, 10),
    st.floats(2, 14),
)  # fmt: skip


@given(VALUES, st.floats(0.01, 1))
def test_worse_evidence_never_raises_trust(evidence: Evidence, step: float) -> None:
    base = probability(evidence)
    assert 0 <= base <= 1
    for worse in (
        replace(evidence, posterior=evidence.posterior - step),
        replace(evidence, distance=evidence.distance + step),
        replace(evidence, around_distance=evidence.around_distance + step),
        replace(evidence, language=evidence.language - 10 * step),
        replace(evidence, around_language=evidence.around_language - 10 * step),
    ):
        assert probability(worse) <= base


def test_length_weighs_in_the_mean_of_an_utterance() -> None:
    heard = [word("a", "AH", 0), word("tenderness", "T EH N D ER N AH S", 10)]
    assert is_talk(heard, [0.9, 0.2])
    assert not is_talk(heard, [0.2, 0.9])
    assert probability(weigh(heard, loop("AH T EH N D ER N AH S"), distance)[1]) == pytest.approx(1, abs=0.1)
