"""Every measure of a reviewed record, in the order of the examination: the one place that knows them all.

From confirmed fields only: the caller hands in what was kept of a review with nothing pending. Scores are off
until switched on, by name. Imports every file of this room.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from dictation.measurement.carpal_tunnel_score import carpal_tunnel_scores
from dictation.measurement.dupuytren_stage import tubiana_stages
from dictation.measurement.extension_lag import extension_lags
from dictation.measurement.findings import Findings
from dictation.measurement.flexor_sheath_signs import SIGNS, kanavel_counts
from dictation.measurement.functional_range import functional_ranges
from dictation.measurement.likelihood import likelihood_ratios
from dictation.measurement.movements import movements
from dictation.measurement.nerve_patterns import nerve_patterns
from dictation.measurement.opposition import opposition_scores
from dictation.measurement.range_of_motion import against_normal, against_other_side, arcs
from dictation.measurement.result import Measure, Patient
from dictation.measurement.sensory_bands import sensory_bands
from dictation.measurement.sizes import sizes_against_other_side
from dictation.measurement.strength import against_norm, against_other_hand, best_grip, strengths, trial_means
from dictation.measurement.strickland import strickland_results
from dictation.measurement.thumb_ulnar_collateral import thumb_stress
from dictation.measurement.total_active_motion import said_totals, total_motions
from dictation.record import RecordField, Side

SCORES = ("strickland", "carpal_tunnel_score", "tubiana_stage", "kanavel_count", "thumb_ulnar_collateral", "likelihood_ratio")
"""Measures that are scores: each is given only where the clinic switched it on, none under 18 years."""

ADULT_YEARS = 18

_DIGITAL = frozenset(f"{joint}_{way}" for joint in ("mcp", "pip", "dip", "ip") for way in ("flexion", "extension"))
_RANGES = _DIGITAL | {"range_of_motion", "fixed_flexion_deformity", "extension_lag", "hyperextension"}
INPUTS: dict[str, frozenset[str]] = {
    "strickland": _RANGES,
    "carpal_tunnel_score": frozenset({
        "reported_numbness", "night_waking", "thenar_wasting", "abductor_pollicis_brevis_power", "phalen_test",
        "static_two_point_discrimination", "tinel_test",
    }),
    "tubiana_stage": _RANGES | {"dupuytren_cord", "dupuytren_nodule", "dupuytren_disease"},
    "kanavel_count": frozenset(SIGNS),
    "thumb_ulnar_collateral": frozenset({"thumb_ucl_stress_test"}),
    "likelihood_ratio": frozenset(),
}  # fmt: skip
"""Score -> the concepts it rests on, besides the field that it is of: while one of them is pending there is no score."""


def measures(
    fields: Sequence[RecordField],
    patient: Patient,
    *,
    table: str = "aaos",
    scores: Collection[str] = (),
) -> list[Measure]:
    """Return what follows from confirmed fields. table: a key of tables.RANGE_SOURCES. scores: those of SCORES switched on.

    Nothing is worked out from a field still pending: it is left out as if it had not been said.
    """
    kept = [field for field in fields if field.decision in ("confirmed", "amended")]
    findings, moved, measured = Findings(kept), movements(kept), strengths(kept)
    out = [
        *against_other_side(moved),
        *against_normal(moved, table),
        *arcs(moved),
        *functional_ranges(moved),
        *total_motions(moved),
        *said_totals(kept, moved),
        *extension_lags(moved),
        *opposition_scores(kept),
        *sizes_against_other_side(kept),
        *trial_means(measured),
        *against_other_hand(measured, _dominant(kept)),
        *against_norm(measured, patient),
        *best_grip(measured, patient),
        *sensory_bands(kept),
        *nerve_patterns(findings),
    ]
    if patient.age_years is not None and patient.age_years >= ADULT_YEARS:
        every = [
            *strickland_results(moved),
            *carpal_tunnel_scores(findings),
            *tubiana_stages(findings, moved),
            *kanavel_counts(findings),
            *thumb_stress(kept),
            *likelihood_ratios(kept),
        ]
        pending = [field for field in fields if field.decision == "pending"]
        out += [_withheld(measure, pending) for measure in every if measure.kind in scores]
    return out


def _withheld(score: Measure, pending: Sequence[RecordField]) -> Measure:
    """The score, or that it waits, where one of its inputs of the same side and digit is not decided yet."""
    open_ = [
        field
        for field in pending
        if field.concept in INPUTS[score.kind]
        and field.side in (score.side, None)
        and (score.digit is None or field.digit in (score.digit, None))
    ]
    if not open_:
        return score
    text = f"{score.kind.replace('_', ' ').capitalize()} not given: {len(open_)} of its statements not decided yet"
    return replace(score, text=text, value=None, unit=None, notes=())


def _dominant(fields: Sequence[RecordField]) -> Side | None:
    sides = {field.side for field in fields if field.concept == "hand_dominance"}
    return sides.pop() if len(sides) == 1 else None
