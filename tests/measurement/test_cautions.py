"""Cautions: each fires on its findings, at its side, and on nothing less.

SAFE-1 to SAFE-3 and the triggers: UK guidance on suspected scaphoid fracture as described in a survey of 2021, Kennedy et
al. 2017 and Kanavel's four signs, Heyman 1997 for the thumb's ulnar collateral ligament; the rest common practice, no source.
"""

from __future__ import annotations

import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictation.measurement.cautions import cautions
from dictation.record import RecordField

Given = tuple[str, dict[str, Any]]


def _fields(*given: Given) -> list[RecordField]:
    defaults = {"part": "look", "side": "right", "status": "present"}
    return [RecordField(id=f"f{n}", concept=concept, **{**defaults, **keys}) for n, (concept, keys) in enumerate(given)]


def _names(*given: Given, age: float | None = None) -> list[str]:
    return [caution.name for caution in cautions(_fields(*given), age)]


SNUFFBOX: Given = ("tenderness", {"structure": "anatomical_snuffbox"})
FELL: Given = ("mechanism_of_injury", {"part": "reported", "status": None, "side": None, "qualifier": "fell"})
MIDDLE = {"digit": "middle"}
FIRES: dict[str, list[Given]] = {
    "scaphoid-right": [SNUFFBOX, ("radiograph_result", {"status": "normal"})],
    "flexor-sheath-right-middle": [("fusiform_digit_swelling", MIDDLE), ("pain_on_passive_extension", MIDDLE)],
    "perfusion-right": [("radial_pulse", {"status": "absent"})],
    "wound-over-joint-right": [("wound", {"joint": "mcp", "digit": "ring"})],
    "wound-and-fracture-right": [("wound", {}), ("hand_fracture", {"certainty": "suspected"})],
    "divided-nerve-right-index": [
        ("wound", {"digit": "index"}),
        ("digital_nerve_sensation", {"digit": "index", "aspect": "radial", "status": "reduced"}),
    ],
    "acute-median-right": [("median_nerve_sensation", {"status": "altered"}), FELL],
    "compartment-right": [("tense_compartment", {"structure": "forearm"})],
    "hot-joint-right": [
        ("increased_warmth", {"joint": "wrist"}),
        ("swelling", {"joint": "wrist"}),
        ("pain_on_movement", {"joint": "wrist"}),
    ],
    "spreading-infection-right": [("tracking_erythema", {"structure": "forearm"})],
    "high-pressure-injection-right": [
        ("mechanism_of_injury", {"status": None, "qualifier": "high pressure paint injection"}),
    ],
    "weak-clumsy-hands": [
        ("reported_numbness", {}),
        ("reported_numbness", {"side": "left"}),
        ("buttoning", {"status": "reduced"}),
        ("buttoning", {"status": "reduced", "side": "left"}),
    ],
    "closed-profundus-right-ring": [
        ("tendon_integrity", {"structure": "flexor_digitorum_profundus", "digit": "ring", "status": "absent"}),
    ],
    "central-slip-right-middle": [("elson_test", {"digit": "middle", "status": "positive"})],
    "thumb-ulnar-collateral-right": [("thumb_ucl_stress_test", {"digit": "thumb", "status": None, "value": 32.0})],
    "distal-biceps-right": [("hook_test", {"status": "positive"})],
    "malrotation-right-little": [("malrotation", {"digit": "little"})],
    "pigmented-nail-right-thumb": [("pigmented_nail_streak", {"digit": "thumb"})],
}


@pytest.mark.parametrize(("name", "given"), list(FIRES.items()))
def test_each_fires_names_its_side_and_its_fields(name: str, given: list[Given]) -> None:
    fields = _fields(*given)
    raised = {caution.name: caution for caution in cautions(fields)}
    assert name in raised
    assert set(raised[name].fields) <= {field.id for field in fields}
    assert raised[name].fields
    if "right" in name:
        assert "(right" in raised[name].text


@pytest.mark.parametrize(("name", "given"), list(FIRES.items()))
def test_none_fires_where_all_of_it_was_denied_planned_or_rejected(name: str, given: list[Given]) -> None:
    denied = {"present": "absent", "positive": "negative", "reduced": "normal", "absent": "normal", "altered": "normal"}
    fields = _fields(*given)
    other = [f.model_copy(update={"status": denied.get(f.status or "", f.status), "value": None}) for f in fields]
    assert name not in [c.name for c in cautions(f for f in other if f.concept != "mechanism_of_injury")]
    assert cautions(f.model_copy(update={"part": "plan"}) for f in fields) == []
    assert cautions(f.model_copy(update={"decision": "rejected"}) for f in fields) == []


@pytest.mark.parametrize(("name", "given"), list(FIRES.items()))
def test_swapping_the_sides_swaps_the_cautions(name: str, given: list[Given]) -> None:
    other = {"right": "left", "left": "right", None: None}
    swapped = [field.model_copy(update={"side": other[field.side]}) for field in _fields(*given)]
    expected = [re.sub("right|left", lambda m: str(other[m[0]]), one) for one in _names(*given)]
    assert sorted(c.name for c in cautions(swapped)) == sorted(expected)


@pytest.mark.parametrize("given", list(FIRES.values()))
def test_wording_is_about_thirty_words_asks_defers_and_gives_no_figure(given: list[Given]) -> None:
    for caution in cautions(_fields(*given)):
        assert 20 <= len(caution.text.split()) <= 38
        assert caution.text.endswith("? Follow local protocol.")
        assert not re.search(r"\d|per ?cent|%|sensitiv|specific", caution.text)


def test_safe_2_no_tenderness_no_prompt() -> None:
    assert _names(("tenderness", {"structure": "anatomical_snuffbox", "status": "absent"})) == []


@pytest.mark.parametrize(
    ("extra", "raised"),
    [([], True), ([FELL], True), ([("previous_injury", {"status": "absent"})], False)],
)
def test_the_scaphoid_waits_for_no_film_and_rests_only_where_an_injury_was_denied(extra: list[Given], raised: bool) -> None:
    assert ("scaphoid-right" in _names(SNUFFBOX, *extra)) is raised


@pytest.mark.parametrize("concept", ["scaphoid_compression_test"])
def test_axial_compression_counts_for_the_scaphoid(concept: str) -> None:
    assert _names((concept, {"status": "positive"})) == ["scaphoid-right"]


def test_one_sign_of_the_flexor_sheath_is_not_enough_but_is_with_a_wound() -> None:
    one: Given = ("flexed_digit_posture", MIDDLE)
    assert _names(one) == []
    assert _names(one, ("pain_on_passive_extension", {"digit": "ring"})) == []
    assert "flexor-sheath-right-middle" in _names(one, ("wound", MIDDLE))


@pytest.mark.parametrize(
    ("value", "comparator", "injured", "raised"),
    [
        (2.5, None, True, False),
        (3.0, None, True, True),
        (3.0, None, False, False),
        (3.0, "<", True, False),
        (4.0, ">", True, True),
    ],
)
def test_slow_refill_alone_needs_three_seconds_and_an_injury(
    value: float, comparator: str | None, injured: bool, raised: bool
) -> None:
    refill: Given = ("capillary_refill_time", {"status": None, "value": value, "comparator": comparator})
    assert ("perfusion-right" in _names(refill, *([FELL] if injured else []))) is raised


@pytest.mark.parametrize(("value", "raised"), [(30.0, False), (31.0, True)])
def test_opening_of_the_thumb_joint_above_thirty_degrees(value: float, raised: bool) -> None:
    opened: Given = ("thumb_ucl_stress_test", {"digit": "thumb", "status": None, "value": value})
    assert bool(_names(opened)) is raised


@pytest.mark.parametrize(("age", "raised"), [(None, False), (7, True), (15.9, True), (16, False)])
def test_a_childs_lost_pulse_is_said_apart(age: float | None, raised: bool) -> None:
    assert ("pulseless-child-right" in _names(("radial_pulse", {"status": "absent"}), age=age)) is raised


@pytest.mark.parametrize("structure", ["anatomical_snuffbox", "scaphoid_tubercle", "scaphoid"])
@pytest.mark.parametrize("film", [[], [("radiograph_result", {"status": "normal"})]])
def test_each_part_of_the_scaphoid_area_counts_with_and_without_a_film(structure: str, film: list[Given]) -> None:
    """UK guidance on suspected scaphoid fracture as described in a survey of 2021 (reference values 11)."""
    assert _names(("tenderness", {"structure": structure}), FELL, *film) == ["scaphoid-right"]


@pytest.mark.parametrize(
    ("concept", "status"),
    [("pallor", "present"), ("cyanosis", "present"), ("mottling", "present"), ("skin_temperature", "reduced"),
     ("radial_pulse", "absent"), ("ulnar_pulse", "reduced"), ("perfusion", "absent")],
)  # fmt: skip
def test_colour_coolness_or_a_lost_pulse_needs_no_injury(concept: str, status: str) -> None:
    """Common practice, no source (reference values 11)."""
    assert _names((concept, {"status": status})) == ["perfusion-right"]


@pytest.mark.parametrize(
    ("given", "raised"),
    [
        ([("reported_pain", {"part": "reported", "qualifier": "out of proportion"})], True),
        ([("reported_pain", {"part": "reported", "qualifier": "at night"})], False),
        ([("pain_on_passive_extension", {}), FELL], True),
        ([("pain_on_passive_extension", {})], False),  # no injury was spoken of
        ([("pain_on_passive_extension", MIDDLE), FELL], False),  # one finger: the flexor sheath's sign
    ],
)
def test_signs_of_a_compartment(given: list[Given], raised: bool) -> None:
    """British Orthopaedic Association standard of 2016 (reference values 11): out of proportion, on stretch, tense."""
    assert any(name.startswith("compartment") for name in _names(*given)) is raised


@pytest.mark.parametrize("concept", ["hook_test", "biceps_squeeze_test"])
def test_either_test_of_the_distal_biceps_counts(concept: str) -> None:
    assert _names((concept, {"status": "positive"})) == ["distal-biceps-right"]


def test_numbness_on_one_side_is_no_clumsy_hands() -> None:
    assert _names(("reported_numbness", {}), ("buttoning", {"status": "reduced"})) == []


def test_a_cut_profundus_is_not_a_closed_one() -> None:
    cut: Given = ("tendon_integrity", {"structure": "flexor_digitorum_profundus", "digit": "ring", "status": "absent"})
    assert "closed-profundus-right-ring" not in _names(cut, ("wound", {"digit": "ring"}))


@given(st.permutations([given for all_given in FIRES.values() for given in all_given]))
def test_the_order_spoken_changes_no_caution(order: list[Given]) -> None:
    every = [given for all_given in FIRES.values() for given in all_given]
    assert sorted(_names(*order)) == sorted(_names(*every))


def test_nothing_said_raises_nothing() -> None:
    assert cautions([]) == []
