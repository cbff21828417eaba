"""Fields of one statement: concept by concept, place by place, with the number that goes with each."""

from __future__ import annotations

from dataclasses import replace

from dictation.extraction.concepts import Named
from dictation.extraction.made import Made, Said, at_joint, telling, with_this_joint
from dictation.extraction.numbers import Reading
from dictation.extraction.places import FINGERS, PlaceGroup, Spot
from dictation.extraction.polarity import settle_status
from dictation.extraction.reasons import Reason, Rule
from dictation.extraction.sides import EXAMINATION
from dictation.extraction.sites import ROWS, Sites
from dictation.extraction.statement import Statement
from dictation.extraction.values import LOSSES, fits, gap, settle_value, takes_number
from dictation.lexicon.entries import Concept

HEALED = {"scar", "wound", "previous_injury", "previous_surgery"}
"""What may have an age of its own: "scar, two years old"."""
THUMB_NEAR = 12
"""Words around "all fingers" in which a thumb that is spoken of leaves no doubt; chosen by us, no source."""


class Fields(Sites):
    """Makes the fields of a statement whose concepts are known."""

    def _fields(self, st: Statement, one: Named, index: int, of: int, part: str | None, source: Said | None) -> list[Made]:
        concept = one.concept
        if part == "impression" and concept.kind in {"movement", "function", "power", "strength"}:
            self.lost.append((st.start, st.end, "named in the impression, not as a finding"))
            return []
        if part == "plan" and st.planned and concept.part in EXAMINATION and concept.kind == "finding":
            self.lost.append((st.start, st.end, "named in the plan, not as a finding"))
            return []
        if part == "reported" and concept.part in EXAMINATION:
            self.lost.append((st.start, st.end, "a symptom reported, not a finding of this examination"))
            return []
        spots = one.spots or self._default_spots(st)
        if not any(t.text == "thumb" for g in st.groups for t in self.tokens[g.start : g.end]):
            spots = with_this_joint(spots, concept)  # a thumb said by name stays, to be doubted
        readings = [n for n in st.numbers if fits(concept, n)]
        other = [n for n in st.numbers if n not in readings]
        joints = {s.joint for s in spots if s.joint} or ({concept.joint} if concept.joint else set())
        verdict = settle_status(
            concept, telling(st, concept, one),
            negated=st.negation is not None, after=st.negation_after, double=st.double_negation,
            form_status=one.sets.get("status"), observed=one.observed, valued=bool(readings) or st.neutral,
            shown=st.shown or (concept.id in self.namer.both_ways and "status" not in one.sets),
        )  # fmt: skip
        out = self._pained(st, concept, spots, part, source) if concept.kind == "movement" else []
        if out and not readings and (verdict.status != "normal" or not set().union(*st.statuses) - {"positive", "negative"}):
            return out
        if concept.id == "range_of_motion" and verdict.status == "normal" and joints and not readings:
            if st.short_of:
                verdict = replace(verdict, status="reduced")
            expand = self.namer.expands
            if all(j in expand for j in joints):
                return [*out, *self._expanded(st, one, spots, joints, part, source)]
        if (
            verdict.status is None
            and concept.kind == "test"
            and st.joined == "with"
            and self.made
            and self.made[-1].keys.get("status") == "positive"
        ):
            verdict = replace(verdict, status="positive")
        if concept.id in LOSSES and not st.statuses and not st.negation:
            neutral = source is not None and st.neutral and not readings  # "…, MCP is straight"
            if neutral or (readings and all(n.value == 0 for n in readings)):
                verdict = replace(verdict, status="absent")
        pairs = self._assign(concept, spots, readings, index, of, st)
        mode_said = one.sets.get("mode") or st.mode
        in_force = not mode_said and bool(readings) and concept.unit == "deg"
        taken_up: list[Made] = []
        for spot, reading, trial in pairs:
            mode_here = self._mode_in_force(concept, spot) if in_force else mode_said
            for mode in ["active", "passive"] if mode_here == "both" else [mode_here]:
                made = self._one(st, one, concept, spot, reading, trial, mode, verdict.status, verdict.unclear, part)
                if made is not None:
                    both = self._for_both(made)
                    out += both
                    taken_up += both if in_force and mode else []
        self._mode_across(taken_up)
        for made in out:
            for number in other:
                self._qualify(made, number)
        return out

    def _mode_in_force(self, concept: Concept, spot: Spot) -> str | None:
        """The mode that a heading set, where it holds for this movement."""
        digit = spot.digit or concept.digit or (self.carried.digit if "digit" in concept.takes else None)
        return self.carried.mode_at(digit, concept.joint or spot.joint)

    def _mode_across(self, made: list[Made]) -> None:
        """A mode in force, taken over to the other side, asks to be checked."""
        if not made:
            return
        sides = {m.keys["side"] for m in made} - {None}
        spots = [Spot(digit=m.keys["digit"], joint=m.keys["joint"]) for m in made]
        self.carried.use_mode(spots, sides.pop() if len(sides) == 1 else None)
        side = self.carried.mode_side
        for one in made:
            if side and one.keys["side"] not in {side, None}:
                message = f'"{one.keys["mode"]}" was said of the {side} side; does it hold for "{{said}}" too?'
                one.flag("side_conflict", "check", message)

    def _for_both(self, made: Made) -> list[Made]:
        """Where both sides are in force, a carried field holds for both; to be checked unless a heading said so."""
        sides = self.carried.sides
        if not made.carried or len(sides) != 2:
            return [made]
        numeric = made.keys.get("value") is not None or made.keys.get("low") is not None
        if numeric or not self.carried.headed:
            made.flag("side_carried", "check", 'Both sides were spoken of last, by "{side}"; "{said}" is taken for both.')
        other = replace(made, keys={**made.keys, "side": sides[1]}, flags=list(made.flags), why=list(made.why))
        other.instead("side", Rule.SIDE_CARRIED, self.carried.said, sides[1])
        return [made, other]

    def _pained(
        self, st: Statement, concept: Concept, spots: tuple[Spot, ...], part: str | None, source: Said | None
    ) -> list[Made]:
        """A movement said to hurt, or to be free of pain, is pain on movement, present or absent; once a joint."""
        told = set().union(*st.statuses, set()) & {"positive", "negative"}
        if not told:
            return []
        stretch = concept.id == "composite_extension" and st.mode == "passive" and any(s.digit for s in spots)
        what = self.lexicon.concepts["pain_on_passive_extension" if stretch else "pain_on_movement"]
        status = "absent" if told == {"negative"} or st.negation else "present"
        pain = Named(what, at_joint(spots, concept), {"status": status}, why=(Reason(Rule.PAIN),))
        bare = replace(st, statuses=[], status_at=[], numbers=[], negation=None, negation_after=False)
        return self._fields(bare, pain, 0, 1, part, source)

    def _expanded(
        self, st: Statement, whole: Named, spots: tuple[Spot, ...], joints: set[str], part: str | None, source: Said | None
    ) -> list[Made]:
        """Full range of a named joint: one normal field for each of its movements."""
        out: list[Made] = []
        for joint in sorted(joints):
            here = tuple(s for s in spots if s.joint == joint) or spots
            for name in self.namer.expands[joint]:
                sets = {"status": "normal"} | ({"mode": whole.sets["mode"]} if "mode" in whole.sets else {})
                one = Named(self.lexicon.concepts[name], here, sets, expanded="full range", why=whole.why)
                out += self._fields(st, one, 0, 1, part, source)
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
        why = list(one.why)
        keys = self._place_keys(concept, spot, one, st, why)
        made = Made(concept, keys, (st.start, st.end), self.batch, st.line, contrast=st.contrast or st.compared, why=why)
        if reading is not None:
            said = self._words(reading.start, reading.end)
            in_force = next((n.unit for n in st.numbers if n.unit and fits(concept, n)), None)
            in_force = in_force or (self.carried.unit if self.carried.unit_concept == concept.id else None)
            bound = st.beyond and (st.negation is not None or "absent" in set().union(*st.statuses, set()))
            short = st.short_of or (bound and concept.id.endswith("_extension"))
            beyond = st.beyond and not bound
            valued = settle_value(concept, reading, said, short_of=short, beyond=beyond, unit_in_force=in_force)
            if bound and short:
                made.flag(
                    "direction_unclear", "check", f'Said as a limit ("not beyond {said}"); check what it is measured from.'
                )
            keys |= valued.keys
            made.flags += valued.flags
            if reading.unit:
                self.carried.unit, self.carried.unit_concept = reading.unit, concept.id
            if (
                len([n for n in st.numbers if fits(concept, n)]) > 1
                and trial is None
                and not (one.spots and len(one.spots) > 1)
            ) and not (st.numbers and len(st.numbers) == st.wanted):
                made.flag("number_unclear", "check", 'More than one number was said in "{said}"; the first is taken.')
            if concept.id == "range_of_motion" and reading.low is None:
                made.flag("number_unclear", "check", '"{said}" is one number, where a range has two; check which end it is.')
            self._finger_unsaid(made, spot)
            if concept.kind not in {"finding"}:
                status = "not_assessed" if status == "not_assessed" else None
        elif st.neutral and concept.kind == "movement" and "value" in concept.takes and not st.statuses:
            keys |= {"value": 0.0, "unit": concept.unit}
            status = None
        if trial is not None:
            keys["trial"] = trial
        nought = st.negation is not None or "absent" in set().union(*st.statuses, set())
        if gap(concept) and reading is None and nought:  # "pulp to palm nil"
            in_force = self.carried.unit if self.carried.unit_concept == concept.id else None
            keys |= {"value": 0.0, "unit": in_force or concept.unit}
            status = None
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
        self._settle_side(made, spot, one, part, st)
        self._because(made, st, one, reading)
        return made

    def _finger_unsaid(self, made: Made, spot: Spot) -> None:
        """A number of a finger's joint belongs to one finger; a plural said of a row is one letter more than its joint."""
        if made.keys["digit"] or made.keys["joint"] not in ROWS:
            return
        if not spot.plural:
            made.flag("low_recognition", "check", 'No finger was said with "{said}".')
        elif self.guessed and (digit := self.carried.digit):
            made.flag("low_recognition", "check", f'"{{said}}" is said of several joints right after the {digit}; check which.')

    def _because(self, made: Made, st: Statement, one: Named, reading: Reading | None) -> None:
        """Note which words the status, the number and the details were settled by."""
        keys = made.keys
        if one.expanded:
            made.because(Rule.EXPANDED, None, one.expanded)
        if status := keys.get("status"):
            self._status_because(made, st, one, status)
        if reading is not None:
            made.because(
                Rule.NUMBER, (reading.start, reading.end), "a range" if reading.value is None else f"{reading.value:g}"
            )
            if st.short_of and (said := st.role("short_of")):
                made.because(Rule.SHORT_OF, said)
            if st.beyond and (said := st.role("beyond")):
                made.because(Rule.BEYOND, said)
            if keys.get("trial") == "mean":
                made.because(Rule.MEAN, st.role("mean"))
            elif keys.get("trial") is not None:
                made.because(Rule.TRIAL, None, str(keys["trial"]))
        elif keys.get("value") is not None:
            made.because(Rule.ZERO, st.role("neutral"))
        if mode := keys.get("mode"):
            said = st.role("mode")
            rule = Rule.MODE_OF_FORM if one.sets.get("mode") else Rule.MODE if st.mode and said else Rule.MODE_OF_HEADING
            made.because(rule, said if rule is Rule.MODE else None, mode)
        if purpose := st.role("purpose"):
            made.because(Rule.PURPOSE, purpose)
        for key in ("severity", "certainty"):
            if keys.get(key):
                rule = Rule.DETAIL_OF_FORM if one.sets.get(key) else Rule.DETAIL
                made.because(rule, st.role(key) if rule is Rule.DETAIL else None, f"{key} {keys[key]}")

    def _status_because(self, made: Made, st: Statement, one: Named, status: str) -> None:
        denied = st.negation_at if st.negation or st.negation_after or st.double_negation else None
        result = st.role("status") if st.statuses else None
        if denied is not None:
            made.because(Rule.DENIED_LIST if st.listed else Rule.DENIED, denied, status)
        if "status" in one.sets:
            made.because(Rule.NORMAL_OF_PHRASE if one.expanded else Rule.RESULT_OF_FORM, None, status)
        if st.statuses and st.result_from is not None:
            made.because(st.result_from.rule, st.result_from.span, status)
        elif result is not None:
            made.because(Rule.RESULT, result, status)
        elif denied is None and "status" not in one.sets:
            made.because(Rule.ASSERTED, None, status)

    def _doubts(self, made: Made, st: Statement, one: Named, unclear: str | None) -> None:
        concept = made.concept
        if st.either and st.negation is None and made.keys.get("status") == "present" and concept.kind == "finding":
            made.flag(
                "negation_unclear", "check", 'A list like "{said}", joined by "or", mostly follows a "no"; none was heard.'
            )
        if st.turned:
            made.flag("negation_unclear", "check", '"{said}" is said as an exception; check what holds there.')
        if "respectively" in st.words and len(st.numbers) != max(len(st.groups and st.spots()), st.wanted):
            made.flag(
                "number_unclear",
                "check",
                '"{said}" says "respectively", but not of as many numbers as things; check which is which.',
            )
        if any(group.odd for group in st.groups):
            made.flag("side_conflict", "check", 'A side is listed with a finger in "{said}"; was it "ring"?')
        stressed = next((g for g in st.groups if self._stressed(g)), None)
        if stressed is not None and concept.kind == "test":
            border = self._words(stressed.start, stressed.end)
            made.flag(
                "result_unclear", "check", f'"{border}" may be stress of the ligament on that side, or towards it; check which.'
            )
        if unclear:
            made.flag("negation_unclear", "check", f'Check present or absent in "{{said}}": {unclear}.')
        if one.expanded:
            made.flag("expanded", "info", f'"{{said}}" names several things together ({one.expanded}); this is one of them.')
        if concept.id in self.namer.both_ways and set().union(*st.statuses, set()) & {"positive", "negative"}:
            stated = set().union(*st.statuses, set())
            if not stated & {"normal", "reduced", "absent"} and "status" not in one.sets:
                made.flag(
                    "result_unclear",
                    "check",
                    f'In "{{said}}", positive and negative are used both ways for {concept.preferred}.',
                )
        four = next((g for g in st.groups if self._all_fingers(g)), None)
        if concept.kind in {"sensation", "circulation"} and four is not None:
            words = self._words(four.start, four.end)
            made.flag("expanded", "check", f'"{words}" is taken as the four fingers; check whether the thumb was meant too.')
        if st.addressed:
            made.flag("speaker_unclear", "check", '"{said}" speaks to the patient, or may be another person\'s words.')
        if st.retracts == "replace":
            made.flag("self_corrected", "info", '"{said}" corrects what was said before it.')

    def _stressed(self, group: PlaceGroup) -> bool:
        """ "Ulnar stress": of the ulnar ligament, or of the radial one by pushing towards the ulna."""
        ligament = any(s.structure and "collateral_ligament" in s.structure for s in group.spots)
        return ligament and any(t.text == "stress" for t in self.tokens[group.start : group.end])

    def _all_fingers(self, group: PlaceGroup) -> bool:
        """ "In all fingers", of what a thumb has too, where no thumb is spoken of near it."""
        words = {t.text for t in self.tokens[group.start : group.end]}
        near = {t.text for t in self.tokens[max(0, group.start - THUMB_NEAR) : group.end + THUMB_NEAR]}
        every = "finger" in words and bool(words & {"all", "each", "every"}) and "four" not in words
        return every and {s.digit for s in group.spots} == set(FINGERS) and "thumb" not in near

    def _age(self, number: Reading) -> bool:
        """ "Twenty six year old", "seventy years of age": of the patient, and no detail of what stands beside it."""
        after = [t.text for t in self.tokens[number.end : number.end + 2]]
        return number.unit == "a" and (after[:1] == ["old"] or after == ["of", "age"])

    def _qualify(self, made: Made, number: Reading) -> None:
        """A number that is no value of this concept is kept in words: a time to onset, the size of a scar."""
        if "qualifier" not in made.concept.takes or number.unit is None:
            return
        if made.concept.id not in HEALED and self._age(number):
            return
        start = number.start
        while (
            start > 0
            and self.tokens[start - 1].text in {"at", "in", "after", "within", "about", "around"}
            and not self.tokens[start - 1].stop
        ):
            start -= 1
        words = self._words(start, number.end)
        made.keys["qualifier"] = ", ".join(filter(None, [made.keys.get("qualifier"), words]))
