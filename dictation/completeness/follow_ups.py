"""What a finding calls for next: where this was found, that would be spoken of too.

Common practice, no source. After an acute fracture, a fresh repair or in a splint no stress, resisted or passive
test is asked for. Imports record.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from dictation.record import RecordField, Side

Found = Callable[[RecordField], bool]


@dataclass(frozen=True, slots=True)
class FollowUp:
    """Where found holds of a field, each concept is expected on its side, for the reason."""

    found: Found
    ask: tuple[str, ...]
    why: str


def _present(concept: str, structure: str | None = None, *, digits: tuple[str, ...] = ()) -> Found:
    def found(field: RecordField) -> bool:
        return (
            field.concept == concept
            and field.status in ("present", "positive", "reduced", "altered")
            and (structure is None or field.structure == structure)
            and (not digits or field.digit in digits)
        )

    return found


FOLLOW_UPS = (
    FollowUp(
        _present("tenderness", "anatomical_snuffbox"),
        ("scaphoid_compression_test",),
        "The snuffbox is tender: axial compression of the thumb, and the scaphoid tubercle.",
    ),
    *(
        FollowUp(
            found,
            ("first_dorsal_interosseous_power", "froment_sign", "dorsal_ulnar_branch_sensation"),
            "The ulnar side is numb: muscle, pinch and the back of the hand tell the level.",
        )
        for found in (_present("reported_numbness", digits=("little",)), _present("ulnar_nerve_sensation"))
    ),
    *(
        FollowUp(
            found,
            ("phalen_test", "tinel_test", "abductor_pollicis_brevis_power", "thenar_wasting"),
            "The median side is numb: provocation, muscle and bulk.",
        )
        for found in (
            _present("reported_numbness", digits=("thumb", "index", "middle")),
            _present("median_nerve_sensation"),
            _present("night_waking"),
        )
    ),
    FollowUp(
        _present("wound"),
        ("tendon_integrity", "digital_nerve_sensation", "capillary_refill_time"),
        "There is a wound: tendon, nerve and artery beneath it.",
    ),
    *(
        FollowUp(
            _present(sign),
            ("flexed_digit_posture", "fusiform_digit_swelling", "flexor_sheath_tenderness", "reported_fever"),
            "One sign along the flexor sheath: the others.",
        )
        for sign in ("flexed_digit_posture", "fusiform_digit_swelling", "flexor_sheath_tenderness", "pain_on_passive_extension")
    ),
    FollowUp(
        _present("dupuytren_cord"),
        ("fixed_flexion_deformity", "tabletop_test"),
        "There is a cord: the contracture of each joint, and the palm on the table.",
    ),
    FollowUp(_present("tenderness", "first_extensor_compartment"), ("finkelstein_test",), "The first compartment is tender."),
    FollowUp(_present("thumb_base_squaring"), ("cmc_grind_test", "key_pinch_strength"), "The thumb base is squared."),
    FollowUp(_present("tenderness", "lateral_epicondyle"), ("cozen_test",), "The lateral epicondyle is tender."),
    FollowUp(
        _present("tenderness", "medial_epicondyle"),
        ("golfers_elbow_test", "elbow_flexion_test"),
        "The medial epicondyle is tender: the tendons, and the ulnar nerve behind it.",
    ),
    FollowUp(_present("tenderness", "central_slip"), ("elson_test",), "The central slip is tender."),
    FollowUp(_present("boutonniere_deformity"), ("elson_test",), "The finger is in boutonnière: the central slip."),
    FollowUp(
        _present("first_dorsal_interosseous_wasting"),
        ("first_dorsal_interosseous_power", "froment_sign", "ulnar_nerve_sensation"),
        "The first web is wasted: ulnar power, pinch and feeling.",
    ),
    FollowUp(_present("ulnar_head_prominence"), ("piano_key_test", "tendon_integrity"), "The ulnar head stands out."),
    FollowUp(
        _present("tenderness", "tfcc_fovea"),
        ("druj_ballottement_test", "ulnocarpal_stress_test"),
        "The fovea is tender: stability of the distal radioulnar joint.",
    ),
    *(
        FollowUp(_present(fracture), ("malrotation", "capillary_refill_time", "gross_sensation"), "There may be a fracture.")
        for fracture in ("hand_fracture", "deformity")
    ),
)

_STRAINING_PARTS = frozenset({"power"})
_STRAINS_NOT = frozenset({"tinel_test"})
"""Of the special tests, those that neither stress, resist nor move a joint."""

_STRAINING_SIGNS = frozenset({"pain_on_passive_extension", "composite_flexion", "composite_extension"})
_FRACTURES = frozenset({"scaphoid_fracture", "distal_radius_fracture", "hand_fracture", "joint_dislocation"})
_LONG_AGO = frozenset({"months", "year", "years"})
_FRESH = frozenset({"repair", "fixation", "fixed", "reconstruction", "days", "week", "weeks"})


def strains(concept: str, part: str) -> bool:
    """Return whether a concept is a stress, resisted or passive test."""
    if part == "special_tests":
        return concept not in _STRAINS_NOT
    return part in _STRAINING_PARTS or concept in _STRAINING_SIGNS


def must_not_be_strained(fields: Iterable[RecordField], side: Side | None, *, operated: bool = False) -> bool:
    """Return whether a side has an acute fracture, a fresh repair or a splint on, as far as was said.

    operated: it is examined after an operation, which counts as fresh where nobody said that it was months or years ago.
    """
    fields = list(fields)
    if operated and not any(_healed(field) for field in fields if side is None or field.side in (side, None)):
        return True
    for field in fields:
        if side is not None and field.side not in (side, None):
            continue
        if field.concept in _FRACTURES and field.status == "present":
            return True
        if field.concept == "splint_in_place" and field.status == "present":
            return True
        if field.concept == "radiograph_result" and field.status == "abnormal":
            return True
        if field.concept == "previous_surgery" and field.status == "present" and not _FRESH.isdisjoint(_words(field)):
            return True
    return False


def _healed(field: RecordField) -> bool:
    return field.concept == "previous_surgery" and not _LONG_AGO.isdisjoint(_words(field))


def _words(field: RecordField) -> list[str]:
    return " ".join([field.qualifier or "", *(evidence.corrected for evidence in field.evidence)]).casefold().split()


def follow_ups(fields: Iterable[RecordField]) -> Iterator[tuple[str, Side | None, str]]:
    """Give concept, side and reason of all that the findings call for, said already or not."""
    fields = list(fields)
    for rule in FOLLOW_UPS:
        for field in fields:
            if field.part != "plan" and rule.found(field):
                for concept in rule.ask:
                    if concept != field.concept:
                        yield concept, field.side, rule.why
