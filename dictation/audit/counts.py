"""What an audit counts over signed examinations: left out, corrected, misheard, doubted rightly, and how long signing took.

Counts alone: no reference, no name, no value of a patient's, and no row about fewer than FEWEST examinations, in which
somebody might know one again. Imports cases, completeness, lexicon and record.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from statistics import median, quantiles

from dictation.audit.cases import Case
from dictation.completeness.not_mentioned import EXAMINATION, complete_examination, not_mentioned
from dictation.lexicon.entries import Lexicon
from dictation.record import PARTS
from dictation.review.decisions import Decision

FEWEST = 5
"""Examinations that a row is about at least: small counts are not published, as is usual in statistics of health; the number
is chosen by us, no source.
"""
LONGEST_PHRASE = 5
KEYS = (
    "side", "digit", "joint", "structure", "aspect", "status", "certainty", "severity", "value", "low", "high", "unit",
    "comparator", "grade_sign", "trial", "position", "occasion", "qualifier", "mode",
)  # fmt: skip

Row = tuple[str | int | float, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """One table of the audit. remark: how to read it. shares: which column is a share, 0 to 1, None for none."""

    name: str
    title: str
    heads: tuple[str, ...]
    rows: tuple[Row, ...]
    remark: str
    share: int | None = None


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A phrase that a clinic's recogniser makes of a term again and again. term: its id. seen: in how many examinations."""

    heard: str
    term: str
    name: str
    seen: int


@dataclass
class Counts:
    """Counts that grow case by case; a case is not kept."""

    lexicon: Lexicon
    examinations: int = 0
    purposes: Counter[str] = field(default_factory=Counter)
    left_out: Counter[tuple[str, str]] = field(default_factory=Counter)
    concerned: Counter[str] = field(default_factory=Counter)  # examinations by what is in them: a concept, or a flag
    drafted: Counter[str] = field(default_factory=Counter)
    changed: Counter[tuple[str, str]] = field(default_factory=Counter)
    heard: dict[tuple[str, str], int] = field(default_factory=lambda: defaultdict(int))
    flagged: Counter[str] = field(default_factory=Counter)
    right_to_doubt: Counter[str] = field(default_factory=Counter)
    minutes: dict[bool, list[float]] = field(default_factory=lambda: {True: [], False: []})

    def add(self, case: Case) -> None:
        """Count one examination."""
        self.examinations += 1
        self.purposes[case.purpose] += 1
        missing = _not_mentioned_anywhere(case, self.lexicon)
        for concept, _ in complete_examination(self.lexicon, case.purpose):
            self.left_out[case.purpose, concept.id] += concept.id in missing
        for decision in case.decisions:
            self._correction(decision)
            self._doubt(decision)
        self.concerned.update({one.field.concept for one in case.decisions})
        self.concerned.update({code for one in case.decisions for code in _codes(one)})
        for pair in self._mishearings(case):
            self.heard[pair] += 1
        self.minutes[case.stated].append(case.to_sign_min)

    def _correction(self, decision: Decision) -> None:
        concept, first = decision.field.concept, decision.first
        if first is None:
            self.changed["added by hand", concept] += 1
            return
        self.drafted[concept] += 1
        if decision.state == "rejected":
            self.changed["rejected", concept] += 1
        for key in KEYS if decision.state == "amended" else ():
            if getattr(first, key) != getattr(decision.field, key):
                self.changed[f"{key} amended", concept] += 1

    def _doubt(self, decision: Decision) -> None:
        for code in _codes(decision):
            self.flagged[code] += 1
            self.right_to_doubt[code] += decision.state in {"amended", "rejected"}

    def _mishearings(self, case: Case) -> set[tuple[str, str]]:
        """What was heard in place of a term whose field was then confirmed as it was corrected."""
        corrected = case.draft.transcript.corrected
        words = case.draft.transcript.words
        found: set[tuple[str, str]] = set()
        for decision in case.decisions:
            if decision.first is None or decision.state != "confirmed":
                continue
            for evidence in decision.first.evidence:
                spans = [c.from_ for c in corrected if c.reason and evidence.words[0] <= c.from_[0] < evidence.words[1]]
                if evidence.role == "statement" and spans:
                    start, end = min(a for a, _ in spans), max(b for _, b in spans)
                    phrase = " ".join(word.said for word in words[start:end]).casefold().strip(" .,;:?!")
                    if 0 < len(phrase.split()) <= LONGEST_PHRASE:
                        found.add((phrase, decision.field.concept))
        return found

    def suggestions(self) -> list[Suggestion]:
        """Return the mishearings seen often enough to be told to the recogniser, the most frequent first."""
        found = []
        for (phrase, concept), seen in sorted(self.heard.items(), key=lambda item: (-item[1], item[0])):
            term = self.lexicon.concepts.get(concept)
            known = {form.text.casefold() for form in term.spoken} | {m.casefold() for m in term.misheard} if term else {phrase}
            if seen >= FEWEST and term is not None and phrase not in known:
                found.append(Suggestion(phrase, concept, term.preferred, seen))
        return found

    def tables(self) -> list[Table]:
        """Return the tables. Each says how many it is about."""
        return [self._left_out(), self._corrections(), self._heard(), self._flags(), self._times()]

    def _name(self, concept: str) -> str:
        found = self.lexicon.concepts.get(concept)
        return found.preferred if found else concept

    def _left_out(self) -> Table:
        rows: list[Row] = []
        for (purpose, concept), count in self.left_out.items():
            of = self.purposes[purpose]
            if of >= FEWEST and count:
                part = self.lexicon.concepts[concept].part
                rows.append((purpose, part, self._name(concept), count, of, round(count / of, 3)))
        rows.sort(key=lambda row: (str(row[0]), -float(row[5]), PARTS.index(row[1]), str(row[2])))
        return Table(
            "left_out", "Left out of the examination", ("purpose", "part", "what", "left out", "examinations", "share"),
            tuple(rows), "Not mentioned is not the same as not examined.", 5,
        )  # fmt: skip

    def _corrections(self) -> Table:
        rows: list[Row] = []
        for (what, concept), count in self.changed.items():
            of = self.drafted[concept]
            if self.concerned[concept] >= FEWEST:
                share = round(count / of, 3) if what != "added by hand" else ""
                rows.append((what, self._name(concept), count, of, share))
        rows.sort(key=lambda row: (-int(row[2]), str(row[0]), str(row[1])))
        return Table(
            "corrections", "Corrections", ("correction", "of", "times", "drafted", "share"), tuple(rows),
            "A statement amended in two of its details counts for each.", 4,
        )  # fmt: skip

    def _heard(self) -> Table:
        rows = tuple((one.heard, one.name, one.term, one.seen) for one in self.suggestions())
        return Table(
            "misheard", "Heard in place of a term", ("heard", "term", "id", "examinations"), rows,
            "Each was corrected by the program, and confirmed so by a clinician.",
        )  # fmt: skip

    def _flags(self) -> Table:
        ordered = sorted(self.flagged, key=lambda code: (code != "no flag", code != "any flag", -self.flagged[code]))
        rows = tuple(
            (code, self.right_to_doubt[code], of := self.flagged[code], round(self.right_to_doubt[code] / of, 3))
            for code in ordered
            if self.concerned[code] >= FEWEST
        )
        return Table(
            "doubts", "Doubts, and how many were right", ("flag to check", "amended or rejected", "statements", "share"), rows,
            "The share under “no flag” is what was wrong without a mark, and noticed.", 3,
        )  # fmt: skip

    def _times(self) -> Table:
        names = {True: "as the signer stated", False: "when the draft was taken in"}
        rows: tuple[Row, ...] = tuple(
            (names[stated], len(found), *(round(value, 1) for value in _spread(found)))
            for stated, found in self.minutes.items()
            if len(found) >= FEWEST
        )
        return Table(
            "time_to_sign", "Minutes from the end of dictation to the signature",
            ("end of dictation", "examinations", "a quarter within", "half within", "three quarters within", "longest"), rows,
            "A draft taken in later than it was dictated makes the time look shorter.",
        )  # fmt: skip


def _not_mentioned_anywhere(case: Case, lexicon: Lexicon) -> set[str]:
    """The concepts mentioned of no side that was examined; one mentioned of one side alone was not left out."""
    sides = {field.side for field in case.kept if field.part in EXAMINATION and field.side}
    missing: dict[str, set[str | None]] = defaultdict(set)
    for one in not_mentioned(case.kept, lexicon, case.purpose):
        missing[one.concept].add(one.side)
    return {concept for concept, where in missing.items() if None in where or where >= sides}


def _codes(decision: Decision) -> set[str]:
    """The flags to check of a statement as drafted, "any flag" or "no flag" among them; none for one added by hand."""
    if decision.first is None:
        return set()
    codes = {flag.code.value for flag in decision.first.flags if flag.level == "check"}
    return codes | {"any flag"} if codes else {"no flag"}


def _spread(values: Sequence[float]) -> tuple[float, float, float, float]:
    low, _, high = quantiles(values, n=4, method="inclusive")
    return low, median(values), high, max(values)
