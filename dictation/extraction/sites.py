"""The place keys of a field: what was said, what the concept fixes, and what is carried."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from dictation.extraction.concepts import Named
from dictation.extraction.ellipsis import Ellipsis
from dictation.extraction.made import Made
from dictation.extraction.places import Spot
from dictation.extraction.reasons import Reason, Rule
from dictation.extraction.sides import EXAMINATION
from dictation.extraction.statement import Statement
from dictation.lexicon.entries import Concept

ROWS = {"mcp", "pip", "dip", "cmc"}
DIGIT_OF_TENDON = {"pollicis": "thumb", "indicis": "index", "digiti_minimi": "little"}
DIGIT_TENDONS = {
    "flexor_digitorum_profundus",
    "flexor_digitorum_superficialis",
    "extensor_digitorum_communis",
    "central_slip",
    "terminal_extensor_tendon",
    "sagittal_band",
    "lateral_band",
    "extensor_mechanism",
}
"""Tendons that each finger has; the others belong to one digit or to none."""
DIGIT_OF_SHEATH = {
    "flexed_digit_posture", "fusiform_digit_swelling", "flexor_sheath_tenderness", "pain_on_passive_extension",
}  # fmt: skip
DIGIT_OF_SHAPE = {"swan_neck_deformity", "boutonniere_deformity", "mallet_deformity"}
DIGIT_OF_TRIGGER = {"triggering", "tendon_sheath_nodule"}


class Sites(Ellipsis):
    """Settles side, digit, joint, structure and aspect."""

    def _place_keys(self, concept: Concept, spot: Spot, one: Named, st: Statement, why: list[Reason]) -> dict[str, Any]:
        keys: dict[str, Any] = {"side": None}
        site = self._site(concept, spot)
        if one.sets.get("structure") and len(st.concepts) > 1:
            spot = Spot(side=spot.side, aspect=spot.aspect)
        for key in ("digit", "joint", "structure", "aspect"):
            fixed = getattr(concept, key, None)
            value = one.sets.get(key) or (site if key == "structure" and site else getattr(spot, key))
            keys[key] = fixed or (value if key in concept.takes else None)
            if keys[key] is not None:
                why.append(self._whence(key, keys[key], fixed is not None, one, st))
        if "joint" in concept.takes and keys["joint"] is None and one.sets.get("joint"):
            keys["joint"] = one.sets["joint"]
        if (
            concept.id == "range_of_motion"
            and not (keys["joint"] or keys["digit"])
            and any(n.low is not None for n in st.numbers)
        ):
            keys["joint"] = self._joint((spot,))  # "flexion arc thirty five to a hundred and ten" of the joint in force
        based = keys["digit"] == "thumb" and not (keys["joint"] or keys["structure"]) and "joint" in concept.takes
        if based and any(t.text == "base" for t in self.tokens[st.start : st.end + 3]) and concept.part in {"look", "feel"}:
            keys["joint"] = "cmc"  # "the right thumb is tender at the base"
        if keys["structure"] and concept.structure is None and keys["joint"] and concept.joint is None and spot.structure:
            keys["joint"] = None
        pronoun = replace(spot, finger=spot.finger or bool(st.words and st.words[0] in {"it", "its"}))
        self.complete_digit(concept, pronoun, keys, negated=st.negation is not None, why=why)
        if keys["structure"] == "collateral_ligament" and keys["digit"] == "thumb" and keys["aspect"] in {"radial", "ulnar"}:
            keys["structure"] = f"thumb_{keys['aspect']}_collateral_ligament"
        return keys

    def _whence(self, key: str, value: str, fixed: bool, one: Named, st: Statement) -> Reason:
        """Where a digit, joint, structure or aspect comes from."""
        if fixed:
            return Reason(Rule.PLACE_OF_CONCEPT, None, value)
        if one.sets.get(key):
            return Reason(Rule.PLACE_OF_FORM, None, value)
        said = next((g for g in st.groups if any(getattr(s, key) == value for s in g.spots)), None)
        if said is not None:
            return Reason(Rule.PLACE_SAID, (said.start, said.end), value)
        if st.place_from is not None:
            return replace(st.place_from, detail=value)
        return Reason(Rule.SITE, None, value)

    def _site(self, concept: Concept, spot: Spot) -> str | None:
        if concept.id not in {"tinel_test", "scratch_collapse_test"}:
            return None
        table = {form: site for site, forms in self.lexicon.language.get("site", {}).items() for form in forms}
        if spot.structure and spot.joint:
            return table.get(f"{spot.structure} {spot.joint}", spot.structure)
        return spot.structure or table.get(spot.joint or "")

    def complete_digit(
        self, concept: Concept, spot: Spot, keys: dict[str, Any], *, negated: bool = False, why: list[Reason] | None = None
    ) -> None:
        """Fill in the digit in force where the joint, structure or concept needs one and none was said."""
        if keys["digit"] or "digit" not in concept.takes or spot.plural or spot.hand:
            return
        if keys["joint"] in self.lexicon.joints and (digits := self.lexicon.joints[keys["joint"]].digits) and len(digits) == 1:
            keys["digit"] = digits[0]
            if why is not None:
                why.append(Reason(Rule.ONLY_DIGIT, None, digits[0]))
            return
        structure = self.lexicon.structures.get(keys["structure"] or spot.structure or "")
        own = next((d for part, d in DIGIT_OF_TENDON.items() if part in (keys["structure"] or "")), None)
        tendon = concept.id == "tendon_integrity" and (
            keys["structure"] in DIGIT_TENDONS or (own is not None and own == self.carried.digit)
        )
        triggers = concept.id in DIGIT_OF_TRIGGER and not negated
        ray = structure is not None and structure.region == "digit"
        sheath = concept.id in DIGIT_OF_SHEATH | DIGIT_OF_SHAPE
        needs = spot.finger or keys["joint"] in ROWS or ray or tendon or triggers or sheath
        if needs and self.carried.digit and not (structure and structure.id.startswith("thumb")):
            keys["digit"] = self.carried.digit
            if why is not None:
                why.append(Reason(Rule.DIGIT_IN_FORCE, None, self.carried.digit))

    def _settle_side(self, made: Made, spot: Spot, one: Named, part: str | None, st: Statement) -> None:
        concept, keys = made.concept, made.keys
        if "side" not in concept.takes:
            return
        if one.sets.get("side"):
            keys["side"] = one.sets["side"]
            made.because(Rule.SIDE_OF_FORM, None, keys["side"])
            return
        side = self._side(spot.side)
        if side:
            keys["side"] = side
            group = next((g for g in st.groups if g.sides_said), None)
            at = (group.start, group.end) if group else st.place_from.span if st.place_from else made.span
            rule = Rule.SIDE_OTHER if spot.side in {"other", "same"} else Rule.SIDE_SAID
            made.because(rule, at, side)
            if group is None and self.carried.sides and side not in self.carried.sides:
                made.flag(
                    "side_conflict", "check", f'The side ({side}) of "{{said}}" is an earlier one; the other was named since.'
                )
            if spot.side in {"other", "same"}:
                made.flag("side_carried", "check", '"{said}" names its side by the side spoken before.')
            return
        if concept.id == "hand_dominance":
            return
        carried = self.carried
        made.because(Rule.SIDE_MISSING)
        if concept.part == "impression" and self.concluded and self.concluded[0] == st.line and self.concluded[1]:
            keys["side"], made.side_span = self.concluded[1:]
            made.instead("side", Rule.SIDE_CARRIED, made.side_span, str(keys["side"]))
            made.flag("side_carried", "check", f"The side ({keys['side']}) was said earlier in the impression, not here.")
            return
        if concept.part in EXAMINATION or concept.part == "impression":
            if carried.sides:
                keys["side"] = carried.sides[0]
                made.carried, made.side_span = True, carried.said
                made.instead("side", Rule.SIDE_CARRIED, carried.said, keys["side"])
                fresh = carried.fresh(made.span[0]) and concept.part != "impression"
                fresh = fresh and not (st.perhaps_right and carried.perhaps_left_behind())
                made.flag(
                    "side_carried",
                    "info" if fresh else "check",
                    'The side ({which}) was said earlier, by "{side}", and not with "{said}".',
                )
                return
            made.flag("side_missing", "check", 'No side was said with "{said}" and none is in force.')
        else:
            made.flag("side_missing", "check", 'No side was said with "{said}".')
