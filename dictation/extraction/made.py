"""Fields in the making, and what the last statements were about."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from dictation.extraction.concepts import Named
from dictation.extraction.places import FINGERS, Spot
from dictation.extraction.reasons import Reason, Rule
from dictation.extraction.statement import Statement
from dictation.lexicon.entries import Concept

NO_THUMB = {"flexor_digitorum_profundus", "flexor_digitorum_superficialis", "extensor_digitorum_communis"}
"""Tendons that a thumb has not."""


@dataclass(slots=True)
class Made:
    """A field in the making.

    keys: the record's field keys. span: tokens it rests on; side_span: those that set a carried side. why: its reasons.
    """

    concept: Concept
    keys: dict[str, Any]
    span: tuple[int, int]
    batch: int
    line: int
    side_span: tuple[int, int] | None = None
    flags: list[tuple[str, str, str]] = field(default_factory=list)
    retraction_spans: list[tuple[int, int]] = field(default_factory=list)
    more_spans: list[tuple[int, int]] = field(default_factory=list)
    carried: bool = False
    contrast: bool = False
    why: list[Reason] = field(default_factory=list)

    def because(self, rule: Rule, span: tuple[int, int] | None = None, detail: str = "") -> None:
        """Note why."""
        self.why.append(Reason(rule, span, detail))

    def instead(self, about: str, rule: Rule, span: tuple[int, int] | None, detail: str) -> None:
        """Note a reason that takes the place of the earlier ones for the same thing."""
        self.why = [reason for reason in self.why if reason.rule.about != about]
        self.because(rule, span, detail)

    def flag(self, code: str, level: str, message: str) -> None:
        """Add a flag; the first of its code stands unless the new one asks for a check.

        In its message {said} stands for the field's own words, {more} for those that came later, {back} for those taken back
        {side} for those that set the side, and {which} for the side: they are known once all is read.
        """
        for i, (known, at, _) in enumerate(self.flags):
            if known == code:
                if at == "info" and level == "check":
                    self.flags[i] = (code, level, message)
                return
        self.flags.append((code, level, message))


@dataclass(slots=True)
class Said:
    """What the last statement was about, for the elliptical one that may follow."""

    named: list[Named]
    spots: tuple[Spot, ...]
    statement: Statement
    statuses: list[frozenset[str]]


def telling(st: Statement, concept: Concept, one: Named) -> list[frozenset[str]]:
    """The words of status that speak of this concept: "complete wrist drop" is no normal wrist drop."""
    if concept.kind not in {"finding", "impression", "plan", "context"} or one.observed or not st.concepts:
        return st.statuses
    start = min(m.start for m in st.concepts)
    return [s for i, s in enumerate(st.statuses) if i >= len(st.status_at) or st.status_at[i] > start or "normal" not in s]


def at_joint(spots: tuple[Spot, ...], concept: Concept) -> tuple[Spot, ...]:
    return tuple(replace(s, joint=s.joint or concept.joint, digit=s.digit or concept.digit) for s in spots or (Spot(),))


def with_this_joint(spots: tuple[Spot, ...], concept: Concept) -> tuple[Spot, ...]:
    """ "The PIP joints of all digits", "FDP in all digits": of the places said together, not those a thumb has not."""
    if not {s.digit for s in spots} >= {"thumb", *FINGERS}:
        return spots
    no_thumb = {"pip", "dip"} | NO_THUMB
    return tuple(
        s for s in spots if s.digit != "thumb" or not {s.joint, s.structure, concept.joint, concept.structure} & no_thumb
    )


def continued(sets: Mapping[str, str], spots: tuple[Spot, ...], *, kept: bool) -> dict[str, str]:
    """What a form carries on to a statement that continues it: no place named anew and, unless kept, no status."""
    dropped = set().union(*(spot.given() for spot in spots))
    if not kept:
        dropped |= {"status", "qualifier"} if "status" in sets else {"status"}
    return {k: v for k, v in sets.items() if k not in dropped}


def overlay(base: tuple[Spot, ...], spots: tuple[Spot, ...]) -> tuple[Spot, ...]:
    """Lay what was newly said over what was said before; a new joint or structure drops the old place."""
    if not spots:
        return base
    if not base:
        return spots
    out = []
    for new in spots:
        given = new.given()
        for old in base:
            if given & {"joint", "structure"}:
                old = replace(old, joint=None, structure=None, aspect=None)
            if new.digit and new.digit != old.digit:
                old = replace(old, aspect=None)  # the ulnar half of the ring is no part of the thumb
            if new.joint in {"wrist", "elbow", "druj"} and "digit" not in given:
                old = replace(old, digit=None)
            if "digit" in given and "joint" not in given and old.joint in {"wrist", "elbow", "druj"}:
                old = replace(old, joint=None)
            if new.hand:
                old = Spot(side=old.side)
            merged = {
                k: getattr(new, k) if getattr(new, k) is not None else getattr(old, k)
                for k in ("side", "digit", "joint", "structure", "aspect")
            }
            out.append(Spot(**merged, plural=new.plural or (old.plural and not given & {"joint", "digit"}), hand=new.hand))
    return tuple(dict.fromkeys(out))
