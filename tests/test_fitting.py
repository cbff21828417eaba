"""What coefficients are fitted by: which words count as said, and the regression itself, on made-up rows."""

from __future__ import annotations

import pickle
from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest

from dictation.recognition.agreement import Evidence, HeardWord, Phone
from tests.benchmarks.fit_agreement import SIGNS, judged, were_said
from tests.benchmarks.logistic import fitted, held_out, log_loss, ranking, sureness


@pytest.mark.parametrize(
    ("heard", "text", "said"),
    [
        (["no", "scar", "Tinel’s"], "No scars, Tinel's positive.", [True, False, True]),
        (["left", "the", "wrist"], "Left wrist.", [True, False, True]),
        (["A1", "pulley"], "", [False, False]),
        (["…", "pulley"], "Pulley.", [False, True]),
        ([], "Left wrist.", []),
    ],
)
def test_a_word_heard_is_right_where_it_stands_in_the_alignment(heard: list[str], text: str, said: list[bool]) -> None:
    assert were_said(heard, text) == said


def test_every_word_of_a_dump_is_judged_by_its_own_evidence(tmp_path: Path) -> None:
    words = [
        HeardWord("wrist", ("R", "IH", "S", "T"), 0, 40, 0.9, -2.0),
        HeardWord("scar", ("S", "K", "AA", "R"), 40, 80, 0.4, -3.0),
    ]
    loop = [Phone("R", 0, 10), Phone("IH", 10, 20), Phone("S", 20, 30), Phone("T", 30, 40)]
    one = {"item": {"text": "Wrist.", "condition": "clean"}, "readings": [(0.0, 16000, words, loop)]}
    dump = tmp_path / "dump.pickle"
    dump.write_bytes(pickle.dumps([one, one | {"item": {"text": "", "condition": "noise"}}]))
    rows = list(judged([dump]))
    assert [(row.said, row.recording, row.condition) for row in rows] == [
        (True, 0, "clean"), (False, 0, "clean"), (False, 1, "noise"), (False, 1, "noise"),
    ]  # fmt: skip
    assert rows[0].evidence.posterior == 0.9
    assert rows[0].evidence.distance < rows[1].evidence.distance
    assert len(list(judged([dump], ["noise"]))) == 2
    assert len(SIGNS) == len(fields(Evidence))


def test_a_fit_finds_the_weights_that_made_the_rows_and_holds_what_goes_the_wrong_way_at_nothing() -> None:
    draw = np.random.default_rng(1)
    x = draw.normal(size=(20_000, 2))
    made = np.array([0.5, 2.0, -1.0])
    y = draw.uniform(size=len(x)) < sureness(made, x)
    assert fitted(x, y, np.array([1, -1])) == pytest.approx(made, abs=0.1)
    held = fitted(x, y, np.array([1, 1]))
    assert held[2] == 0
    assert held[1] > 1
    recordings = np.arange(len(x)) // 100
    assert held_out(x, y, recordings, np.array([1, -1])) == pytest.approx(sureness(made, x), abs=0.1)


def test_how_good_probabilities_are() -> None:
    right = np.array([True, True, False, False])
    assert ranking(np.array([0.9, 0.4, 0.4, 0.1]), right) == 0.875
    assert ranking(np.full(4, 0.5), right) == 0.5
    assert log_loss(np.full(4, 0.5), right) == pytest.approx(np.log(2))
    assert log_loss(np.array([1.0, 1.0, 0.0, 0.0]), right) == pytest.approx(0)
    assert log_loss(np.array([0.0, 1.0, 0.0, 0.0]), right) < 4, "one certainty that is wrong does not count without end"
