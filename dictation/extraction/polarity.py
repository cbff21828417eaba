"""Status: what a statement says of its concept, from its words of status and its "no".

ConText's idea (Harkema et al. 2009): a trigger, its scope, and what ends it. The scope is settled by statements.py; here
the trigger and the word of status are turned into the concept's own statuses, with a note where the "no" is open.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dictation.lexicon.entries import Concept

GRADED = {"sensation", "circulation", "function", "movement", "power", "strength"}
TO_FINDING = {
    "normal": "absent",
    "negative": "absent",
    "abnormal": "present",
    "positive": "present",
    "altered": "present",
}
TO_TEST = {
    "normal": "negative",
    "absent": "negative",
    "abnormal": "positive",
    "present": "positive",
    "altered": "positive",
    "reduced": "positive",
}
TO_GRADED = {
    "positive": "reduced", "negative": "absent", "present": "normal", "abnormal": "altered",
}  # fmt: skip
REFILLED = {"allen_test", "digital_allen_test"}
"""Tests in which what is seen is refill: absent or slow refill is the positive result."""
OPPOSITE = {
    "present": "absent",
    "absent": "present",
    "positive": "negative",
    "negative": "positive",
    "normal": "reduced",
}
ORDER = (
    "not_assessed",
    "equivocal",
    "absent",
    "reduced",
    "altered",
    "positive",
    "negative",
    "normal",
    "abnormal",
    "present",
)


@dataclass(frozen=True, slots=True)
class Verdict:
    """status: null where nothing was said. unclear: the doubt in plain words, or None."""

    status: str | None
    unclear: str | None = None


def settle_status(
    concept: Concept, statuses: Sequence[frozenset[str]], *, negated: bool, after: bool, double: bool,
    form_status: str | None, observed: bool, valued: bool, shown: bool = False,
) -> Verdict:  # fmt: skip
    """Return the status of a concept. valued: a number goes with it. shown: a test's result told by the sign looked for."""
    said = set().union(*statuses) if statuses else set()
    if "not_assessed" in said and "not_assessed" in concept.statuses:
        return Verdict("not_assessed")
    word = next((s for s in ORDER if s in said), None)
    if concept.kind in {"finding", "impression", "plan", "context", "reported"}:
        return _finding(concept, said, word, negated or after, double, form_status, observed, valued)
    if concept.kind == "test" and shown and not said & {"positive", "negative"}:
        failed = negated or after or bool(said & {"absent", "reduced", "altered"})
        return Verdict("positive" if failed else "negative" if said & {"normal", "present"} else None)
    if concept.kind == "test":
        return _test(concept, said, word, negated or after, double, form_status)
    if concept.kind in GRADED:
        return _graded(concept, said, negated, after, form_status, valued)
    return Verdict(None)


def _finding(
    concept: Concept, said: set[str], word: str | None, negated: bool, double: bool, form_status: str | None,
    observed: bool, valued: bool,
) -> Verdict:  # fmt: skip
    allowed = concept.statuses
    if concept.id == "carrying_angle":
        return Verdict("normal" if "normal" in said or form_status == "normal" else None)
    if not allowed:
        return Verdict(None)
    if form_status is not None and not (observed and word):
        if negated and form_status in OPPOSITE:
            return Verdict(OPPOSITE[form_status], 'the "no" and a word that already means absence stand together')
        if form_status in {"present", "absent"} and said & {"absent"} and form_status == "present":
            return Verdict("absent")
        return Verdict(form_status if form_status in allowed else None)
    if observed:
        if said & {"normal", "negative"} or (negated and "abnormal" in said):
            return Verdict("present" if negated and "normal" in said else "absent")
        if said & {"abnormal", "altered", "reduced", "absent"} or (said & {"positive"}):
            return Verdict("present")
        return Verdict(None)
    if "declined" in allowed and "not_assessed" in said:
        return Verdict("declined")
    status = "present"
    if said & {"absent"} and not said & {"present", "positive"}:
        status = "absent"
    elif word in {"normal", "negative"} and "present" not in said and not double:
        status = "absent"
        if negated and "normal" in said:
            status = "present"
            return Verdict(status if status in allowed else allowed[0], '"not normal" of a finding')
        if negated:
            return Verdict("absent" if "absent" in allowed else None)
    if double:
        return Verdict("present" if "present" in allowed else None, "two words of denial stand together")
    if negated:
        if status == "absent" and "absent" in said and not said & {"nil"}:
            return Verdict("absent", None)
        status = "absent"
    if concept.id == "radiograph_result":
        return Verdict("abnormal" if "abnormal" in said or "altered" in said else ("normal" if "normal" in said else None))
    return Verdict(status if status in allowed else None)


def _test(concept: Concept, said: set[str], word: str | None, negated: bool, double: bool, form_status: str | None) -> Verdict:
    if form_status in concept.statuses and not (said and form_status is None):
        status = form_status
        if negated and status in OPPOSITE:
            return Verdict(OPPOSITE[status])
        return Verdict(status)
    if "equivocal" in said:
        return Verdict("equivocal")
    if concept.id in REFILLED and said & {"absent", "reduced"} and not said & {"negative", "positive"}:
        return Verdict("positive")
    if "negative" in said and "positive" in said:
        return Verdict("positive", "both positive and negative were said")
    if "positive" in said or said & {"present", "abnormal", "altered", "reduced"} - (
        {"present"} if "normal" in said else set()
    ):
        return Verdict("negative" if negated and not double else "positive")
    if said & {"negative", "normal", "absent"}:
        if negated and "normal" in said:
            return Verdict("positive", '"not normal" of a test')
        return Verdict("negative")
    if negated:
        return Verdict("negative")
    return Verdict(None)


def _graded(concept: Concept, said: set[str], negated: bool, after: bool, form_status: str | None, valued: bool) -> Verdict:
    allowed = concept.statuses
    if form_status in allowed and not said:
        if negated:
            return Verdict("reduced" if form_status == "normal" else "normal", 'the "no" and the phrase stand together')
        return Verdict(form_status)
    for status in ("absent", "reduced", "altered"):
        if status in said and status in allowed and not ("normal" in said and status != "reduced"):
            if negated and status in {"reduced", "altered"}:
                return Verdict("normal")
            return Verdict(status)
    if "normal" in said or "present" in said or "negative" in said:
        if negated:
            return Verdict("reduced" if "reduced" in allowed else None, '"not" before a word for normal')
        return Verdict("normal" if "normal" in allowed else None)
    if "abnormal" in said or "positive" in said:
        return Verdict("altered" if "altered" in allowed else "reduced")
    if form_status in allowed:
        return Verdict(form_status)
    if (negated or after) and not valued and "absent" in allowed:
        return Verdict("absent")
    return Verdict(None)
