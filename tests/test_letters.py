"""Letter-to-sound: what its table says, and that the table is the one its script learns."""

from pathlib import Path

import pytest

import dictation.letters as letters
from dictation.phones import PHONES
from tests.benchmarks import fit_letters


def test_the_longest_surroundings_win() -> None:
    table = {"c": ("K",), "ch": ("CH",), "h": (), "i": ("IH",), "p": ("P",)}
    assert letters.sound_out("chip", table) == ("CH", "IH", "P")
    assert letters.sound_out("cip", table) == ("K", "IH", "P")


def test_a_table_learns_a_rule_and_its_exception() -> None:
    words = [("cat", "K AE T"), ("cot", "K AA T"), ("city", "S IH T IY"), ("cite", "S AY T"), ("cast", "K AE S T")] * 3
    said = [(word, tuple(phones.split())) for word, phones in words]
    cost = fit_letters.alignment(said)
    pairs = [(word, path) for word, way in said if (path := fit_letters.aligned(word, way, cost)) is not None]
    assert len(pairs) == len(said)
    table = fit_letters.table(pairs, 1)
    assert letters.sound_out("cat", table)[0] == "K"
    assert letters.sound_out("city", table)[0] == "S"


def test_every_phone_of_the_table_is_in_the_recogniser_s_set() -> None:
    lines = Path(letters.__file__).with_suffix(".tsv").read_text(encoding="utf-8").splitlines()
    assert len(lines) > 1000
    assert {phone for line in lines for phone in line.partition("\t")[2].split()} <= set(PHONES)


@pytest.mark.slow
def test_the_shipped_table_is_the_one_its_script_learns() -> None:
    every = fit_letters.words()
    learnt = [(word, ways[0]) for word, ways in every.items() if not fit_letters.kept_out(word)]
    cost = fit_letters.alignment(learnt[:: fit_letters.ALIGNED])
    pairs = [(word, path) for word, said in learnt if (path := fit_letters.aligned(word, said, cost)) is not None]
    table = fit_letters.table(pairs, fit_letters.LEAST)
    assert Path(letters.__file__).with_suffix(".tsv").read_text(encoding="utf-8") == fit_letters.written(table)
