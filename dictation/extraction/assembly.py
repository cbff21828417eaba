"""Fields from statements, in the order spoken.

What goes in: the statements of each line. What comes out: made fields with the tokens they rest on and the doubts met on
the way, and the stretches that named something clinical and became none. What is carried, elliptical statements, place
keys and the end of a line have files of their own.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import islice, takewhile

from dictation.extraction.concepts import Named
from dictation.extraction.line_end import LineEnd
from dictation.extraction.made import Made, Said, continued, overlay
from dictation.extraction.matching import Mention
from dictation.extraction.places import PlaceGroup, Spot
from dictation.extraction.polarity import OPPOSITE
from dictation.extraction.reasons import Fate, Outcome, Reason, Rule
from dictation.extraction.retraction import patch
from dictation.extraction.sides import EXAMINATION
from dictation.extraction.statement import Statement

LONG_RUN = 14
"""Of a longer run, "same on the left" copies only the part of the examination it was said in; chosen by us, no source."""
SPOKEN_OF = {"scar", "wound"}
"""Named once and then spoken of: "the scar is not tender" is no second scar."""
DUPUYTREN = {"dupuytren_cord", "dupuytren_pit", "dupuytren_nodule", "dupuytren_disease", "garrod_pads"}
STRESSED = {"elbow_valgus_stress_test", "elbow_varus_stress_test"}
UNNAMED = frozenset({"the", "her", "his", "their", "right", "left", "both", "and"})
"""Words of a place that say nothing of which part it is."""


class Assembler(LineEnd):
    """Turns statements into made fields. One per dictation."""

    def take(self, st: Statement, part: str | None) -> None:
        """Take one statement; part: impression, plan, reported, or power where a heading or cue said so."""
        self.batch += 1
        if st.retracts in {"drop", "flip", "again"}:
            self._take_back(st)
            return
        if st.retracts == "replace" and self._unread_before(st):
            self.lost.append((st.start, st.end, "it corrects words of which no field was made"))
            return
        if st.retracts == "replace" and patch(self, st, part):
            self._became(Fate.CORRECTION, st)
            return
        if self.subject_line != st.line:
            self.subject, self.subject_line = (), st.line
        spots = st.spots()
        self._lead(st, spots)
        self._examined(st)
        if st.compared and st.numbers and not st.groups and len(self.carried.sides) == 1:
            st.groups = [PlaceGroup((Spot(side="other"),), 0, 0, st.start, st.start, False, frozenset({"other"}))]
        spots = st.spots()
        if part == "impression" and (group := next((g for g in st.groups if len(g.sides_said) == 1), None)) is not None:
            self.concluded = st.line, self._side(next(iter(group.sides_said))), (group.start, group.end)
        if st.mode_heading:
            said = st.role("mode")
            alone = said is not None and bool(self.tokens[said[1] - 1].stop)  # and not "passive range of the ring PIP"
            self.carried.set_mode(st.mode, () if alone else spots, headed=said is None or self._marked_off(said[1]))
        if st.copy and not (st.concepts or st.movements):
            self._copy(st, spots)
            return
        if st.general:
            self._general(st, spots)
            return
        if st.mode and not st.named and not st.predicated and not spots:
            self._mode_alone(st)
            return
        if st.compared and spots and not (st.named or st.predicated):
            self._became(Fate.SUBJECT, st)
            return
        says = st.named or st.predicated or st.nerves or (st.negation and spots)
        if not says and (not spots or st.unknown or self._source(st) is None):
            self._heading(st, spots)
            return
        self._state(st, spots, part)

    def _unread_before(self, st: Statement) -> bool:
        """Whether what stands right before a correction made no field: it must not reach back to an earlier sentence."""
        last = self.last_made()
        if st.concepts or st.movements or not last or last[0].line == st.line:
            return False
        end = max(m.span[1] for m in last)
        told = [o.span for o in self.outcomes[-3:] if o.fate is Fate.HEADING] + [(a, b) for a, b, _ in self.lost[-3:]]
        between = [b for a, b in told if end <= a and b <= st.start]
        return bool(between) and not any(t.stop and t.stop in ".?!;" for t in self.tokens[max(between) - 1 : st.start])

    def mention(self, st: Statement) -> None:
        """Note what a teaching remark named, so that "but she only gets to fifty" finds its concept. Makes no field."""
        named = self.namer.name(st, st.spots(), self.tokens, part=None, joint=self._joint(st.spots()))
        if named:
            self.history.append(Said(named, st.spots(), st, list(st.statuses)))

    def _state(self, st: Statement, spots: tuple[Spot, ...], part: str | None) -> None:
        source: Said | None = None
        st.concepts = [self._in_company(m) for m in st.concepts]
        if self.history and self.history[-1].statement.line == st.line and not any(s.given() - {"side"} for s in spots):
            slips = {f"joint_subluxation {s.structure}" for s in self.history[-1].spots} & set(self.namer.narrower)
            st.there = st.there or (bool(slips) and any(m.id == "joint_subluxation" for m in st.concepts))
        own = bool(st.concepts or st.movements)
        places = spots if own else ()
        full = tuple(self._of_the_thumb(spot) for spot in self._places(st, spots, own))
        spots = tuple(self._of_the_thumb(spot) for spot in spots)
        if any(m.id in STRESSED for m in st.concepts) and self.carried.digit and not any(s.digit or s.joint for s in full):
            full = tuple(replace(s, digit=self.carried.digit) for s in full or (Spot(),))
        if (
            part is None
            and self.history
            and self.history[-1].named[0].concept.kind == "power"
            and self.history[-1].statement.line == st.line
        ):
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
                earlier = (source.statement.start, source.statement.end)
                st.place_from = Reason(Rule.PLACE_OF_NEIGHBOUR, earlier)
                continues = (Reason(Rule.CONTINUES, earlier),)
                kept = st.same_result and not st.statuses
                st.short_of = st.short_of or (self._lacks_on(st, source))
                named = [
                    replace(n, spots=full, sets=continued(n.sets, spots, kept=kept), why=continues)
                    for n in self._taken_up(st, source)
                ]
                named = self._narrowed(named, spots, source)
                self._turn_round(st, source)
            else:
                named = self.namer.sensed(st, spots)
        if not named:
            self._nothing(st, spots, own)
            return
        if st.same_result and self.history:
            st.statuses, before = self.history[-1].statuses, self.history[-1].statement
            st.negation, st.negation_at = st.negation or before.negation, st.negation_at or before.negation_at
            st.result_from = Reason(Rule.RESULT_AS_BEFORE, (before.start, before.end))
        if self._refers_back(st, named, spots):
            return
        made: list[Made] = []
        for index, one in enumerate(named):
            new = self._fields(st, one, index, len(named), part, source)
            made += [m for m in new if not any(m.concept is old.concept and m.keys == old.keys for old in made)]
        self.history.append(Said(named, self._completed(full or places, made), st, list(st.statuses)))
        self.unnamed = ()
        del self.history[:-6]
        self._keep(st, made, spots, part)

    def _refers_back(self, st: Statement, named: list[Named], spots: tuple[Spot, ...]) -> bool:
        """ "…, jersey finger" restates the impression of its line; "the scar is not tender" speaks of the scar just named.

        So does "in a plaster backslab": two names of one thing.
        """
        concept = named[0].concept
        plain = len(named) == 1 and not (spots or st.negation or st.statuses or st.numbers or st.severity or st.certainty)
        restates = concept.kind in {"impression", "context"} and "value" not in concept.takes
        if not plain or not (restates or concept.id in SPOKEN_OF):
            return False
        side = self.carried.sides[0] if self.carried.sides else None
        near = self._on_line(st.line) if restates else self.made[-8:]
        twin = next((m for m in reversed(near) if m.concept is concept and m.keys.get("status") == "present"), None)
        if twin is None or (concept.id in SPOKEN_OF and twin.keys.get("side") != side):
            return False
        twin.more_spans.append((st.start, st.end))
        said = next((h for h in reversed(self.history) if any(n.concept is concept for n in h.named)), None)
        self.history.append(Said(named, said.spots if said else (), st, []))
        return True

    def _in_company(self, m: Mention) -> Mention:
        """ "A cord to the ring finger, a nodule over the little": a nodule named among Dupuytren's signs is one of them."""
        among = any(made.concept.id in DUPUYTREN and made.keys.get("status") == "present" for made in self.made[-6:])
        return replace(m, id="dupuytren_nodule") if m.id == "lump" and "nodule" in m.form and among else m

    def _of_the_thumb(self, spot: Spot) -> Spot:
        """ "Radial collateral stable", while the thumb is spoken of: the thumb has ligaments of its own."""
        collateral = spot.structure == "collateral_ligament" and spot.aspect in {"radial", "ulnar"}
        if not collateral or (spot.digit or self.carried.digit) != "thumb":
            return spot
        return replace(spot, digit="thumb", structure=f"thumb_{spot.aspect}_collateral_ligament", aspect=None)

    def _lacks_on(self, st: Statement, source: Said) -> bool:
        """ "Lacks ten degrees of extension actively, five passively": the second number, too, is short of straight."""
        before = source.statement
        return bool(st.numbers) and before.short_of and before.line == st.line and not st.beyond

    def _taken_up(self, st: Statement, source: Said) -> list[Named]:
        """What an elliptical statement is about: its source's concepts, or those of the last "all three" things said."""
        if len(st.numbers) > 1 and len(source.named) == 1 and len(st.spots()) < 2:
            return self._paired(st, source)
        if st.all_of <= len(source.named):
            return source.named
        recent = [n for said in self.history for n in said.named if n.concept.kind == source.named[0].concept.kind]
        unlike = list({n.concept.id: n for n in recent}.values())[-st.all_of :]
        return unlike if len(unlike) == st.all_of else source.named

    def _paired(self, st: Statement, source: Said) -> list[Named]:
        """ "Pronation 85, supination 70; left 85 and 90": as many numbers as things just measured belong to them in turn."""
        n, concept = len(st.numbers), source.named[0].concept
        near = [s.named[0] for s in self.history[-n:] if len(s.named) == 1 and len(s.statement.numbers) == 1]
        unlike = {one.concept.id for one in near}
        same = all(one.concept.kind == concept.kind and one.concept.unit == concept.unit for one in near)
        return near if concept.kind != "strength" and len(near) == n == len(unlike) and same else source.named

    def _turn_round(self, st: Statement, source: Said) -> None:
        """ "no swelling except at the index": the exception is told the other way round, and asks to be checked."""
        if not st.excepted or st.statuses or st.negation:
            return
        kept = next((m.keys.get("status") for m in reversed(self.made) if m.concept is source.named[0].concept), None)
        if kept in OPPOSITE:
            st.statuses, st.status_at, st.turned = [frozenset({OPPOSITE[kept]})], [st.end], True

    def _keep(self, st: Statement, made: list[Made], spots: tuple[Spot, ...], part: str | None) -> None:
        looked = [m for m in st.concepts if m.observed or m.id == "range_of_motion"]
        if not made and spots and looked and len(looked) == len(st.concepts) and not st.statuses:
            self._heading(st, spots)
        mode = st.mode or next((m.sets["mode"] for m in looked if "mode" in m.sets), None)
        if not made and mode in {"active", "passive"} and not st.numbers and not st.statuses:
            self.carried.set_mode(mode, spots)
            self._became(Fate.MODE, st, mode)
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
            for old in [m for m in self.last_made() if (m.concept.id, m.keys["side"]) in ids]:
                self.drop(old)
                for new in made:
                    new.retraction_spans.append(old.span)
                    new.flag("self_corrected", "info", '"{said}" replaces "{back}", said just before.')
                    new.because(Rule.REPLACES, old.span)
            self.again = False
        self._either_way(st, made)
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
                early.negation_at = st.negation_at
                early.result_from = Reason(Rule.RESULT_AS_BEFORE, (st.start, st.end))
                self._state(early, early.spots(), part)
            else:
                self.lost.append((early.start, early.end, "no result was said with it"))

    def _nothing(self, st: Statement, spots: tuple[Spot, ...], own: bool) -> None:
        if not own and spots and not st.statuses and not st.negation:
            self._heading(st, spots)
            if not (st.numbers or (st.neutral and any(s.joint for s in spots))):
                return
        group = st.groups[0] if st.groups else None
        if group is not None and group.start == st.start and self.tokens[group.end - 1].stop == ":" and not st.numbers:
            self._heading(st, group.spots)  # "Left thumb: no …": what is denied is not known, where it is is
        self.unnamed = spots
        said = set().union(*st.statuses) if st.statuses else set()
        ends = st.end >= len(self.tokens) or bool(self.tokens[st.end - 1].stop) or self.tokens[st.end].pause
        region = any(s.hand or s.side for s in spots) and not any(s.structure for s in spots)
        if not own and "normal" in said and region and not st.numbers and not st.unknown and ends:
            self._general(st, spots)
            return
        if own and spots and all(s.side for s in spots) and not st.statuses and not st.negation and not st.numbers:
            self._heading(st, spots)
        if own or st.numbers or spots or st.role("power"):
            self.lost.append((st.start, st.end, "what this is about was not clear"))

    def _general(self, st: Statement, spots: tuple[Spot, ...]) -> None:
        concept = self.lexicon.concepts["normal_examination"]
        sides: list[str | None] = [s for spot in spots if (s := self._side(spot.side))] or [None]
        for side in dict.fromkeys(sides):
            keys = {"side": side, "status": "present", "qualifier": self._part_named(st, spots)}
            made = Made(concept, keys, (st.start, st.end), self.batch, st.line)
            made.because(Rule.GENERAL, made.span)
            if side is None:
                self._settle_side(made, Spot(), Named(concept, ()), None, st)
            else:
                made.because(Rule.SIDE_SAID, made.span, side)
            self.made.append(made)
        self.last_batch = self.batch
        said = tuple(s for s in dict.fromkeys(sides) if s)
        if said and not st.compared:
            before = self.carried.sides
            self.carried.set_sides(said, (st.start, st.end))
            self.carried.opposed = bool(before) and before != said

    def _part_named(self, st: Statement, spots: tuple[Spot, ...]) -> str | None:
        """What of the hand was called normal, where it was not all of it: "left wrist" is "wrist"."""
        if not any(spot.joint or spot.digit for spot in spots):
            return None
        words = [t.text for g in st.groups for t in self.tokens[g.start : g.end]]
        return " ".join(word for word in words if word not in UNNAMED) or None

    def _copy(self, st: Statement, spots: tuple[Spot, ...]) -> None:
        """ "Same on the left": the findings just made on the other side, without numbers, each to be checked."""
        targets = [s for spot in spots if (s := self._side(spot.side))]
        if st.negation:
            self.made = [m for m in self.made if m.batch != self.last_batch or not any(f[0] == "copied_side" for f in m.flags)]
            self.lost.append((st.start, st.end, "said not to be the same"))
            return
        never = set(self.lexicon.language.get("never_copied", {}).get("concept", ()))
        if len(targets) != 1 or not self.made:
            self.lost.append((st.start, st.end, '"same" without a clear side to copy from'))
            return
        target = targets[0]
        source: list[Made] = []
        for made in islice(reversed(self.made), len(self.made) - self.since):
            if made.keys["side"] in {None, target} or made.concept.part not in EXAMINATION:
                break
            source.append(made)
        if len(source) > LONG_RUN:
            source = [made for made in source if made.concept.part == source[0].concept.part]
        for made in reversed(source):
            numeric = made.keys.get("value") is not None or made.keys.get("low") is not None
            if numeric or made.concept.id in never:
                continue
            copy = Made(made.concept, {**made.keys, "side": target}, made.span, self.batch, st.line, why=list(made.why))
            copy.because(Rule.COPIED, (st.start, st.end))
            copy.instead("side", Rule.SIDE_SAID, (st.start, st.end), target)
            copy.more_spans.append((st.start, st.end))
            copy.flag("copied_side", "check", f'Copied from the other side by "{self._words(st.start, st.end)}".')
            self.made.append(copy)
        if not self.made or self.made[-1].batch != self.batch:
            self.lost.append((st.start, st.end, "numbers, scars, wounds and operations are not copied"))
        self.last_batch = self.batch
        self.carried.set_sides((target,), (st.start, st.end))

    def _take_back(self, st: Statement) -> None:
        last = self.last_made()
        self._became(Fate.CORRECTION, st)
        if st.retracts == "again":
            self.again = True
        elif st.retracts == "flip":
            for made in last:
                if made.keys.get("status") in {"present", "positive", "normal"}:
                    made.keys["status"] = {"present": "absent", "positive": "negative", "normal": "reduced"}[
                        made.keys["status"]
                    ]
                    made.retraction_spans.append((st.start, st.end))
                    made.flag("self_corrected", "check", '"{back}" takes back "{said}".')
                    made.because(Rule.TURNED_ROUND, (st.start, st.end))
        else:
            said = [m for m in last if not self._unpunctuated(m.span[1], st.start)]
            lines = {m.line for m in said}
            near = takewhile(lambda m: m.line >= min(lines), reversed(self.made)) if lines else ()
            whole = [m for m in near if m.line in lines and m.line != st.line and m.batch != self.last_batch]
            for made in [*reversed(whole), *last]:
                self.drop(made)
                self.outcomes.append(Outcome(Fate.TAKEN_BACK, made.span))
