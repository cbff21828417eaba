"""Grip and pinch: mean of trials and their spread, against the other hand, against norms by age, sex and hand.

Imports tables, result and record; scipy for the normal distribution, where a percentile is asked for.
"""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from dictation.measurement.result import Measure, Patient, Source, number
from dictation.measurement.tables import grip_centiles, strength_norm
from dictation.record import RecordField, Side

KG_PER_LB = 0.45359237
HIGH_VARIATION_PERCENT = 15.0
"""Above this, trials differ enough to ask whether effort was even: common practice, no source."""

MEANINGFUL_KG = (5.0, 6.5)
"""Suggested least change in grip that matters: Bohannon 2019 (abstract)."""

STRENGTHS = {
    "grip_strength": "Grip",
    "key_pinch_strength": "Key pinch",
    "tip_pinch_strength": "Tip pinch",
    "tripod_pinch_strength": "Tripod pinch",
}
ARITHMETIC = Source("Mean, standard deviation and percentage of the values measured", "common practice")
TEN_PERCENT = Source(
    "Ten percent rule, dominant = 1.10 x non-dominant in right-handers, left-handers equal: Petersen et al. 1989 (abstract)",
    "verified",
)


@dataclass(frozen=True, slots=True)
class Strength:
    """One strength of one hand: its trials and their mean, in kilograms."""

    concept: str
    side: Side
    key: tuple[str | None, str | None, str | None]
    trials: tuple[float, ...]
    mean_kg: float
    said_mean: float | None
    fields: tuple[str, ...]


def kilograms(field: RecordField) -> float | None:
    """Return a strength in kilograms, None where its unit is neither kg nor pounds."""
    if field.value is None:
        return None
    return {"kg": field.value, "[lb_av]": field.value * KG_PER_LB}.get(field.unit or "")


def strengths(fields: Iterable[RecordField]) -> list[Strength]:
    """Return the strengths measured, one for each concept, side, digit, position and occasion."""
    groups: dict[tuple[str, Side, tuple[str | None, str | None, str | None]], list[RecordField]] = {}
    for field in fields:
        if field.concept in STRENGTHS and field.side and kilograms(field) is not None and field.comparator is None:
            groups.setdefault((field.concept, field.side, (field.digit, field.position, field.occasion)), []).append(field)
    out = []
    for (concept, side, key), group in groups.items():
        trials = tuple(kg for f in group if f.trial != "mean" and (kg := kilograms(f)) is not None)
        means = [kg for f in group if f.trial == "mean" and (kg := kilograms(f)) is not None]
        mean = statistics.fmean(trials) if trials else means[0]
        out.append(Strength(concept, side, key, trials, mean, means[0] if means else None, tuple(f.id for f in group)))
    return out


def trial_means(measured: Sequence[Strength]) -> Iterator[Measure]:
    """Give the mean of each strength's trials, with their coefficient of variation."""
    for one in measured:
        label = STRENGTHS[one.concept]
        text = f"{label} mean {number(one.mean_kg)} kg ({number(one.mean_kg / KG_PER_LB)} lb)"
        notes = []
        if len(one.trials) > 1:
            variation = 100 * statistics.stdev(one.trials) / one.mean_kg if one.mean_kg else 0.0
            text += f" of {len(one.trials)} trials, coefficient of variation {number(variation)} percent"
            if variation > HIGH_VARIATION_PERCENT:
                notes.append(
                    f"Variation above {HIGH_VARIATION_PERCENT:g} percent (common practice, no source): "
                    "pain, fatigue or uneven effort? It proves none of them."
                )
        if one.trials and one.said_mean is not None and abs(one.said_mean - one.mean_kg) > 0.5:
            notes.append(f"The mean said was {number(one.said_mean)} kg.")
        if len(one.trials) == 1:
            text = text.replace(" mean", "") + ", one trial"
        yield Measure(
            "strength_mean", text, one.fields, "mean of trials; 100 x SD / mean", ARITHMETIC, one.side,
            value=one.mean_kg, unit="kg", notes=tuple(notes),
        )  # fmt: skip


def against_other_hand(measured: Sequence[Strength], dominant: Side | None) -> Iterator[Measure]:
    """Give each strength measured on both sides: the weaker in percent of the stronger, and of what dominance lets expect.

    dominant: the hand dominance confirmed, None where not given or ambidextrous.
    """
    for right in measured:
        lefts = [s for s in measured if s.side == "left" and (s.concept, s.key) == (right.concept, right.key)]
        if right.side != "right" or len(lefts) != 1:
            continue
        pair = (right, lefts[0])
        weak, strong = sorted(pair, key=lambda s: (s.mean_kg, s.side != dominant))  # the same is less, in the dominant hand
        if not strong.mean_kg:
            continue
        percent = 100 * weak.mean_kg / strong.mean_kg
        equal = weak.mean_kg == strong.mean_kg
        told = "both hands the same" if equal else f"{weak.side} {number(percent)} percent of the {strong.side}"
        text = f"{STRENGTHS[right.concept]}: {told}"
        notes: tuple[str, ...] = ("Hand dominance not stated.",)
        if dominant == "left":
            notes = ("Left-handed: the hands are taken as equal.",)
        elif dominant == "right":
            factor = 1.10 if weak.side == "right" else 1 / 1.10
            expected = strong.mean_kg * factor
            share = 100 * weak.mean_kg / expected
            text += f"; {number(share)} percent of the {number(expected)} kg that the ten percent rule expects"
            notes = ("Studies of the rule differ from -0.1 to 12.7 percent.",)
        yield Measure(
            "strength_against_other_hand", text, right.fields + lefts[0].fields,
            "100 x weaker / stronger; 100 x weaker / expected", TEN_PERCENT if dominant == "right" else ARITHMETIC,
            None if equal else weak.side, value=percent, unit="%", notes=notes,
        )  # fmt: skip


def against_norm(measured: Sequence[Strength], patient: Patient) -> Iterator[Measure]:
    """Give each strength against Mathiowetz's norm: z score, percentile, percent of the mean; or that age or sex is missing."""
    for one in measured:
        label = STRENGTHS[one.concept]
        if patient.age_years is None or patient.sex is None:
            missing = " and ".join(name for name, given in (("age", patient.age_years), ("sex", patient.sex)) if given is None)
            yield Measure(
                "strength_against_norm",
                f"{label} not set against norms: {missing} not given",
                one.fields,
                "",
                ARITHMETIC,
                one.side,
            )
            continue
        norm = strength_norm(one.concept, patient.sex, patient.age_years, one.side)
        if norm is None:
            continue
        mean_lb, sd_lb, source = norm
        pounds = one.mean_kg / KG_PER_LB
        z = (pounds - mean_lb) / sd_lb
        notes = [] if len(one.trials) == 3 else ["The norm is the mean of three trials."]
        yield Measure(
            "strength_against_norm",
            f"{label} {number(100 * pounds / mean_lb)} percent of the mean for age, sex and hand; z {number(z, 2)}, "
            f"percentile {number(percentile(z), 0)}",
            one.fields, "(measured - mean) / SD, in pounds; normal distribution", source, one.side, None, z, None, tuple(notes),
        )  # fmt: skip


def percentile(z: float) -> float:
    """Return the percentile of a z score by the normal distribution, 0 to 100."""
    return 100 * statistics.NormalDist().cdf(z)


def best_grip(measured: Sequence[Strength], patient: Patient) -> Iterator[Measure]:
    """Give the best grip of either hand against the British centiles, interpolated between the ages of the table."""
    grips = [one for one in measured if one.concept == "grip_strength"]
    if not grips or patient.age_years is None or patient.sex is None:
        return
    table = grip_centiles(patient.sex)
    if not min(table) <= patient.age_years <= max(table):
        return
    best = max(max(one.trials or (one.mean_kg,)) for one in grips)
    below = max(age for age in table if age <= patient.age_years)
    above = min(age for age in table if age >= patient.age_years)
    share = 0.0 if above == below else (patient.age_years - below) / (above - below)
    centiles = [a + share * (b - a) for a, b in zip(table[below], table[above], strict=True)]
    names = ("10th", "25th", "50th", "75th", "90th")
    reached = sum(1 for value in centiles if best >= value)
    if reached == 0:
        where = f"below the 10th centile ({number(centiles[0])} kg)"
    elif reached == len(names):
        where = f"at or above the 90th centile ({number(centiles[-1])} kg)"
    else:
        where = (
            f"between the {names[reached - 1]} ({number(centiles[reached - 1])} kg) and the {names[reached]} centile "
            f"({number(centiles[reached])} kg)"
        )
    yield Measure(
        "grip_centile", f"Best grip of either hand {number(best)} kg, {where}", tuple(f for one in grips for f in one.fields),
        "best of all trials; linear between the ages of the table",
        Source("Dodds et al. 2014, Great Britain (transcriptions of the paper's table)", "verified"), value=best, unit="kg",
    )  # fmt: skip
