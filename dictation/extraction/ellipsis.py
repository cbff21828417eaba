"""Elliptical statements: "negative on the left", "passive one thirty", and what they are about."""

from __future__ import annotations

from dataclasses import replace

from dictation.extraction.carrying import Carrying
from dictation.extraction.concepts import Named
from dictation.extraction.made import Said, at_joint, overlay
from dictation.extraction.places import Spot
from dictation.extraction.reasons import Reason, Rule
from dictation.extraction.statement import SLIPS, Statement
from dictation.extraction.values import LOSSES, fits, gap, takes_number
from dictation.lexicon.entries import Concept, Lexicon

NERVES = {"median_nerve_sensation", "ulnar_nerve_sensation", "radial_nerve_sensation"}
PRAISE = {"good", "fine", "excellent", "easy", "strong"}
"""A sentence of one of these alone is said to the patient."""


class Ellipsis(Carrying):
    """Finds the earlier statement that one without a concept continues."""

    def _source(self, st: Statement) -> Said | None:
        """The earlier statement that an elliptical one continues, if what it says fits."""
        seen = bool(st.statuses) and set().union(*st.statuses) == {"present"} and not st.groups
        praise = st.end - st.start == 1 and self.tokens[st.start].text in PRAISE and not st.joined
        if st.unknown or praise or (seen and not st.negation):
            return None
        if st.excepted and st.groups and not st.numbers and not st.statuses and self.history:
            return self.history[-1] if self.history[-1].statement.line == st.line else None
        for said in reversed(self.history[-4:]):
            concepts = [n.concept for n in said.named]
            beside = said.statement.joined == "with" and said is self.history[-1] and concepts[0].kind == "test"
            if beside and st.groups and st.joined == "," and said.statement.line == st.line:
                continue  # "Froment's positive on the right with Jeanne's, negative on the left"
            if st.line - said.statement.line > 1:
                return None
            if st.neutral and not (st.numbers or st.statuses or st.negation) and concepts[0].part == "move":
                return said if _straight(st, concepts) else None
            if st.numbers and not st.statuses:
                if any(takes_number(c) and any(fits(c, n) for n in st.numbers) for c in concepts):
                    return said
            elif st.statuses or st.negation or st.same_result:
                general = bool(st.statuses) and set().union(*st.statuses) == {"normal"} and st.line != said.statement.line
                named = any(t.text == "side" for g in st.groups for t in self.tokens[g.start : g.end])
                joint = concepts[0].kind == "movement" and any(spot.joint for spot in st.spots())
                if general and (named or joint or _whole_side(st) or concepts[0].kind == "finding"):
                    return None
                result = bool(st.statuses) and set().union(*st.statuses) <= {"positive", "negative", "equivocal"}
                if result and concepts[0].kind not in {"test", "movement"} and concepts[0].id not in SLIPS:
                    continue
                if _elsewhere(st, concepts):
                    return None
                nought = gap(concepts[0]) and (st.negation or "absent" in set().union(*st.statuses, set()))
                if nought and st.line == said.statement.line:
                    return said
                if all(c.statuses for c in concepts) and concepts[0].part not in {"impression", "plan"}:
                    return said
            elif st.severity and st.groups:
                return said if concepts[0].kind in {"finding", "impression"} else None
            elif st.mode or st.groups:
                listed = st.joined == "," and concepts[0].kind == "finding" and not said.statement.negation
                more = st.joined in {"and", "or"} or (
                    listed and st.line == said.statement.line and st.spots()[0].given() - {"side"}
                )
                kept = concepts[0].kind not in {"impression", "plan", "context", "reported"}
                return said if st.mode is None and st.groups and more and kept else None
        return None

    def _painful(self, st: Statement, source: Said, spots: tuple[Spot, ...]) -> Named | None:
        """ "full but painful": pain on the movement spoken of."""
        concept = source.named[0].concept
        if concept.kind != "movement" or not st.statuses or set().union(*st.statuses) != {"positive"}:
            return None
        return Named(
            self.lexicon.concepts["pain_on_movement"],
            at_joint(overlay(source.spots, spots), concept),
            {"status": "present"},
            why=(Reason(Rule.PAIN),),
        )

    def _narrowed(self, named: list[Named], spots: tuple[Spot, ...], source: Said) -> list[Named]:
        """Concepts of an elliptical statement, narrowed where the new place has a concept of its own."""
        out: list[Named] = []
        borders = {s.aspect for s in spots}
        if len(borders) == 1 and borders <= {"radial", "ulnar"} and not any(s.given() - {"side", "aspect"} for s in spots):
            nerve = self.lexicon.concepts[f"{borders.pop()}_nerve_sensation"]
            nerves = [n for n in named if n.concept.id in NERVES]
            if nerves:  # "right median reduced; ulnar normal on both sides"
                return [replace(nerves[0], concept=nerve, spots=tuple(replace(s, aspect=None) for s in nerves[0].spots))]
        for one in named:
            joints = {s.joint for s in spots}
            if len(joints) == 1:
                one = replace(one, concept=at_another_joint(self.lexicon, one.concept, joints.pop()))
            if one.concept.id == "gross_sensation" and all(
                s.digit and s.aspect in {"radial", "ulnar"} and not s.structure for s in one.spots
            ):
                one = replace(one, concept=self.lexicon.concepts["digital_nerve_sensation"])
            border = any(m.id == "gross_sensation" for m in source.statement.concepts)
            if border and one.concept.id == "digital_nerve_sensation" and all(s.digit and not s.aspect for s in one.spots):
                one = replace(one, concept=self.lexicon.concepts["gross_sensation"])  # of the whole digit now
            generic = (
                one.concept.counts_for
                if any(s.structure and one.concept.structure not in {None, s.structure} for s in one.spots)
                else None
            )
            sensation = (
                one.concept.kind == "sensation" and any(s.structure for s in spots) and "structure" not in one.concept.takes
            )
            concept = (
                self.lexicon.concepts["gross_sensation"]
                if sensation
                else self.lexicon.concepts[generic]
                if generic
                else one.concept
            )
            narrowed = self.namer.narrow(concept, one.spots)
            out += [replace(n, sets=one.sets, observed=one.observed, why=(*one.why, *n.why)) for n in narrowed]
        return out

    def _deviation(self, st: Statement, spots: tuple[Spot, ...]) -> Named | None:
        """ "radial fifteen, ulnar thirty" after wrist movements are deviations."""
        if not (st.numbers and spots and all(s.aspect in {"radial", "ulnar"} and not s.joint and not s.digit for s in spots)):
            return None
        last = self.history[-1].named[0].concept if self.history else None
        if last is None or last.joint != "wrist" or last.kind != "movement":
            return None
        concept = self.lexicon.concepts[f"wrist_{spots[0].aspect}_deviation"]
        return Named(concept, tuple(replace(s, aspect=None) for s in spots), why=(Reason(Rule.DEVIATION),))


def at_another_joint(lexicon: Lexicon, concept: Concept, joint: str | None) -> Concept:
    """ "PIP flexion ninety, DIP forty": the same movement, at the joint named since."""
    if concept.kind != "movement" or joint is None or concept.joint in {None, joint}:
        return concept
    movement = concept.id.removeprefix(f"{concept.joint}_")
    return lexicon.concepts.get(f"{joint}_{movement}", concept)


def _straight(st: Statement, concepts: list[Concept]) -> bool:
    """ "PIP extension minus ten, DIP neutral": straight says something of a digit's lost or measured extension."""
    lost = all(c.id in LOSSES or (c.kind == "movement" and c.id.endswith("_extension")) for c in concepts)
    joints = {s.joint for s in st.spots()}
    return lost and joints <= {"mcp", "pip", "dip", "ip"} | ({None} if any(s.digit for s in st.spots()) else set())


def _elsewhere(st: Statement, concepts: list[Concept]) -> bool:
    """ "Key pinch five on the left. The left thumb base is unremarkable": a place of a sort that the earlier term never has."""
    given = set().union(*(spot.given() for spot in st.spots()), set()) & {"digit", "joint", "structure"}
    fixed = {key for c in concepts for key in ("digit", "joint", "structure") if getattr(c, key)}
    placed = [c for c in concepts if given & (c.takes | fixed)]
    return bool(given) and not placed and all(c.kind != "sensation" for c in concepts)


def _whole_side(st: Statement) -> bool:
    """ "The other hand is fine", "on the right there is nothing to find": a hand or side as a whole, not what was told."""
    spots = st.spots()
    wide = all(spot.given() <= {"side"} and (spot.hand or spot.side == "other" or st.exists) for spot in spots)
    return bool(spots) and wide
