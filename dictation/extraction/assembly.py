"""Fields from statements: concept by concept, place by place, side by side, with what is carried from before.

What goes in: the statements of each line, in order. What comes out: made fields with the tokens they rest on and the
doubts met on the way, and the stretches that named something clinical and became none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from dictation.extraction.concepts import SENSATION, Named, Namer
from dictation.extraction.numbers import Reading
from dictation.extraction.places import Spot
from dictation.extraction.polarity import settle_status
from dictation.extraction.retraction import patch
from dictation.extraction.sides import EXAMINATION, Carried
from dictation.extraction.statements import Statement
from dictation.extraction.tokens import Token
from dictation.extraction.values import fits, settle_value, takes_number
from dictation.lexicon.entries import Concept, Lexicon

ROWS = {"mcp", "pip", "dip", "cmc"}
EXAMINING = frozenset("examining examine examination looking inspecting inspection moving turning starting".split())
STRESSED = {"elbow_valgus_stress_test", "elbow_varus_stress_test"}
DIGIT_OF_TENDON = {"tendon_integrity"}
DIGIT_OF_TRIGGER = {"triggering", "tendon_sheath_nodule"}
NEAR_WORDS = 14
"""How far back a side said at the end of a sentence reaches, in words; chosen by us, no source."""


@dataclass(slots=True)
class Made:
    """A field in the making. keys: the record's field keys. span: tokens it rests on; side_span: those that set a carried side."""

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

    def flag(self, code: str, level: str, message: str) -> None:
        """Add a flag; the first of its code stands unless the new one asks for a check."""
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


class Assembler:
    """Turns statements into made fields. One per dictation."""

    def __init__(self, lexicon: Lexicon, namer: Namer, tokens: Sequence[Token]) -> None:
        self.lexicon, self.namer, self.tokens = lexicon, namer, tokens
        self.carried = Carried()
        self.kinds = {c.id: c.kind for c in lexicon.concepts.values()}
        self.made: list[Made] = []
        self.lost: list[tuple[int, int, str]] = []
        self.history: list[Said] = []
        self.batch = 0
        self.subject: tuple[Spot, ...] = ()
        self.subject_line = -1
        self.again = False
        self.waiting: list[tuple[Statement, str | None]] = []
        self.last_batch = 0

    def take(self, st: Statement, part: str | None) -> None:
        """Take one statement; part: impression, plan, reported, or power where a heading or cue said so."""
        self.batch += 1
        if st.retracts in {"drop", "flip", "again"}:
            self._take_back(st)
            return
        if st.retracts == "replace" and patch(self, st, part):
            return
        if self.subject_line != st.line:
            self.subject, self.subject_line = (), st.line
        spots = st.spots()
        self._lead(st, spots)
        self._examined(st)
        if st.mode_heading:
            self.carried.mode = st.mode
        if st.copy and not (st.concepts or st.movements):
            self._copy(st, spots)
            return
        if st.general:
            self._general(st, spots)
            return
        if st.mode and not st.named and not st.predicated and not spots:
            self._mode_alone(st)
            return
        if not st.named and not st.predicated and not st.nerves and not (st.negation and spots):
            if not spots or st.unknown or self._source(st) is None:
                self._heading(st, spots)
                return
        self._state(st, spots, part)

    def mention(self, st: Statement) -> None:
        """Note what a teaching remark named, so that "but she only gets to fifty" finds its concept. Makes no field."""
        named = self.namer.name(st, st.spots(), self.tokens, part=None, joint=self._joint(st.spots()))
        if named:
            self.history.append(Said(named, st.spots(), st, list(st.statuses)))

    # --- what is carried -------------------------------------------------------------------------------------

    def _lead(self, st: Statement, spots: tuple[Spot, ...]) -> None:
        """A place before the concept is the subject of the rest of its line."""
        first = min([m.start for m in (*st.concepts, *st.movements)] + [n.start for n in st.numbers], default=st.end)
        if st.groups and st.groups[0].start < first and not st.groups[0].prep and spots:
            self.subject = st.groups[0].spots

    def _examined(self, st: Statement) -> None:
        """ "Examining the left hand, consent obtained": a side with a verb of examination heads what follows."""
        group = st.groups[0] if st.groups else None
        if group is None or not any(self.kinds[m.id] == "context" for m in st.concepts):
            return
        before = {t.text for t in self.tokens[max(0, group.start - 3) : group.start]}
        if before & EXAMINING and all(group.start < m.start for m in st.concepts):
            self._heading(st, group.spots)
            st.groups = st.groups[1:]

    def _heading(self, st: Statement, spots: tuple[Spot, ...]) -> None:
        if not spots:
            return
        self.carried.mode = None
        if self._mere_word(st, spots):
            self.carried.opposed = self.carried.opposed or self.carried.sides == ("left",)
            return
        sides = tuple(dict.fromkeys(s for spot in spots if (s := self._side(spot.side))))
        if sides:
            self.carried.set_sides(sides, (st.groups[0].start, st.groups[-1].end))
        elif any(spot.side for spot in spots):
            return
        spot = spots[0]
        first = not any(m.line == st.line for m in self.made[-8:])
        only = len(spots) in {1, len(sides)} and not st.words and not st.numbers and first
        self.carried.heading = replace(spot, side=None) if only else Spot()
        if len({s.digit for s in spots}) == 1:
            self.carried.digit = spot.digit or (self.carried.digit if not (spot.hand or spot.joint in {"wrist", "elbow"}) else None)
        if spot.joint:
            self.carried.joint = spot.joint
        elif spot.hand:
            self.carried.joint, self.carried.heading = None, Spot()

    def _mere_word(self, st: Statement, spots: tuple[Spot, ...]) -> bool:
        """ "Right," and "Right." alone are more often the word than the side; a colon makes it a heading."""
        bare = len(spots) == 1 and spots[0].given() == {"side"} and spots[0].side == "right" and not spots[0].hand
        one = st.end - st.start == 1
        return bare and one and self.tokens[st.start].stop in {",", "."}

    def _side(self, side: str | None) -> str | None:
        return self.carried.resolve(side) if side else None

    # --- one statement ---------------------------------------------------------------------------------------

    def _state(self, st: Statement, spots: tuple[Spot, ...], part: str | None) -> None:
        source: Said | None = None
        own = bool(st.concepts or st.movements)
        places = spots if own else ()
        full = self._places(st, spots, own)
        if any(m.id in STRESSED for m in st.concepts) and self.carried.digit and not any(s.digit or s.joint for s in full):
            full = tuple(replace(s, digit=self.carried.digit) for s in full or (Spot(),))
        if part is None and self.history and self.history[-1].named[0].concept.kind == "power" and self.history[-1].statement.line == st.line:
            part = "power"
        named = self.namer.name(st, full, self.tokens, part=part, joint=self._joint(spots))
        if not named and not own:
            deviation = self._deviation(st, spots)
            source = self._source(st)
            if deviation is not None:
                named = [deviation]
            elif source is not None and (pain := self._painful(st, source, spots)) is not None:
                named = [pain]
            elif source is not None:
                full = overlay(source.spots, spots)
                named = [replace(n, spots=full, sets=_without(n.sets, "status")) for n in source.named]
                named = self._narrowed(named)
        if not named:
            self._nothing(st, spots, own)
            return
        if st.same_result and self.history:
            st.statuses = self.history[-1].statuses
        made: list[Made] = []
        for index, one in enumerate(named):
            made += self._fields(st, one, index, len(named), part, source)
        self.history.append(Said(named, self._completed(full or places, made), st, list(st.statuses)))
        del self.history[:-6]
        self._keep(st, made, spots, part)

    def _completed(self, spots: tuple[Spot, ...], made: list[Made]) -> tuple[Spot, ...]:
        """The places with the digit in force that completed them, for the statement that continues this one."""
        digits = {m.keys["digit"] for m in made if m.concept.digit is None}
        if len(digits) == 1 and (digit := digits.pop()) and not any(s.digit for s in spots):
            return tuple(replace(s, digit=digit) for s in spots or (Spot(),))
        return spots

    def _keep(self, st: Statement, made: list[Made], spots: tuple[Spot, ...], part: str | None) -> None:
        looked = [m for m in st.concepts if m.observed or m.id == "range_of_motion"]
        if not made and spots and looked and len(looked) == len(st.concepts) and not st.statuses:
            self._heading(st, spots)
        if not made and st.mode in {"active", "passive"} and not st.numbers and not st.statuses:
            self.carried.mode = st.mode
            return
        tests = bool(st.concepts) and all(self.kinds[m.id] == "test" for m in st.concepts)
        if not made and tests and not st.statuses and not st.numbers:
            self.waiting.append((st, part))
            return
        if not made:
            if st.concepts or st.movements or st.numbers:
                self.lost.append((st.start, st.end, "no result was said with it"))
            return
        if self.again:
            ids = {(m.concept.id, m.keys["side"]) for m in made}
            for old in [m for m in self.made if m.batch == self.last_batch and (m.concept.id, m.keys["side"]) in ids]:
                self.made.remove(old)
                for new in made:
                    new.retraction_spans.append(old.span)
                    new.flag("self_corrected", "info", "This replaces what was said just before.")
            self.again = False
        self._share_back(st, made)
        self.made += made
        self.last_batch = self.batch
        if made[0].concept.part in EXAMINATION:
            self._carry(st, spots, made)
        if self.waiting and made[0].concept.kind == "test":
            self._settle_waiting(st)

    def _settle_waiting(self, st: Statement) -> None:
        """ "Tinel's over the carpal tunnel, Phalen's and Durkan's are negative": the result holds for the whole list."""
        waiting, self.waiting = self.waiting, []
        for early, part in waiting:
            if early.line == st.line and st.joined in {",", "and", "or"} and st.statuses:
                early.statuses, early.status_at, early.negation = list(st.statuses), list(st.status_at), st.negation
                self._state(early, early.spots(), part)
            else:
                self.lost.append((early.start, early.end, "no result was said with it"))

    def close_line(self, line: int) -> None:
        """A side said only at the end of a line ("…, all on the left") holds for the fields before it that had none."""
        for early, _ in self.waiting:
            self.lost.append((early.start, early.end, "no result was said with it"))
        self.waiting = []
        sided = EXAMINATION | {"impression"}
        here = [m for m in self.made if m.line == line and "side" in m.concept.takes and m.concept.part in sided]
        punctuated = any(t.stop for t in self.tokens[here[0].span[0] : here[-1].span[1] + 1]) if here else False
        spoken = [(m.keys["side"], m.span) for m in here if m.keys["side"] and not m.carried and not m.contrast]
        sides = list(dict.fromkeys(s for s, _ in spoken))
        self._shared_negatives(here)
        if not spoken or len(sides) != 1:
            return
        for made in here:
            if spoken[0][1][0] - made.span[1] > NEAR_WORDS:
                continue
            if made.keys["side"] is None and any(code == "side_missing" for code, _, _ in made.flags):
                made.keys["side"], made.carried, made.side_span = sides[0], True, spoken[0][1]
                made.flags = [f for f in made.flags if f[0] != "side_missing"]
                level = "info" if punctuated else "check"
                made.flag("side_carried", level, f"The side ({sides[0]}) was said later in the same sentence.")

    def _shared_negatives(self, here: list[Made]) -> None:
        """ "No triggering, no warmth and no synovitis in either hand": the side at the end holds for the whole list."""
        last = [m for m in here if m.batch == here[-1].batch] if here else []
        sides = [m.keys["side"] for m in last if not m.carried and m.keys["side"]]
        before = [m for m in here if m.batch != here[-1].batch] if here else []
        same = all(m.keys.get("status") == "absent" for m in here) if here else False
        if not sides or not before or not same or not all(m.carried or m.keys["side"] is None for m in before):
            return
        for made in before:
            at = self.made.index(made)
            self.made.remove(made)
            for side in dict.fromkeys(sides):
                new = replace(made, keys={**made.keys, "side": side}, carried=True, side_span=last[0].span)
                new.flags = [f for f in made.flags if f[0] not in {"side_missing", "side_carried"}]
                new.flag("side_carried", "info", f"The side ({side}) was said at the end of the list.")
                self.made.insert(at, new)

    def _carry(self, st: Statement, spots: tuple[Spot, ...], made: list[Made]) -> None:
        said = tuple(dict.fromkeys(s for spot in spots if (s := self._side(spot.side))))
        if said:
            self._between(st, made, said)
            before = self.carried.sides
            group = next(g for g in st.groups if g.sides_said)
            self.carried.set_sides(said, (group.start, group.end))
            same_line = [m for m in self.made if m.line == st.line and m.keys["side"] not in {None, *said}]
            self.carried.opposed = bool(same_line) and before != said and len(said) == 1
        digits = {spot.digit for spot in spots if spot.digit}
        if digits:
            self.carried.digit = digits.pop() if len(digits) == 1 else None
        elif any(spot.joint in {"wrist", "elbow", "druj"} or spot.plural for spot in spots):
            self.carried.digit = None
        joints = {m.keys["joint"] for m in made} - {None}
        if len(joints) == 1 and made[0].concept.kind in {"movement", "finding"}:
            self.carried.joint = joints.pop()

    def _share_back(self, st: Statement, made: list[Made]) -> None:
        """ "Mild swelling and moderate tenderness over the snuffbox": the place holds for both."""
        if st.joined != "and" or not st.groups or made[0].concept.kind != "finding" or len({m.keys["structure"] for m in made}) > 1:
            return
        for old in [m for m in self.made if m.batch == self.last_batch and m.line == st.line]:
            bare = old.concept.kind == "finding" and not any(old.keys.get(k) for k in ("digit", "joint", "structure"))
            if bare and old.keys.get("status") == made[0].keys.get("status") == "present" and (old.carried or old.keys["side"] is None):
                for key in ("digit", "joint", "structure"):
                    if key in old.concept.takes:
                        old.keys[key] = made[0].keys.get(key)
                if made[0].keys["side"] and not made[0].carried:
                    old.keys["side"], old.carried = made[0].keys["side"], False
                    old.flags = [f for f in old.flags if f[0] not in {"side_missing", "side_carried"}]

    def _between(self, st: Statement, made: list[Made], said: tuple[str, ...]) -> None:
        """ "… Durkan's positive on the left there is a scar …": the side may belong to what follows it."""
        group = next(g for g in st.groups if g.sides_said)
        last = group.end >= st.end and group.prep and len(said) == 1
        stopped = any(t.stop for t in self.tokens[group.start : group.end]) or group.end >= len(self.tokens) or self.tokens[group.end].pause
        if not last or stopped or not self.carried.sides or said == self.carried.sides or self.tokens[group.end].text in {"and", "but", "or"}:
            return
        previous = next((m for m in reversed(self.made[: -len(made)]) if m.concept.part in EXAMINATION), None)
        if previous is not None and previous.carried:
            for one in made:
                one.flag("side_conflict", "check", f"\"{self._words(group.start, group.end)}\" may belong to what was said next.")

    def _joint(self, spots: tuple[Spot, ...]) -> str | None:
        previous = self.history[-1] if self.history and self.history[-1].statement.line == self.subject_line else None
        for spot in (*spots, *(previous.spots if previous and not spots else ()), *self.subject):
            if spot.joint:
                return spot.joint
        return self.carried.joint

    def _places(self, st: Statement, spots: tuple[Spot, ...], own: bool) -> tuple[Spot, ...]:
        """The statement's places, completed from its line, its neighbour or the heading."""
        if st.concepts and all(self.lexicon.concepts[m.id].part not in EXAMINATION for m in st.concepts):
            return spots
        bare = all(not (spot.given() - {"side", "aspect"}) for spot in spots)
        if not bare:
            return spots
        previous = self.history[-1] if self.history and self.history[-1].statement.line == st.line else None
        base: tuple[Spot, ...] = ()
        if st.there and self.history:
            base = self.history[-1].spots
        elif self.subject and self.subject != spots:
            base = self.subject
        elif previous and own and previous.spots and st.joined in {"and", "or", "with", ",", None} and self._shares(st):
            base = previous.spots
        elif any(s.aspect for s in spots) and self.history:
            base = self.history[-1].spots
        elif self.carried.heading.given():
            base = (self.carried.heading,)
        if any(spot.hand for spot in spots):
            return spots
        return overlay(base, spots) if base else spots

    def _shares(self, st: Statement) -> bool:
        """Whether a statement without a place may take its neighbour's: "swollen and warm", "not red", not "no scars"."""
        if self.tokens[st.start].text in {"not", "non"}:
            return True
        return st.joined is not None and not (st.negation and not st.listed)

    def _source(self, st: Statement) -> Said | None:
        """The earlier statement that an elliptical one continues, if what it says fits."""
        if st.unknown:
            return None
        for said in reversed(self.history[-4:]):
            concepts = [n.concept for n in said.named]
            if st.line - said.statement.line > 1:
                return None
            if st.numbers and not st.statuses:
                if any(takes_number(c) and any(fits(c, n) for n in st.numbers) for c in concepts):
                    return said
            elif st.statuses or st.negation or st.same_result:
                result = bool(st.statuses) and set().union(*st.statuses) <= {"positive", "negative", "equivocal"}
                if result and concepts[0].kind not in {"test", "movement"}:
                    continue
                if all(c.statuses for c in concepts) and concepts[0].part not in {"impression", "plan"}:
                    return said
            elif st.severity and st.groups:
                return said if concepts[0].kind in {"finding", "impression"} else None
            elif st.mode or st.groups:
                listed = st.joined == "," and concepts[0].kind == "finding" and not said.statement.negation
                more = st.joined in {"and", "or"} or (listed and st.line == said.statement.line and st.spots()[0].given() - {"side"})
                kept = concepts[0].kind not in {"impression", "plan", "context", "reported"}
                return said if st.mode is None and st.groups and more and kept else None
        return None

    def _painful(self, st: Statement, source: Said, spots: tuple[Spot, ...]) -> Named | None:
        """ "full but painful": pain on the movement spoken of."""
        concept = source.named[0].concept
        if concept.kind != "movement" or not st.statuses or set().union(*st.statuses) != {"positive"}:
            return None
        return Named(self.lexicon.concepts["pain_on_movement"], _at_joint(overlay(source.spots, spots), concept), {"status": "present"})

    def _narrowed(self, named: list[Named]) -> list[Named]:
        """Concepts of an elliptical statement, narrowed where the new place has a concept of its own."""
        out: list[Named] = []
        for one in named:
            generic = one.concept.counts_for if any(s.structure and one.concept.structure not in {None, s.structure} for s in one.spots) else None
            sensation = one.concept.kind == "sensation" and any(s.structure for s in one.spots) and "structure" not in one.concept.takes
            concept = self.lexicon.concepts["gross_sensation"] if sensation else self.lexicon.concepts[generic] if generic else one.concept
            out += [replace(n, sets=one.sets, observed=one.observed) for n in self.namer.narrow(concept, one.spots)]
        return out

    def _mode_alone(self, st: Statement) -> None:
        """ "…, both actively" belongs to the numbers before it; "Active:" and "Passive now." head what follows."""
        before = [m for m in self.made if m.line == st.line and "mode" in m.concept.takes and m.keys.get("mode") is None]
        if before and not st.mode_heading:
            for made in before:
                made.keys["mode"] = st.mode if st.mode != "both" else None
        else:
            self.carried.mode = st.mode

    def _deviation(self, st: Statement, spots: tuple[Spot, ...]) -> Named | None:
        """ "radial fifteen, ulnar thirty" after wrist movements are deviations."""
        if not (st.numbers and spots and all(s.aspect in {"radial", "ulnar"} and not s.joint and not s.digit for s in spots)):
            return None
        last = self.history[-1].named[0].concept if self.history else None
        if last is None or last.joint != "wrist" or last.kind != "movement":
            return None
        concept = self.lexicon.concepts[f"wrist_{spots[0].aspect}_deviation"]
        return Named(concept, tuple(replace(s, aspect=None) for s in spots))

    def _nothing(self, st: Statement, spots: tuple[Spot, ...], own: bool) -> None:
        if not own and spots and not st.statuses and not st.negation:
            self._heading(st, spots)
            if not st.numbers:
                return
        said = set().union(*st.statuses) if st.statuses else set()
        ends = st.end >= len(self.tokens) or bool(self.tokens[st.end - 1].stop) or self.tokens[st.end].pause
        if not own and "normal" in said and spots and not st.numbers and ends and any(s.hand or s.side for s in spots):
            self._general(st, spots)
            return
        if own or st.numbers or spots:
            self.lost.append((st.start, st.end, "what this is about was not clear"))

    def _fields(
        self, st: Statement, one: Named, index: int, of: int, part: str | None, source: Said | None
    ) -> list[Made]:
        concept = one.concept
        if part == "impression" and concept.kind in {"movement", "function", "power", "strength"}:
            self.lost.append((st.start, st.end, "named in the impression, not as a finding"))
            return []
        if part == "reported" and concept.part in EXAMINATION:
            self.lost.append((st.start, st.end, "a symptom reported, not a finding of this examination"))
            return []
        spots = one.spots or self._default_spots(st)
        readings = [n for n in st.numbers if fits(concept, n)]
        other = [n for n in st.numbers if n not in readings]
        joints = {s.joint for s in spots if s.joint} or ({concept.joint} if concept.joint else set())
        verdict = settle_status(
            concept, _telling(st, concept, one), negated=st.negation is not None, after=st.negation_after, double=st.double_negation,
            form_status=one.sets.get("status"), observed=one.observed, valued=bool(readings) or st.neutral,
        )  # fmt: skip
        if concept.id == "range_of_motion" and verdict.status == "normal" and joints and not readings:
            if st.short_of:
                verdict = replace(verdict, status="reduced")
            expand = self.namer.expands
            if all(j in expand for j in joints):
                return [
                    made
                    for joint in sorted(joints)
                    for name in expand[joint]
                    for made in self._fields(
                        st, Named(self.lexicon.concepts[name], tuple(s for s in spots if s.joint == joint) or spots, {"status": "normal"}, expanded="full range"),
                        0, 1, part, source,
                    )
                ]  # fmt: skip
        out: list[Made] = []
        if concept.kind == "movement" and st.statuses and "positive" in set().union(*st.statuses):
            stretch = concept.id == "composite_extension" and st.mode == "passive" and any(s.digit for s in spots)
            what = "pain_on_passive_extension" if stretch else "pain_on_movement"
            pain = Named(self.lexicon.concepts[what], _at_joint(spots, concept), {"status": "present"})
            pained = replace(st, statuses=[], status_at=[], numbers=[])
            out += self._fields(pained, pain, 0, 1, part, source)
            if verdict.status in {"reduced", "altered"} and not readings:
                return out
        if verdict.status is None and concept.kind == "test" and st.joined == "with" and self.made and self.made[-1].keys.get("status") == "positive":
            verdict = replace(verdict, status="positive")
        pairs = self._assign(concept, spots, readings, index, of, st)
        mode_said = one.sets.get("mode") or st.mode or (self.carried.mode if readings and concept.unit == "deg" else None)
        modes = ["active", "passive"] if mode_said == "both" else [mode_said]
        for spot, reading, trial in pairs:
            for mode in modes:
                made = self._one(st, one, concept, spot, reading, trial, mode, verdict.status, verdict.unclear, part)
                if made is not None:
                    out.append(made)
        for made in out:
            for number in other:
                self._qualify(made, number)
        return out

    def _default_spots(self, st: Statement) -> tuple[Spot, ...]:
        return st.spots() or (Spot(),)

    def _assign(
        self, concept: Concept, spots: tuple[Spot, ...], readings: list[Reading], index: int, of: int, st: Statement
    ) -> list[tuple[Spot, Reading | None, int | str | None]]:
        """Which number goes with which place."""
        if not readings:
            return [(spot, None, None) for spot in spots]
        if of > 1 and len(st.numbers) == of:
            return [(spot, st.numbers[index], None) for spot in spots]
        if len(spots) > 1 and len(readings) == len(spots):
            return [(spot, reading, None) for spot, reading in zip(spots, readings, strict=True)]
        if concept.kind == "strength" and st.mean:
            return [(spot, readings[0], "mean") for spot in spots]
        if concept.kind == "strength" and len(readings) > 1:
            return [(spot, r, n) for spot in spots for n, r in enumerate(readings, start=1)]
        return [(spot, readings[0], None) for spot in spots]

    def _one(
        self, st: Statement, one: Named, concept: Concept, spot: Spot, reading: Reading | None, trial: int | str | None,
        mode: str | None, status: str | None, unclear: str | None, part: str | None,
    ) -> Made | None:  # fmt: skip
        keys = self._place_keys(concept, spot, one, st)
        made = Made(concept, keys, (st.start, st.end), self.batch, st.line, contrast=st.contrast)
        if reading is not None:
            said = self._words(reading.start, reading.end)
            in_force = self.carried.unit if self.carried.unit_concept == concept.id else None
            valued = settle_value(concept, reading, said, short_of=st.short_of, beyond=st.beyond, unit_in_force=in_force)
            keys |= valued.keys
            made.flags += valued.flags
            if reading.unit:
                self.carried.unit, self.carried.unit_concept = reading.unit, concept.id
            if len([n for n in st.numbers if fits(concept, n)]) > 1 and trial is None and not (one.spots and len(one.spots) > 1):
                if not (st.numbers and len(st.numbers) == len(st.concepts) + len(st.movements)):
                    made.flag("number_unclear", "check", "More than one number was said here; the first is taken.")
            if concept.kind not in {"finding"}:
                status = "not_assessed" if status == "not_assessed" else None
        elif st.neutral and concept.kind == "movement" and "value" in concept.takes and not st.statuses:
            keys |= {"value": 0.0, "unit": concept.unit}
            status = None
        if trial is not None:
            keys["trial"] = trial
        keys["status"] = status if concept.statuses else None
        if status is None and keys.get("value") is None and keys.get("low") is None and concept.statuses:
            return None
        if not concept.statuses and takes_number(concept) and keys.get("value") is None and keys.get("low") is None:
            return None
        if "severity" in concept.takes and status not in {"absent", "not_assessed"}:
            keys["severity"] = one.sets.get("severity") or st.severity
        if "mode" in concept.takes:
            keys["mode"] = mode
        keys["certainty"] = one.sets.get("certainty") or (st.certainty if concept.part == "impression" else None)
        if one.sets.get("qualifier") and "qualifier" not in keys:
            keys["qualifier"] = one.sets["qualifier"]
        if st.position:
            keys["position"] = st.position
        self._doubts(made, st, one, unclear)
        self._settle_side(made, spot, one, part)
        return made

    def _doubts(self, made: Made, st: Statement, one: Named, unclear: str | None) -> None:
        concept = made.concept
        if unclear:
            made.flag("negation_unclear", "check", f"Check present or absent: {unclear}.")
        if one.expanded:
            made.flag("expanded", "info", f"Stands for a collective phrase ({one.expanded}).")
        if concept.id in self.namer.both_ways and set().union(*st.statuses, set()) & {"positive", "negative"}:
            words = set().union(*st.statuses, set())
            if not words & {"normal", "reduced", "absent"} and "status" not in one.sets:
                made.flag("result_unclear", "check", f"\"Positive\" and \"negative\" are used both ways for {concept.preferred}.")
        if st.addressed:
            made.flag("speaker_unclear", "check", "The words speak to the patient, or may be another person's.")
        if st.retracts == "replace":
            made.flag("self_corrected", "info", "The speaker corrected this.")

    def _place_keys(self, concept: Concept, spot: Spot, one: Named, st: Statement) -> dict[str, Any]:
        keys: dict[str, Any] = {"side": None}
        site = self._site(concept, spot)
        if one.sets.get("structure") and len(st.concepts) > 1:
            spot = Spot(side=spot.side, aspect=spot.aspect)
        for key in ("digit", "joint", "structure", "aspect"):
            fixed = getattr(concept, key, None)
            value = one.sets.get(key) or (site if key == "structure" and site else getattr(spot, key))
            keys[key] = fixed or (value if key in concept.takes else None)
        if "joint" in concept.takes and keys["joint"] is None and one.sets.get("joint"):
            keys["joint"] = one.sets["joint"]
        if keys["structure"] and concept.structure is None and keys["joint"] and concept.joint is None and spot.structure:
            keys["joint"] = None
        pronoun = replace(spot, finger=spot.finger or bool(st.words and st.words[0] in {"it", "its"}))
        self.complete_digit(concept, pronoun, keys, negated=st.negation is not None)
        if keys["structure"] == "collateral_ligament" and keys["digit"] == "thumb" and keys["aspect"] in {"radial", "ulnar"}:
            keys["structure"] = f"thumb_{keys['aspect']}_collateral_ligament"
        return keys

    def _site(self, concept: Concept, spot: Spot) -> str | None:
        if concept.id not in {"tinel_test", "scratch_collapse_test"}:
            return None
        table = {form: site for site, forms in self.lexicon.language.get("site", {}).items() for form in forms}
        if spot.structure and spot.joint:
            return table.get(f"{spot.structure} {spot.joint}", spot.structure)
        return spot.structure or table.get(spot.joint or "")

    def complete_digit(self, concept: Concept, spot: Spot, keys: dict[str, Any], *, negated: bool = False) -> None:
        """Fill in the digit in force where the joint, structure or concept needs one and none was said."""
        if keys["digit"] or "digit" not in concept.takes or spot.plural or spot.hand:
            return
        if keys["joint"] in self.lexicon.joints and (digits := self.lexicon.joints[keys["joint"]].digits) and len(digits) == 1:
            keys["digit"] = digits[0]
            return
        structure = self.lexicon.structures.get(keys["structure"] or "")
        needs = (spot.finger or keys["joint"] in ROWS or (structure is not None and structure.region == "digit")
                 or concept.id in DIGIT_OF_TENDON or (concept.id in DIGIT_OF_TRIGGER and not negated))  # fmt: skip
        if needs and self.carried.digit and not (structure and structure.id.startswith("thumb")):
            keys["digit"] = self.carried.digit

    def _settle_side(self, made: Made, spot: Spot, one: Named, part: str | None) -> None:
        concept, keys = made.concept, made.keys
        if "side" not in concept.takes:
            return
        if one.sets.get("side"):
            keys["side"] = one.sets["side"]
            return
        side = self._side(spot.side)
        if side:
            keys["side"] = side
            if spot.side in {"other", "same"}:
                made.flag("side_carried", "check", "\"Other side\" or \"this side\" is read from the side spoken before.")
            return
        if concept.id == "hand_dominance":
            return
        carried = self.carried
        if concept.part in EXAMINATION or concept.part == "impression":
            if carried.sides:
                keys["side"] = carried.sides[0]
                made.carried, made.side_span = True, carried.said
                fresh = carried.fresh(made.span[0]) and concept.part != "impression"
                made.flag("side_carried", "info" if fresh else "check", f"The side ({keys['side']}) was said earlier, not here.")
                return
            made.flag("side_missing", "check", "No side was said and none is in force.")
        else:
            made.flag("side_missing", "check", "No side was said here.")

    def _qualify(self, made: Made, number: Reading) -> None:
        """A number that is no value of this concept is kept in words: a time to onset, the size of a scar."""
        if "qualifier" not in made.concept.takes or number.unit is None:
            return
        start = number.start
        while start > 0 and self.tokens[start - 1].text in {"at", "in", "after", "within", "about", "around"} and not self.tokens[start - 1].stop:
            start -= 1
        words = self._words(start, number.end)
        made.keys["qualifier"] = made.keys.get("qualifier") or words

    def _words(self, start: int, end: int) -> str:
        return " ".join(t.text for t in self.tokens[start:end])

    # --- whole statements of other kinds ---------------------------------------------------------------------

    def _general(self, st: Statement, spots: tuple[Spot, ...]) -> None:
        concept = self.lexicon.concepts["normal_examination"]
        sides = [s for spot in spots if (s := self._side(spot.side))] or [None]
        for side in dict.fromkeys(sides):
            made = Made(concept, {"side": side, "status": "present"}, (st.start, st.end), self.batch, st.line)
            if side is None:
                self._settle_side(made, Spot(), Named(concept, ()), None)
            self.made.append(made)
        said = tuple(s for s in dict.fromkeys(sides) if s)
        if said:
            self.carried.set_sides(said, (st.start, st.end))

    def _copy(self, st: Statement, spots: tuple[Spot, ...]) -> None:
        """ "Same on the left": the findings just made on the other side, without numbers, each to be checked."""
        targets = [s for spot in spots if (s := self._side(spot.side))]
        never = set(self.lexicon.language.get("never_copied", {}).get("concept", ()))
        if len(targets) != 1 or not self.made:
            self.lost.append((st.start, st.end, "\"same\" without a clear side to copy from"))
            return
        target = targets[0]
        source: list[Made] = []
        part = self.made[-1].concept.part
        for made in reversed(self.made):
            if made.concept.part != part or made.keys["side"] in {None, target} or made.concept.part not in EXAMINATION:
                break
            source.append(made)
        for made in reversed(source):
            numeric = made.keys.get("value") is not None or made.keys.get("low") is not None
            if numeric or made.concept.id in never:
                continue
            copy = Made(made.concept, {**made.keys, "side": target}, made.span, self.batch, st.line)
            copy.more_spans.append((st.start, st.end))
            copy.flag("copied_side", "check", f"Copied from the other side by \"{self._words(st.start, st.end)}\".")
            self.made.append(copy)
        self.last_batch = self.batch
        self.carried.set_sides((target,), (st.start, st.end))

    def _take_back(self, st: Statement) -> None:
        last = [m for m in self.made if m.batch == self.last_batch]
        if st.retracts == "again":
            self.again = True
        elif st.retracts == "flip":
            for made in last:
                if made.keys.get("status") in {"present", "positive", "normal"}:
                    made.keys["status"] = {"present": "absent", "positive": "negative", "normal": "reduced"}[made.keys["status"]]
                    made.retraction_spans.append((st.start, st.end))
                    made.flag("self_corrected", "check", "The speaker took this back.")
        else:
            lines = {m.line for m in last}
            for made in [m for m in self.made if m.batch == self.last_batch or (m.line in lines and m.line != st.line)]:
                self.made.remove(made)
                self.lost.append((*made.span, "taken back by the speaker"))


def _telling(st: Statement, concept: Concept, one: Named) -> list[frozenset[str]]:
    """The words of status that speak of this concept: "complete wrist drop" is no normal wrist drop."""
    if concept.kind not in {"finding", "impression", "plan", "context"} or one.observed or not st.concepts:
        return st.statuses
    start = min(m.start for m in st.concepts)
    return [s for i, s in enumerate(st.statuses) if i >= len(st.status_at) or st.status_at[i] > start or "normal" not in s]


def _at_joint(spots: tuple[Spot, ...], concept: Concept) -> tuple[Spot, ...]:
    return tuple(replace(s, joint=s.joint or concept.joint, digit=s.digit or concept.digit) for s in spots or (Spot(),))


def _without(sets: Any, key: str) -> dict[str, str]:
    return {k: v for k, v in sets.items() if k != key}


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
            if new.joint in {"wrist", "elbow", "druj"} and "digit" not in given:
                old = replace(old, digit=None)
            if "digit" in given and "joint" not in given and old.joint in {"wrist", "elbow", "druj"}:
                old = replace(old, joint=None)
            if new.hand:
                old = Spot(side=old.side)
            merged = {k: getattr(new, k) if getattr(new, k) is not None else getattr(old, k) for k in ("side", "digit", "joint", "structure", "aspect")}
            out.append(Spot(**merged, plural=new.plural or (old.plural and not given & {"joint", "digit"}), hand=new.hand))
    return tuple(dict.fromkeys(out))


__all__ = ["SENSATION", "Assembler", "Made", "Said"]
