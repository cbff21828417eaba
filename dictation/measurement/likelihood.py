"""Likelihood ratios of single tests, shown with their published range; never multiplied together.

Imports record and result.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from dictation.measurement.result import Measure, Source, number
from dictation.record import RecordField


@dataclass(frozen=True, slots=True)
class Accuracy:
    """Pooled sensitivity and specificity of a test, 0 to 1, and the range of single studies in words."""

    name: str
    sensitivity: float
    specificity: float
    source: Source
    range: str


_POOLED = Source("MacDermid & Wessel 2004, systematic review (abstract)", "verified")
TESTS = {
    "phalen_test": Accuracy("Phalen's test", 0.68, 0.73, _POOLED, "sensitivity 0.12 to 0.92 in single studies (Dabbagh 2023)"),
    "tinel_test": Accuracy("Tinel's test", 0.50, 0.77, _POOLED, "sensitivity 0.17 to 0.97 in single studies (Dabbagh 2023)"),
    "durkan_test": Accuracy(
        "Carpal compression", 0.64, 0.83, _POOLED, "sensitivity 0.28 to 0.91 in single studies (Kuhlman 1997, Durkan 1991)"
    ),
}
NEVER_ALONE = "Strong evidence against resting on one of these tests alone (AAOS 2016); ratios are not multiplied together."


def positive_ratio(sensitivity: float, specificity: float) -> float:
    """Return sensitivity / (1 - specificity); both 0 to 1.

    >>> round(positive_ratio(0.68, 0.73), 2)
    2.52
    """
    return sensitivity / (1 - specificity)


def negative_ratio(sensitivity: float, specificity: float) -> float:
    """Return (1 - sensitivity) / specificity; both 0 to 1.

    >>> round(negative_ratio(0.68, 0.73), 2)
    0.44
    """
    return (1 - sensitivity) / specificity


def likelihood_ratios(fields: Iterable[RecordField]) -> Iterator[Measure]:
    """Give the ratio of each carpal tunnel test that was positive or negative, test by test."""
    for field in fields:
        test = TESTS.get(field.concept)
        if test is None or field.status not in ("positive", "negative"):
            continue
        if field.concept == "tinel_test" and field.structure != "carpal_tunnel":
            continue
        ratio = (positive_ratio if field.status == "positive" else negative_ratio)(test.sensitivity, test.specificity)
        yield Measure(
            "likelihood_ratio", f"{test.name} {field.status}: likelihood ratio {number(ratio, 2)} for carpal tunnel syndrome",
            (field.id,), "sensitivity / (1 - specificity), or (1 - sensitivity) / specificity", test.source,
            field.side, None, ratio, "{ratio}", (f"Range: {test.range}.", NEVER_ALONE),
        )  # fmt: skip
