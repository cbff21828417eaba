"""One word for a longer name, letters for movements, and what ends a list: each with the words beside it that it needs."""

from __future__ import annotations

import pytest
from spoken import facts

CASES = {
    "Moving two-point right index 4, static 5.": [
        "moving_two_point_discrimination right index 4 mm",
        "static_two_point_discrimination right index 5 mm",
    ],
    "Right tripod pinch 6 kg, key 8 kg.": ["tripod_pinch_strength right 6 kg", "key_pinch_strength right 8 kg"],
    "Left lateral epicondyle tender, medial not.": [
        "tenderness left lateral_epicondyle present",
        "tenderness left medial_epicondyle absent",
    ],
    "LT shear and ballottement negative on the left.": [
        "lunotriquetral_shear_test left negative",
        "lunotriquetral_ballottement_test left negative",
    ],
    "Right wrist E 60 F 50.": ["wrist_extension right wrist 60 deg", "wrist_flexion right wrist 50 deg"],
    "Left wrist extension 60, grade E 50.": ["wrist_extension left wrist 60 deg"],
    "Not tender over the epicondyles of the right elbow.": [
        "tenderness right lateral_epicondyle absent",
        "tenderness right medial_epicondyle absent",
    ],
    "Pulp to palm one centimetre in the index, nil middle, left hand.": [
        "pulp_to_palm_distance left index 1 cm",
        "pulp_to_palm_distance left middle 0 cm",
    ],
    "ECU subluxes on the right, left stable.": [
        "tendon_subluxation right extensor_carpi_ulnaris present",
        "tendon_subluxation left extensor_carpi_ulnaris absent",
    ],
    "Left interossei and APB both 5/5.": [
        "abductor_pollicis_brevis_power left thumb 5 {score}",
        "intrinsic_power left 5 {score}",
    ],
    "Pain on axial compression of the left scaphoid.": ["scaphoid_compression_test left positive"],
    "Aspirate the right ganglion.": ["aspiration right present"],
    "Not the right, the left wrist is swollen.": ["swelling left wrist present"],
    "Back in three months.": ["follow_up present"],
    "Left elbow, medial not, Cozen's positive.": ["cozen_test left positive"],
    "Dupuytren's review, left hand. Cord to the ring finger.": ["dupuytren_cord left ring present"],
}


@pytest.mark.parametrize("said", CASES)
def test_what_it_stands_for(said: str) -> None:
    """Common practice, no source."""
    assert facts(said) == CASES[said]
