"""Scores and patterns: CTS-1 to CTS-6, DUP-1 to DUP-3, TEST-4 and TEST-5, LR-1 to LR-3, 2PD and SWM, NERVE-1 to NERVE-3.

Sources: Graham 2006 and 2008; Tubiana 1968 (stages 3 and 4 from memory); Heyman 1997; MacDermid & Wessel 2004; ASSH 1990 from
memory; an open-access monofilament table; Aids to the Examination of the Peripheral Nervous System 2010 from memory.
"""

from __future__ import annotations

import re
from itertools import product
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from measurement.building import confirmed, degrees, digit

from dictation.measurement.carpal_tunnel_score import carpal_tunnel_scores
from dictation.measurement.dupuytren_stage import tubiana_stage, tubiana_stages
from dictation.measurement.findings import Findings
from dictation.measurement.flexor_sheath_signs import kanavel_counts
from dictation.measurement.likelihood import TESTS, likelihood_ratios, negative_ratio, positive_ratio
from dictation.measurement.measures import SCORES, measures
from dictation.measurement.movements import movements
from dictation.measurement.nerve_patterns import nerve_patterns
from dictation.measurement.result import Patient
from dictation.measurement.sensory_bands import filament_band, sensory_bands, static_band
from dictation.measurement.thumb_ulnar_collateral import thumb_stress
from dictation.record import RecordField

Given = tuple[str, dict[str, Any]]
ADULT = Patient(50, "female")


def _items(
    numb: bool | None, night: bool | None, thenar: bool | None, phalen: bool | None, two: bool | None, tinel: bool | None
):  # type: ignore[no-untyped-def]
    out: list[Given] = []
    if numb is not None:
        out.append(("reported_numbness", {"part": "reported", "digit": "index", "status": "present" if numb else "absent"}))
    if night is not None:
        out.append(("night_waking", {"part": "reported", "status": "present" if night else "absent"}))
    if thenar is not None:
        out.append(("thenar_wasting", {"part": "look", "status": "present" if thenar else "absent"}))
        power = {"part": "power", "value": 5.0, "unit": "{score}", "digit": "thumb"}
        out.append(("abductor_pollicis_brevis_power", power))
    if phalen is not None:
        out.append(("phalen_test", {"part": "special_tests", "status": "positive" if phalen else "negative"}))
    if two is not None:
        mm = {"part": "sensation", "digit": "index", "value": 6.0 if two else 5.0, "unit": "mm"}
        out.append(("static_two_point_discrimination", mm))
    if tinel is not None:
        status = "positive" if tinel else "negative"
        out.append(("tinel_test", {"part": "special_tests", "structure": "carpal_tunnel", "status": status}))
    return out


def _score(*answers: bool | None) -> tuple[float | None, str]:
    (measure,) = carpal_tunnel_scores(Findings(confirmed(*_items(*answers))))
    return measure.value, measure.text


@pytest.mark.parametrize(
    ("answers", "score", "likely"),
    [
        ((True, True, False, True, False, False), 12.5, True),  # CTS-1
        ((True, True, False, False, True, False), 12.0, True),  # CTS-2
        ((False, False, False, False, False, True), 4.0, False),  # CTS-3
        ((True, True, True, True, True, True), 26.0, True),  # CTS-4
    ],
)
def test_cts(answers: tuple[bool, ...], score: float, likely: bool) -> None:
    value, text = _score(*answers)
    assert value == score
    assert ("more likely" in text) is likely


def test_cts_5_what_was_not_examined_is_a_range_and_never_zero() -> None:
    value, text = _score(True, True, None, None, None, None)
    assert value is None
    assert text == "Six-item carpal tunnel score incomplete: 7.5 so far, 7.5 to 26 possible"


def test_cts_6_all_combinations() -> None:
    likely = [("more likely" in _score(*answers)[1]) for answers in product((True, False), repeat=6)]
    assert (sum(likely), len(likely)) == (41, 64)


@pytest.mark.parametrize(
    ("value", "sign", "weak"), [(5, None, False), (5, "-", True), (4, "+", True), (4, "-", True), (3, None, True)]
)
def test_mrc_3_grade_four_or_less_counts_as_weakness(value: int, sign: str | None, weak: bool) -> None:
    power = {"part": "power", "value": float(value), "unit": "{score}", "grade_sign": sign, "digit": "thumb"}
    wasting: Given = ("thenar_wasting", {"part": "look", "status": "absent"})
    (measure,) = carpal_tunnel_scores(Findings(confirmed(wasting, ("abductor_pollicis_brevis_power", power))))
    assert measure.text.startswith(f"Six-item carpal tunnel score incomplete: {5 if weak else 0} so far")


def test_a_normal_power_alone_does_not_answer_for_wasting() -> None:
    power: Given = ("abductor_pollicis_brevis_power", {"part": "power", "status": "normal", "digit": "thumb"})
    assert list(carpal_tunnel_scores(Findings(confirmed(power)))) == []


@pytest.mark.parametrize(
    ("deficits", "total", "stage"),
    [((30, 40, 0), 70, "2"), ((45, 0, 0), 45, "1"), ((60, 80, 10), 150, "4")],  # DUP-1 to DUP-3
)
def test_dup(deficits: tuple[float, ...], total: float, stage: str) -> None:
    joints = dict(zip(("mcp", "pip", "dip"), deficits, strict=True))
    cord: Given = ("dupuytren_cord", {"part": "look", "digit": "ring", "status": "present"})
    fields = confirmed(cord, *digit({}, joints, digit="ring", mode="passive"))
    (measure,) = tubiana_stages(Findings(fields), movements(fields))
    assert measure.value == total
    assert measure.text.startswith(f"Tubiana stage {stage},")


@pytest.mark.parametrize(
    ("deficit", "stage"), [(0, "N"), (1, "1"), (45, "1"), (46, "2"), (90, "2"), (91, "3"), (135, "3"), (136, "4")]
)
def test_tubiana_bands_from_both_sides(deficit: float, stage: str) -> None:
    assert tubiana_stage(deficit, nodule=True) == stage
    assert tubiana_stage(0, nodule=False) == "0"


def _opening(right: float, left: float) -> list[RecordField]:
    keys = {"part": "special_tests", "digit": "thumb", "joint": "mcp", "position": "in extension"}
    return confirmed(
        degrees("thumb_ucl_stress_test", right, **keys), degrees("thumb_ucl_stress_test", left, **keys, side="left")
    )


@pytest.mark.parametrize(
    ("right", "left", "said"),
    [
        (32, 20, "Opening under stress: 32° over 30°; 12° more than the left, not over 15°"),  # TEST-4
        (28, 10, "Opening under stress: 28° not over 30°; 18° more than the left, over 15°"),  # TEST-5
        (30, 15, "Opening under stress: 30° not over 30°; 15° more than the left, not over 15°"),
    ],
)
def test_thumb_stress(right: float, left: float, said: str) -> None:
    assert next(m for m in thumb_stress(_opening(right, left)) if m.side == "right").text == said


@pytest.mark.parametrize(
    ("concept", "plus", "minus"),
    [("phalen_test", 2.52, 0.44), ("durkan_test", 3.76, 0.43), ("tinel_test", 2.17, 0.65)],  # LR-1 to LR-3
)
def test_likelihood_ratios(concept: str, plus: float, minus: float) -> None:
    test = TESTS[concept]
    assert positive_ratio(test.sensitivity, test.specificity) == pytest.approx(plus, abs=0.005)
    assert negative_ratio(test.sensitivity, test.specificity) == pytest.approx(minus, abs=0.005)
    structure = "carpal_tunnel" if concept == "tinel_test" else None
    (measure,) = likelihood_ratios(
        confirmed((concept, {"part": "special_tests", "status": "positive", "structure": structure}))
    )
    assert any("not multiplied" in note for note in measure.notes)


def test_tinel_elsewhere_has_no_ratio_for_the_carpal_tunnel() -> None:
    at_elbow: Given = ("tinel_test", {"part": "special_tests", "status": "positive", "structure": "cubital_tunnel"})
    assert list(likelihood_ratios(confirmed(at_elbow))) == []


@pytest.mark.parametrize(
    ("mm", "band"),
    [(5, "normal"), (5.9, "normal"), (6, "fair"), (10, "fair"), (11, "poor"), (15, "poor"), (16, "beyond the published bands")],
)
def test_2pd(mm: float, band: str) -> None:
    assert static_band(mm) == band


@pytest.mark.parametrize(
    ("marking", "band"),
    [
        (2.83, "normal"),
        (3.22, "diminished light touch"),
        (3.61, "diminished light touch"),  # SWM-1
        (4.31, "diminished protective sensation"),  # SWM-2
        (4.56, "loss of protective sensation"),
        (6.65, "deep pressure only"),  # SWM-3
        (3.0, None),
    ],
)
def test_filaments(marking: float, band: str | None) -> None:
    assert filament_band(marking) == band


def test_swm_1_force_and_its_source() -> None:
    (measure,) = sensory_bands(confirmed(("monofilament_threshold", {"part": "sensation", "value": 3.61, "unit": "{score}"})))
    assert measure.text == "Filament 3.61, 0.4 g as tabulated: diminished light touch"


def test_kanavel_count_and_what_was_not_spoken_of() -> None:
    signs = ("flexed_digit_posture", "fusiform_digit_swelling")
    fields = confirmed(*[(s, {"part": "look", "digit": "middle", "status": "present"}) for s in signs])
    (measure,) = kanavel_counts(Findings(fields))
    assert measure.text == "Kanavel's signs: 2 of 4"
    assert measure.notes[1] == "Not spoken of: tenderness along the sheath, pain on passive extension."


def _patterns(*given: Given) -> dict[str, str]:
    return dict(m.text.split(" - ", 1) for m in nerve_patterns(Findings(confirmed(*given))))


def _power(concept: str, grade: float) -> Given:
    return concept, {"part": "power", "value": grade, "unit": "{score}"}


def test_nerve_1_flat_ok_sign_with_normal_feeling() -> None:
    found = _patterns(
        ("ok_sign", {"part": "special_tests", "status": "positive"}),
        ("median_nerve_sensation", {"part": "sensation", "status": "normal"}),
    )
    assert list(found) == ["Anterior interosseous"]
    assert "supports: OK sign abnormal, median sensation normal" in found["Anterior interosseous"]


def test_nerve_2_posterior_interosseous() -> None:
    found = _patterns(
        _power("finger_extension_power", 2),
        _power("wrist_extension_power", 4),
        ("superficial_radial_nerve_sensation", {"part": "sensation", "status": "normal"}),
    )
    supports = (
        "supports: finger extension power abnormal, wrist extension against gravity normal, superficial radial sensation normal"
    )
    assert found["Posterior interosseous"].startswith(supports)
    assert "against: superficial radial sensation normal" in found["Radial above the elbow"]


@pytest.mark.parametrize(("dorsal", "fits", "other"), [("absent", "elbow", "wrist"), ("normal", "wrist", "elbow")])
def test_nerve_3_the_dorsal_branch_tells_elbow_from_wrist(dorsal: str, fits: str, other: str) -> None:
    found = _patterns(
        ("ulnar_nerve_sensation", {"part": "sensation", "status": "absent"}),
        ("dorsal_ulnar_branch_sensation", {"part": "sensation", "status": dorsal}),
        ("froment_sign", {"part": "special_tests", "status": "positive", "digit": "thumb"}),
    )
    by_level = {level: text for name, text in found.items() for level in ("elbow", "wrist") if f"Ulnar at the {level}" in name}
    assert "against" not in by_level[fits]
    assert "against: dorsal ulnar branch" in by_level[other]


def test_every_nerve_and_level_of_the_list_has_a_pattern() -> None:
    """Common practice, no source: the list of nerves and roots examined in the hand."""
    from dictation.measurement.nerve_patterns import PATTERNS

    names = " ".join(pattern.name for pattern in PATTERNS)
    for word in ("carpal tunnel", "cubital", "Guyon", "Anterior", "Posterior", "Superficial radial", "C6", "C7", "C8", "T1"):
        assert word in names


EVERYTHING: list[Given] = [
    *_items(True, True, True, True, True, True),
    *digit({"mcp": 80, "pip": 95, "dip": 60}, {"mcp": 0, "pip": 10, "dip": 5}),
    degrees("pip_extension", 0, mode="passive", digit="index"),
    ("total_active_motion", {"digit": "index", "value": 215.0, "unit": "deg"}),
    degrees("wrist_extension", 55, mode="active"),
    degrees("wrist_flexion", 60, mode="active"),
    degrees("wrist_extension", 68, mode="active", side="left"),
    ("grip_strength", {"part": "power", "value": 24.0, "unit": "kg"}),
    ("grip_strength", {"part": "power", "value": 30.0, "unit": "kg", "side": "left"}),
    ("kapandji_score", {"value": 8.0, "unit": "{score}", "digit": "thumb"}),
    ("hand_volume", {"part": "feel", "value": 500.0, "unit": "mL"}),
    ("hand_volume", {"part": "feel", "value": 450.0, "unit": "mL", "side": "left"}),
    ("monofilament_threshold", {"part": "sensation", "value": 3.61, "unit": "{score}", "digit": "index"}),
    ("dupuytren_cord", {"part": "feel", "digit": "ring", "status": "present"}),
    ("fixed_flexion_deformity", {"digit": "ring", "joint": "pip", "status": "present", "value": 40.0, "unit": "deg"}),
    ("flexed_digit_posture", {"part": "look", "digit": "middle", "status": "present"}),
    ("thumb_ucl_stress_test", {"part": "special_tests", "digit": "thumb", "value": 32.0, "unit": "deg"}),
]
KINDS = {
    "range_against_other_side", "range_against_normal", "arc", "functional_range", "total_active_motion",
    "total_passive_motion", "total_active_motion_said", "extension_lag", "kapandji", "size_against_other_side", "strength_mean",
    "strength_against_other_hand", "strength_against_norm", "grip_centile", "two_point", "monofilament", "nerve_pattern",
    *SCORES,
}  # fmt: skip
"""Every kind of measure there is; the examples above give each but a total of passive motion."""


@pytest.mark.parametrize("patient", [Patient(), Patient(17.9, "male")])
def test_no_score_for_a_child_or_where_age_is_not_known(patient: Patient) -> None:
    assert not {m.kind for m in measures(confirmed(*EVERYTHING), patient, scores=SCORES)} & set(SCORES)


def test_scores_are_off_until_switched_on_by_name() -> None:
    assert not {m.kind for m in measures(confirmed(*EVERYTHING), ADULT)} & set(SCORES)
    on = {m.kind for m in measures(confirmed(*EVERYTHING), ADULT, scores=("carpal_tunnel_score",))}
    assert on & set(SCORES) == {"carpal_tunnel_score"}


def test_every_measure_names_inputs_source_and_standing() -> None:
    fields = confirmed(*EVERYTHING)
    ids = {field.id for field in fields}
    found = measures(fields, ADULT, scores=SCORES)
    assert len(found) > 15
    for measure in found:
        assert measure.inputs
        assert set(measure.inputs) <= ids
        assert measure.source.text
        assert measure.source.standing in ("verified", "published", "common practice")


def test_the_examples_give_every_kind_of_measure() -> None:
    found = {m.kind for m in measures(confirmed(*EVERYTHING), ADULT, scores=SCORES)}
    assert found == KINDS - {"total_passive_motion"}


@pytest.mark.parametrize(
    ("score", "concept", "keys"),
    [
        ("carpal_tunnel_score", "phalen_test", {}),
        ("strickland", "dip_extension", {"digit": "index"}),
        ("tubiana_stage", "mcp_extension", {"digit": "ring"}),
        ("kanavel_count", "pain_on_passive_extension", {"digit": "middle"}),
        ("thumb_ulnar_collateral", "thumb_ucl_stress_test", {"digit": "thumb"}),
    ],
)
@pytest.mark.parametrize(("side", "withheld"), [("right", True), ("left", False), (None, True)])
def test_no_score_while_an_input_of_its_side_is_not_decided(
    score: str, concept: str, keys: dict[str, Any], side: Any, withheld: bool
) -> None:
    fields = confirmed(*EVERYTHING)
    open_ = RecordField(id="open", part="move", concept=concept, side=side, decision="pending", **keys)
    given = [m for m in measures([*fields, open_], ADULT, scores=SCORES) if m.kind == score and m.side == "right"]
    assert given
    assert all(("not decided yet" in m.text and m.value is None) is withheld for m in given)


@given(st.lists(st.tuples(st.sampled_from(EVERYTHING), st.sampled_from(["right", "left"])), max_size=40))
def test_swapping_right_and_left_swaps_the_results(said: list[tuple[Given, str]]) -> None:
    """All results, scores among them, in whatever order, on whichever side and however often it was said; but norms by hand,
    whose tables differ between right and left, and dominance.
    """
    other = {"right": "left", "left": "right", None: None}
    every = [(one, one[1].get("side", "right")) for one in EVERYTHING]
    fields = confirmed(*((concept, {**keys, "side": side}) for (concept, keys), side in [*said, *every][:40]))
    swapped = [f.model_copy(update={"side": other[f.side]}) for f in fields]
    patient = ADULT

    def results(given: list[RecordField], *, swap: bool) -> list[tuple[Any, ...]]:
        found = [m for m in measures(given, patient, scores=SCORES) if m.kind != "strength_against_norm"]
        return sorted(
            (m.kind, str(other[m.side] if swap else m.side), m.digit or "", round(m.value or 0, 6), tuple(sorted(m.inputs)),
             re.sub("right|left", lambda word: str(other[word[0]]), m.text) if swap else m.text)
            for m in found
        )  # fmt: skip

    assert results(swapped, swap=True) == results(fields, swap=False)
