"""The six-item carpal tunnel score (Graham): sum of weights, missing items as a possible range.

Not the six-item symptom scale of the same short name, which is a questionnaire. Imports findings and result.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from dictation.measurement.findings import SIDES, Findings
from dictation.measurement.result import Measure, Source, number
from dictation.record import RecordField, Side

SOURCE = Source(
    "Graham 2006 and 2008, weights as listed in a public manual page; threshold from a medical-calculator page", "verified"
)
PROBABLE = Source("Graham 2008: 12 corresponds to a probability of about 0.80", "published")
THRESHOLD = 12.0
MEDIAN_DIGITS = frozenset({"thumb", "index", "middle", "ring"})
TWO_POINT_MM = 5.0

Answer = tuple[bool | None, list[RecordField]]
"""Met, not met, or not known, and the fields that say so."""


@dataclass(frozen=True, slots=True)
class Item:
    """One of the six: its name, weight, and how a record answers it for a side."""

    name: str
    weight: float
    answer: Callable[[Findings, Side], Answer]


def _status(fields: list[RecordField], met: set[str], unmet: set[str]) -> Answer:
    """Read fields whose status alone answers; where they disagree nothing is known."""
    yes = [f for f in fields if f.status in met]
    no = [f for f in fields if f.status in unmet]
    if yes and no:
        return None, []
    return (True, yes) if yes else (False, no) if no else (None, [])


def _exact(findings: Findings, side: Side, *concepts: str) -> list[RecordField]:
    return [f for f in findings.of(*concepts) if f.side == side]


def _numbness(findings: Findings, side: Side) -> Answer:
    said = _exact(findings, side, "reported_numbness")
    median = [f for f in said if f.digit in MEDIAN_DIGITS or f.structure == "median_nerve"]
    other = [f for f in said if f.digit == "little" and f.status == "present"]
    met, fields = _status(median, {"present"}, {"absent"})
    if met and other:
        return None, []  # "mainly or only" the median area is for the clinician to say
    if met is None:
        return _status([f for f in said if f.digit is None and f.structure is None], set(), {"absent"})
    return met, fields


def _night(findings: Findings, side: Side) -> Answer:
    return _status(_exact(findings, side, "night_waking"), {"present"}, {"absent"})


def _thenar(findings: Findings, side: Side) -> Answer:
    wasting = _status(_exact(findings, side, "thenar_wasting"), {"present"}, {"absent"})
    power = _exact(findings, side, "abductor_pollicis_brevis_power")
    weak = [f for f in power if f.status in ("reduced", "absent") or (f.value is not None and _below_five(f))]
    strong = [f for f in power if f not in weak and (f.status == "normal" or f.value == 5)]
    weakness: Answer = (True, weak) if weak and not strong else (False, strong) if strong and not weak else (None, [])
    if wasting[0] or weakness[0]:
        return True, [f for met, fields in (wasting, weakness) if met for f in fields]
    if wasting[0] is False and weakness[0] is False:
        return False, wasting[1] + weakness[1]
    return None, []  # one alone may be normal while the other was not looked at


def _below_five(field: RecordField) -> bool:
    """Manual strength of grade 4 or less; 4 plus counts as 4."""
    return (field.value is not None and field.value <= 4) or (field.value == 5 and field.grade_sign == "-")


def _test(concept: str, structure: str | None = None) -> Callable[[Findings, Side], Answer]:
    def answer(findings: Findings, side: Side) -> Answer:
        fields = [f for f in _exact(findings, side, concept) if structure is None or f.structure == structure]
        return _status(fields, {"positive"}, {"negative"})

    return answer


def _two_point(findings: Findings, side: Side) -> Answer:
    fields = [
        f for f in _exact(findings, side, "static_two_point_discrimination") if f.digit in MEDIAN_DIGITS and f.value is not None
    ]
    lost = [f for f in fields if f.value is not None and f.value > TWO_POINT_MM and f.comparator not in ("<", "<=")]
    if lost:
        return True, lost
    return (False, fields) if fields and all(f.comparator not in (">", ">=") for f in fields) else (None, [])


ITEMS = (
    Item("numbness mainly or only in the median area", 3.5, _numbness),
    Item("night-time numbness", 4.0, _night),
    Item("thenar wasting or weakness", 5.0, _thenar),
    Item("Phalen's test", 5.0, _test("phalen_test")),
    Item("loss of two-point discrimination", 4.5, _two_point),
    Item("Tinel's test at the carpal tunnel", 4.0, _test("tinel_test", "carpal_tunnel")),
)


def carpal_tunnel_scores(findings: Findings) -> Iterator[Measure]:
    """Give the score of each side of which at least one item is known. For adults: the caller knows the age."""
    for side in SIDES:
        answers = [(item, *item.answer(findings, side)) for item in ITEMS]
        known = [(item, met) for item, met, _ in answers if met is not None]
        if not known:
            continue
        low = sum(item.weight for item, met in known if met)
        high = low + sum(item.weight for item, met, _ in answers if met is None)
        missing = [item.name for item, met, _ in answers if met is None]
        inputs = tuple(dict.fromkeys(f.id for _, _, fields in answers for f in fields))
        if missing:
            text = f"Six-item carpal tunnel score incomplete: {number(low)} so far, {number(low)} to {number(high)} possible"
            value = None
        else:
            text = f"Six-item carpal tunnel score {number(low)} of 26: " + (
                f"{THRESHOLD:g} or more, carpal tunnel syndrome more likely"
                if low >= THRESHOLD
                else f"below {THRESHOLD:g}, less likely"
            )
            value = low
        notes = [f"Not known: {', '.join(missing)}."] if missing else []
        if low == THRESHOLD and not missing:
            notes.append(f"Exactly {THRESHOLD:g}: another source asks for more than {THRESHOLD:g}.")
        notes.append(f"{PROBABLE}.")
        yield Measure(
            "carpal_tunnel_score",
            text,
            inputs,
            "sum of the weights of the items met",
            SOURCE,
            side,
            None,
            value,
            "{score}",
            tuple(notes),
        )
