"""Confidence is a probability that only worse evidence lowers."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from dictation.confidence import LEAST, MOST, Support, heard_confidence, support, typed_confidence

SUPPORTS = st.builds(Support, st.floats(0, 1), st.floats(0, 1), st.floats(0, 3), st.floats(0, 2))


@given(SUPPORTS, st.floats(0.01, 1))
def test_worse_evidence_never_raises_it(found: Support, step: float) -> None:
    base = heard_confidence(found)
    assert LEAST <= base <= MOST
    for worse in (
        replace(found, least=found.least - step),
        replace(found, mean=found.mean - step),
        replace(found, doubts=found.doubts + step),
        replace(found, noise=found.noise + step),
    ):
        assert heard_confidence(worse) <= base


def test_what_speaks_for_a_field() -> None:
    assert support([1.0, 0.5, 0.75], ["check", "info", "check"]) == Support(0.5, 0.75, 2.1, 0.0)
    assert support([0.9], ["check"] * 5).doubts == 3.0
    assert [support([0.9], [], db).noise for db in (45.0, 20.0, 10.0, 0.0, -9.0, None)] == [0.0, 0.0, 1.0, 2.0, 2.0, 0.0]


def test_a_field_heard_surely_is_much_surer_than_a_doubted_one() -> None:
    sure, doubted = heard_confidence(support([0.97, 0.95], [])), heard_confidence(support([0.97, 0.3], ["check", "check"]))
    assert sure > 0.85
    assert doubted < 0.7


def test_typed_text_is_sure_until_it_is_flagged() -> None:
    assert typed_confidence([]) == 0.97
    assert typed_confidence(["info"]) == 0.95
    assert typed_confidence(["check"] * 9) == 0.05
