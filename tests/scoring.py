"""How far draft records agree with the expected fields: F1, silent errors by kind, checked and lost shares.

What goes in: dictations with their expected fields (samples/expected.jsonl, tests/cases/*.jsonl) and the
draft record of each as JSON values. What comes out: counts that add up over dictations, and the figures
worked out from them. The definitions: DEVELOPERS.md, "How it is judged". Imports nothing of the program, so
that it judges any draft.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

Values = Mapping[str, Any]
IDENTITY = ("concept", "side", "digit", "joint", "structure")
CONTENT = (
    "status", "value", "low", "high", "unit", "mode", "severity", "grade_sign", "comparator", "trial",
    "certainty",
)  # fmt: skip
JUDGED = IDENTITY + CONTENT
KINDS = {
    "side": ("side",),
    "polarity": ("status",),
    "number": ("value", "low", "high", "unit", "grade_sign", "comparator"),
}
REPORTED = {
    "reported_pain", "reported_numbness", "night_waking", "reported_weakness", "reported_locking",
    "mechanism_of_injury", "time_since_onset", "reported_fever", "radiograph_result",
}  # fmt: skip
"""Judged only where one of the same concept is expected."""
ALIKE = 2
"""Keys, the concept among them, that must agree before a field is taken for a wrong version of another."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong: what sort, and the expected and the drafted field, None where there is none."""

    dictation: str
    sort: str
    expected: Values | None
    drafted: Values | None


@dataclass(slots=True)
class Score:
    """Counts over dictations; the properties are the figures. A share of nothing is None."""

    counts: Counter[str] = field(default_factory=Counter)
    faults: list[Fault] = field(default_factory=list)

    def __iadd__(self, other: Score) -> Score:
        self.counts.update(other.counts)
        self.faults += other.faults
        return self

    @property
    def hits(self) -> int:
        """Right fields, those among them that need not have been found included."""
        return self.counts["right"] + self.counts["right_optional"]

    @property
    def precision(self) -> float:
        return self.hits / self.counts["drafted"] if self.counts["drafted"] else 1.0

    @property
    def recall(self) -> float:
        return self.counts["right"] / self.counts["expected"] if self.counts["expected"] else 1.0

    @property
    def f1(self) -> float:
        total = self.precision + self.recall
        return 2 * self.precision * self.recall / total if total else 0.0

    @property
    def silent_per_100(self) -> float:
        """Wrong or invented fields without a check flag, per 100 expected; their number where none is."""
        silent = self.counts["silent"]
        return 100 * silent / self.counts["expected"] if self.counts["expected"] else float(silent)

    @property
    def right_checked_share(self) -> float | None:
        """Share of the right fields that carry a check flag: glances that found nothing."""
        return self.counts["right_checked"] / self.hits if self.hits else None

    @property
    def lost_share(self) -> float | None:
        """Share of the expected fields neither drafted nor to be seen in unplaced speech."""
        lost = self.counts["missed"] - self.counts["missed_visible"]
        return lost / self.counts["expected"] if self.counts["expected"] else None


def read_cases(path: Path) -> list[dict[str, Any]]:
    """Return the dictations of a file, one a line: id, text, fields."""
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines() if line.strip()]


def score(case: Values, draft: Values) -> Score:
    """Return the score of one dictation. case: id and expected fields. draft: the record as JSON values."""
    out, wanted = Score(), case["fields"]
    concepts = {w["concept"] for w in wanted}
    drafted = [f for f in draft["fields"] if not wanted or f["concept"] not in REPORTED - concepts]
    unplaced = [u["text"] for u in draft.get("unplaced", [])]
    out.counts["expected"] = sum(not w.get("optional") for w in wanted)
    out.counts["drafted"] = len(drafted)
    out.counts["flagged"] = sum(map(checked, drafted))
    left_wanted, left_drafted = list(wanted), list(drafted)
    for want, got, right in _pairs(wanted, drafted):
        _take(left_wanted, want)
        _take(left_drafted, got)
        if right:
            out.counts["right_optional" if want.get("optional") else "right"] += 1
            out.counts["right_checked"] += checked(got)
        else:
            _count_wrong(out, case["id"], want, got)
    for want in left_wanted:
        if not want.get("optional"):
            visible = _shown(want.get("said") or "", unplaced)
            out.counts["missed"] += 1
            out.counts["missed_visible"] += visible
            out.faults.append(Fault(case["id"], "missed, unplaced" if visible else "lost", want, None))
    for got in left_drafted:
        silent = not checked(got)
        out.counts["invented"] += 1
        out.counts["silent"] += silent
        out.counts["silent_invented"] += silent
        out.faults.append(Fault(case["id"], f"invented, {'silent' if silent else 'flagged'}", None, got))
    return out


def checked(drafted: Values) -> bool:
    """Whether a drafted field asks the clinician to look before confirming."""
    return any(flag["level"] == "check" for flag in drafted.get("flags", ()))


def _count_wrong(out: Score, dictation: str, want: Values, got: Values) -> None:
    silent = not checked(got)
    out.counts["wrong"] += 1
    out.counts["silent"] += silent
    out.faults.append(Fault(dictation, f"wrong, {'silent' if silent else 'flagged'}", want, got))
    if silent:
        for kind, keys in KINDS.items():
            out.counts[f"silent_{kind}"] += not _agree(want, got, keys)


def _pairs(wanted: Sequence[Values], drafted: Sequence[Values]) -> Iterator[tuple[Values, Values, bool]]:
    """Yield (expected, drafted, whether right): exact pairs first, the strictest expected field choosing
    first; then, of what is left, the most alike.
    """
    open_wanted, open_drafted = list(range(len(wanted))), list(range(len(drafted)))
    for i in sorted(open_wanted, key=lambda i: -sum(key in wanted[i] for key in JUDGED)):
        exact = next((j for j in open_drafted if _agree(wanted[i], drafted[j], JUDGED)), None)
        if exact is not None:
            open_wanted.remove(i)
            open_drafted.remove(exact)
            yield wanted[i], drafted[exact], True
    near = [
        (sum(_agree(wanted[i], drafted[j], (key,)) for key in JUDGED if key in wanted[i]), i, j)
        for i in open_wanted
        for j in open_drafted
        if wanted[i]["concept"] == drafted[j]["concept"]
    ]
    for alike, i, j in sorted(near, reverse=True):
        if alike >= ALIKE and i in open_wanted and j in open_drafted:
            open_wanted.remove(i)
            open_drafted.remove(j)
            yield wanted[i], drafted[j], False


def _agree(want: Values, got: Values, keys: Sequence[str]) -> bool:
    """Whether the drafted field has what is expected under every key; a key not expected is not judged."""
    return all(_equal(want[key], got.get(key)) for key in keys if key in want)


def _equal(want: Any, got: Any) -> bool:
    if isinstance(want, bool) or isinstance(got, bool):
        return False  # no key of a field is a truth value
    if isinstance(want, (int, float)) and isinstance(got, (int, float)):
        return abs(want - got) <= 1e-6
    return bool(want == got)


def _take(fields: list[Values], taken: Values) -> None:
    del fields[next(i for i, f in enumerate(fields) if f is taken)]


def _shown(said: str, unplaced: Sequence[str]) -> bool:
    """Whether one stretch of unplaced speech shows the words: most of them, and not buried in others."""
    want = Counter(plain_words(said))
    for text in unplaced:
        have = Counter(plain_words(text))
        if want and have.total() <= 3 * want.total() + 6 and (want & have).total() >= 0.6 * want.total():
            return True
    return False


def plain_words(text: str) -> list[str]:
    """Return the words of a text for comparing: lower case, apostrophes dropped, anything else a gap.

    >>> plain_words("Tinel's: 4+/5")
    ['tinels', '4', '5']
    """
    return re.findall(r"[a-z0-9]+", re.sub(r"['’]", "", text.lower()))
