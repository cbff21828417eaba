"""Numbers as spoken and written: round trips, ranges, grades, units, and the ones that ask to be checked."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st
from spoken import draft, facts, flags, readings
from strategies import said_numbers, ways_of_saying

from dictation.extraction.numbers import Reading


def only(said: str) -> Reading:
    (reading,) = readings(said)
    return reading


@given(said_numbers)
def test_number_words_read_back_as_the_number(case: tuple[int, str]) -> None:
    number, words = case
    reading = only(f"{words} degrees")
    assert (reading.value, reading.unit, reading.singly) == (number, "deg", False)


def test_every_number_from_0_to_360_reads_back_in_every_way_of_saying_it() -> None:
    wrong = [(n, w) for n in range(361) for w in ways_of_saying(n) if [r.value for r in readings(w)] != [n]]
    assert wrong == []


@given(said_numbers)
def test_a_minus_before_the_number_is_kept(case: tuple[int, str]) -> None:
    number, words = case
    assert only(f"minus {words} degrees").value == -number


@given(st.integers(0, 99), st.integers(0, 9))
def test_decimals_in_words_and_figures(whole: int, tenth: int) -> None:
    words = ways_of_saying(whole)[-1]
    assert only(f"{words} point {ways_of_saying(tenth)[-1]}").value == pytest.approx(whole + tenth / 10)
    assert only(f"{whole}.{tenth}").value == pytest.approx(whole + tenth / 10)


@given(said_numbers, said_numbers)
def test_a_range_keeps_both_ends(low: tuple[int, str], high: tuple[int, str]) -> None:
    reading = only(f"{low[1]} to {high[1]} degrees")
    assert (reading.low, reading.high, reading.value) == (low[0], high[0], None)


@pytest.mark.parametrize(
    ("said", "low", "high"),
    [
        ("from ten to ninety degrees", 10, 90),
        ("between ten and ninety degrees", 10, 90),
        ("ten degrees to ninety degrees", 10, 90),
        ("10-90 degrees", 10, 90),
        ("10–90°", 10, 90),
        ("ten through ninety", 10, 90),
        ("ten up to ninety", 10, 90),
        ("nought to one forty", 0, 140),
        ("minus ten to ninety", -10, 90),
        ("ten degrees of hyperextension to ninety degrees", -10, 90),
    ],
)
def test_ways_of_saying_a_range(said: str, low: float, high: float) -> None:
    reading = only(said)
    assert (reading.low, reading.high) == (low, high)


def test_a_full_stop_ends_a_number() -> None:
    assert [r.value for r in readings("twenty. five degrees")] == [20, 5]
    assert [r.value for r in readings("one hundred. five")] == [100, 5]


@pytest.mark.parametrize(
    ("said", "value", "sign", "out_of"),
    [
        ("four out of five", 4, None, 5),
        ("four plus out of five", 4, "+", 5),
        ("four minus out of five", 4, "-", 5),
        ("4+/5", 4, "+", 5),
        ("4-/5", 4, "-", 5),
        ("4/5", 4, None, 5),
        ("five over five", 5, None, 5),
        ("three plus", 3, "+", None),
        ("grade two", 2, None, None),
        ("six out of ten", 6, None, 10),
    ],
)
def test_grades(said: str, value: float, sign: str | None, out_of: float | None) -> None:
    reading = only(said)
    assert (reading.value, reading.sign, reading.out_of) == (value, sign, out_of)


@pytest.mark.parametrize(
    ("said", "comparator", "value"),
    [
        ("less than two seconds", "<", 2),
        ("under two seconds", "<", 2),
        ("no more than two seconds", "<=", 2),
        ("at least six millimetres", ">=", 6),
        ("more than six millimetres", ">", 6),
        ("<2 seconds", "<", 2),
        ("≥6 mm", ">=", 6),
        ("< 2 seconds", "<", 2),
    ],
)
def test_comparators(said: str, comparator: str, value: float) -> None:
    reading = only(said)
    assert (reading.comparator, reading.value) == (comparator, value)


@pytest.mark.parametrize(("said", "comparator"), [("≥ 6 mm", ">="), ("≤ 2 seconds", "<=")])
def test_a_sign_apart_from_its_number(said: str, comparator: str) -> None:
    assert only(said).comparator == comparator


@pytest.mark.parametrize(
    ("said", "unit"),
    [
        ("five degrees", "deg"), ("5°", "deg"), ("five kilos", "kg"), ("5kg", "kg"), ("five pounds", "[lb_av]"),
        ("5 lbs", "[lb_av]"), ("five mils", "mm"), ("5cm", "cm"), ("five seconds", "s"), ("five cc", "mL"), ("five", None),
    ],
)  # fmt: skip
def test_units(said: str, unit: str | None) -> None:
    assert only(said).unit == unit


def test_one_oh_five_is_a_hundred_and_five_and_no_digit_string() -> None:
    reading = only("one oh five")
    assert (reading.value, reading.singly) == (105, False)


@pytest.mark.parametrize("said", ["seven five", "six zero", "seven oh"])
def test_a_number_spoken_digit_by_digit_asks_to_be_checked(said: str) -> None:
    assert only(said).singly
    assert flags(f"Left wrist flexion {said} degrees.") == ["number_unclear check"]


def test_seven_five_is_kept_as_seventy_five() -> None:
    assert facts("Left wrist flexion seven five degrees.") == ["wrist_flexion left wrist 75 deg"]


def test_a_place_in_a_row_is_no_number() -> None:
    assert [r.value for r in readings("trial one fourteen kilograms")] == [14]


@given(st.lists(st.sampled_from("one two ten hundred and point minus to from between 5 4+/5 oh half out of degrees .".split())))
def test_readings_never_overlap_and_stand_in_order(words: list[str]) -> None:
    found = readings(" ".join(words))
    spans = [(r.start, r.end) for r in found]
    assert all(a < b for a, b in spans)
    assert all(end <= start for (_, end), (start, _) in itertools.pairwise(spans))


def test_angles_are_no_grade() -> None:
    """ "At zero and thirty degrees" is where a joint was stressed: the zero is no power out of five."""
    assert [(r.value, r.unit) for r in readings("zero and thirty degrees")] == [(0, "deg"), (30, "deg")]
    assert not [f for f in draft("Right EPL is working. It is stable at zero and thirty degrees.").fields if f.part == "power"]
    (stress,) = draft("Right thumb MCP stable to ulnar stress at zero and thirty degrees.").fields
    assert (stress.concept, stress.status, stress.value) == ("thumb_ucl_stress_test", "negative", None)
    assert "result_unclear" in {flag.code for flag in stress.flags}


@pytest.mark.parametrize(
    "said",
    [
        "Fell off a bike, twenty six year old.",
        "Sixty eight year old man, left hand swollen.",
        "34 year old right handed climber.",
    ],
)
def test_the_age_of_the_patient_is_no_detail_of_what_stands_beside_it(said: str) -> None:
    fields = draft(said).fields
    assert fields
    assert not any("year" in (f.qualifier or "") for f in fields)


def test_a_scar_may_have_an_age() -> None:
    assert [f.qualifier for f in draft("Scar on the left palm, two years old.").fields] == ["two years"]
