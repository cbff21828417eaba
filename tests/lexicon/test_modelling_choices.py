"""The modelling choices of the record (DEVELOPERS.md), as far as the lexicon alone can show them.

Source: the trade's common practice as laid down in those choices; the grades are the Medical Research Council's.
"""

from __future__ import annotations

import pytest

from dictation.lexicon.entries import Concept
from dictation.lexicon.loading import load_lexicon

LEXICON = load_lexicon()
CONCEPTS = LEXICON.concepts
PLACES = {"digits": LEXICON.digits, "joints": LEXICON.joints, "structures": LEXICON.structures}

STATUSES = {
    "finding": {"present", "absent", "not_assessed"},
    "test": {"positive", "negative", "equivocal", "not_assessed"},
    "movement": {"normal", "reduced", "absent", "not_assessed"},
    "function": {"normal", "reduced", "absent", "not_assessed"},
    "power": {"normal", "reduced", "absent", "not_assessed"},
    "strength": {"normal", "reduced", "not_assessed"},
    "sensation": {"normal", "reduced", "absent", "altered", "not_assessed"},
    "circulation": {"normal", "reduced", "absent", "not_assessed"},
    "impression": {"present", "absent"},
    "plan": {"present", "absent"},
    "score": {"not_assessed"},
    "measure": set(),
}
"""The only statuses of each kind; context and reported concepts name their own."""


def of(*kinds: str) -> list[Concept]:
    """The concepts of these kinds, of which there is at least one."""
    found = [c for c in CONCEPTS.values() if c.kind in kinds]
    assert found
    return found


def test_statuses_are_those_of_the_kind() -> None:
    judged = 0
    for concept in CONCEPTS.values():
        if concept.kind in STATUSES and concept.id != "carrying_angle":  # the one finding that takes normal (choice 12)
            assert set(concept.statuses) <= STATUSES[concept.kind], concept.id
            judged += 1
    assert judged > 250
    assert set(CONCEPTS["carrying_angle"].statuses) == {"normal", "not_assessed"}


@pytest.mark.parametrize("concept", ["tenderness", "swelling", "scar", "tinel_test", "tendon_integrity"])
def test_an_open_ended_site_is_a_concept_with_a_place(concept: str) -> None:
    assert "structure" in CONCEPTS[concept].takes  # choice 1
    assert CONCEPTS[concept].structure is None


def test_a_joint_is_never_also_a_structure() -> None:
    joints = {form.text.lower() for joint in LEXICON.joints.values() for form in joint.spoken}
    structures = {form.text.lower() for structure in LEXICON.structures.values() for form in structure.spoken}
    assert not joints & structures  # choice 3
    assert not set(LEXICON.joints) & set(LEXICON.structures)
    bases = [f for f in LEXICON.joints["cmc"].spoken if f.text in {"thumb base", "base of the thumb"}]
    assert [f.sets for f in bases] == [{"digit": "thumb"}] * 2


def test_a_movement_of_a_joint_is_fixed_to_it() -> None:
    for concept in of("movement"):
        joint = concept.id.split("_")[0]
        if joint in LEXICON.joints:
            assert concept.joint == joint, concept.id  # choice 4
    assert CONCEPTS["forearm_pronation"].joint is CONCEPTS["forearm_supination"].joint is None
    assert "range" in CONCEPTS["range_of_motion"].takes


def test_degrees_may_pass_neutral_only_where_a_movement_can() -> None:
    for concept in of("movement"):
        if concept.unit == "deg" and concept.plausible and concept.id != "total_active_motion":
            assert concept.plausible[0] < 0 < concept.plausible[1], concept.id  # choice 5: short of, or beyond, neutral
    for name in ("hyperextension", "fixed_flexion_deformity", "extension_lag"):
        limits = CONCEPTS[name].plausible
        assert limits is not None, name
        assert limits[0] == 0, name  # the amount said, positive


def test_lag_needs_the_word() -> None:
    assert all("lag" in form.text.lower() for form in CONCEPTS["extension_lag"].spoken)  # choice 6
    assert not any("lag" in form.text.lower().split() for form in CONCEPTS["fixed_flexion_deformity"].spoken)


def test_power_is_a_grade_and_strength_a_weight() -> None:
    for concept in of("power"):
        assert (concept.unit, concept.plausible) == ("{score}", (0.0, 5.0)), concept.id  # choice 8
    for concept in of("strength"):
        assert concept.unit == "kg", concept.id  # choice 7
    assert not any("dynamo" in form.text.lower() for form in CONCEPTS["grip_power"].spoken)
    assert not any("strength" in form.text.lower().split() for form in CONCEPTS["grip_power"].spoken)


def test_two_point_discrimination_is_static_unless_said() -> None:
    moving = CONCEPTS["moving_two_point_discrimination"].spoken  # choice 10
    said = ("moving", "dynamic", "m2pd", "m two")
    assert all(form.text.lower().startswith(said) for form in moving)
    assert "two-point discrimination" in {form.text.lower() for form in CONCEPTS["static_two_point_discrimination"].spoken}


def test_kanavels_signs_are_four_findings() -> None:
    signs = LEXICON.language["expands"]["flexor_sheath_signs"]  # choice 11; Kanavel's four cardinal signs
    assert set(signs) == {
        "flexed_digit_posture", "fusiform_digit_swelling", "flexor_sheath_tenderness", "pain_on_passive_extension"
    }  # fmt: skip
    for name in signs:
        assert CONCEPTS[name].kind == "finding"
        assert not any("kanavel" in form.text.lower() for form in CONCEPTS[name].spoken), "the eponym only where it was said"


@pytest.mark.parametrize("concept", ["resting_cascade_abnormality", "nail_change", "muscle_wasting", "skin_change"])
def test_what_looks_normal_is_the_finding_absent(concept: str) -> None:
    assert any(form.observed for form in CONCEPTS[concept].spoken)  # choice 12


def test_hand_dominance_carries_its_answer_in_the_side() -> None:
    dominance = CONCEPTS["hand_dominance"]  # choice 13
    assert dominance.statuses == ()
    assert {form.sets.get("side") for form in dominance.spoken} == {"right", "left", None}


def test_a_sign_and_the_diagnosis_of_the_same_name_are_two_concepts() -> None:
    for diagnosis, signs in LEXICON.language["offered_as"].items():  # choice 14
        assert CONCEPTS[diagnosis].kind == "impression"
        assert all(CONCEPTS[sign].kind == "finding" for sign in signs)


def test_plans_and_impressions_hold_no_number() -> None:
    for concept in of("plan", "impression"):
        assert not concept.takes & {"value", "range", "mode"}, concept.id  # choices 14 and 15
        assert "qualifier" in concept.takes, concept.id


def test_a_size_is_a_qualifier() -> None:
    for name in ("scar", "wound", "lump", "ganglion"):
        assert "value" not in CONCEPTS[name].takes, name  # choice 19
        assert "qualifier" in CONCEPTS[name].takes, name


def test_core_concepts_say_why_and_stand_for_their_own_part() -> None:
    core = [c for c in CONCEPTS.values() if c.core]
    assert len(core) > 30
    assert all(c.why for c in core)
    for concept in CONCEPTS.values():
        if concept.counts_for:
            assert CONCEPTS[concept.counts_for].core, f"{concept.id} counts for what nobody expects"


def test_every_plausible_range_says_where_it_comes_from() -> None:
    ranged = [c for c in CONCEPTS.values() if c.plausible]
    assert len(ranged) > 50
    assert [c.id for c in ranged if not (c.source or "").startswith("plausible: ")] == []
