"""Taking back: "correction, left", "sorry, seventy", "or rather the ring finger".

The corrected value stands; the field's evidence holds both, and it carries ``self_corrected``. What goes in: the
assembler with its last fields, and the statement that corrects. Whole statements taken back are the assembler's.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from dictation.extraction.ellipsis import at_another_joint
from dictation.extraction.polarity import settle_status
from dictation.extraction.reasons import Rule
from dictation.extraction.tokens import written
from dictation.extraction.values import LOSSES, fits, settle_value

if TYPE_CHECKING:
    from dictation.extraction.assembly import Assembler
    from dictation.extraction.made import Made
    from dictation.extraction.places import Spot
    from dictation.extraction.statement import Statement


def patch(assembler: Assembler, st: Statement, part: str | None) -> bool:
    """Correct the fields of the last statement; False where this statement stands on its own."""
    last = assembler.last_made()
    if not last:
        return False
    spots = st.spots()
    if st.concepts or st.movements:
        return _replace_named(assembler, st, last, part)
    if not (spots or st.numbers or st.statuses or st.negation or st.severity or st.mode):
        return True
    fixed: list[Made] = []
    for made in last:
        fixed += _patched(assembler, st, made, spots)
    at = min(assembler.drop(made) for made in last)
    assembler.made[at:at] = _unique(fixed)
    if assembler.history and any(spot.given() for spot in spots):
        from dictation.extraction.made import overlay

        assembler.history[-1].spots = overlay(assembler.history[-1].spots, spots)
    sides = tuple(dict.fromkeys(s for spot in spots if (s := assembler.carried.resolve(spot.side or ""))))
    if sides:
        assembler.carried.set_sides(sides, (st.start, st.end))
    return True


def _patched(assembler: Assembler, st: Statement, made: Made, spots: tuple[Spot, ...]) -> list[Made]:
    from dataclasses import replace as copy_of

    concept = made.concept
    out = []
    for spot in spots or (None,):
        new = copy_of(made, keys=dict(made.keys), flags=list(made.flags), retraction_spans=[*made.retraction_spans, made.span])
        new.more_spans, new.why = [*made.more_spans, (st.start, st.end)], list(made.why)
        new.because(Rule.CORRECTED, (st.start, st.end))
        if spot is not None:
            new.concept = concept = at_another_joint(assembler.lexicon, made.concept, spot.joint)
            new.keys["joint"] = concept.joint or new.keys["joint"]
            for key in ("digit", "joint", "structure", "aspect"):
                value = getattr(spot, key)
                if value is not None and key in concept.takes and getattr(concept, key, None) is None:
                    new.keys[key] = value
                    new.because(Rule.PLACE_SAID, (st.start, st.end), value)
                    if key == "structure":
                        new.keys["joint"] = concept.joint
                    if key == "joint" and concept.structure is None:
                        new.keys["structure"] = None
            assembler.complete_digit(concept, spot, new.keys)
            side = assembler.carried.resolve(spot.side) if spot.side else None
            if side and "side" in concept.takes:
                new.keys["side"] = side
                new.carried = False
                new.instead("side", Rule.SIDE_SAID, (st.start, st.end), side)
                new.flags = [f for f in new.flags if f[0] not in {"side_carried", "side_missing"}]
        reading = next((n for n in st.numbers if fits(concept, n)), None)
        if reading is not None:
            said = written(assembler.tokens[reading.start : reading.end])
            unit = new.keys.get("unit")
            negative = (new.keys.get("value") or 0) < 0
            valued = settle_value(
                concept, reading, said, short_of=st.short_of or negative, beyond=st.beyond, unit_in_force=unit
            )
            settled = {"number_unclear", "direction_unclear"} | ({"unit_assumed"} if reading.unit else set())
            new.flags = [f for f in new.flags if f[0] not in settled]
            new.flags += valued.flags
            if concept.id in LOSSES:
                new.keys["status"] = "absent" if reading.value == 0 else "present"
            new.keys |= {"grade_sign": None, "comparator": None} | valued.keys
            new.instead("number", Rule.NUMBER, (reading.start, reading.end), said)
        if st.statuses or st.negation:
            verdict = settle_status(
                concept, st.statuses, negated=st.negation is not None, after=st.negation_after, double=False,
                form_status=None, observed=False, valued=reading is not None,
            )  # fmt: skip
            if verdict.status:
                new.keys["status"] = verdict.status
                new.instead("status", Rule.RESULT, (st.start, st.end), verdict.status)
        if st.severity and "severity" in concept.takes:
            new.keys["severity"] = st.severity
        new.flag("self_corrected", "info", '"{more}" corrects "{said}"; the corrected words stand.')
        out.append(new)
    return out


def _replace_named(assembler: Assembler, st: Statement, last: list[Made], part: str | None) -> bool:
    """A correction that names a concept replaces the last fields of the same concept, or of the same kind."""
    ids = {m.id for m in st.concepts}
    movements = bool(st.movements)
    old = (
        [m for m in last if m.concept.id in ids]
        or [m for m in last if movements and m.concept.kind == "movement"]
        or [m for m in last if any(assembler.lexicon.concepts[i].kind == m.concept.kind for i in ids)]
    )
    if not old:
        return False
    for made in old:
        assembler.drop(made)
    before = len(assembler.made)
    if not st.numbers and not st.statuses and not st.negation and not st.exists:
        _inherit(st, old[0], assembler)
    st.retracts = None
    if not any(spot.side for spot in st.spots()) and old[0].keys.get("side"):
        assembler.carried.set_sides((old[0].keys["side"],), old[0].span)
    assembler.take(st, part)
    new = assembler.made[before:]
    if not new:
        assembler.made += old
        return True
    for made in new:
        made.retraction_spans.append(old[0].span)
        made.because(Rule.REPLACES, old[0].span)
        made.flag("self_corrected", "info", '"{said}" corrects "{back}"; the corrected words stand.')
        for key in ("digit", "joint", "structure"):
            if (
                made.keys.get(key) is None
                and made.concept.id == old[0].concept.id
                and not (made.keys.get("structure") or made.keys.get("joint"))
            ):
                made.keys[key] = old[0].keys.get(key)
    return True


def _inherit(st: Statement, old: Made, assembler: Assembler) -> None:
    if status := old.keys.get("status"):
        st.statuses.append(frozenset({status}))
    said = assembler.history[-1].statement if assembler.history else None
    if said is not None and old.keys.get("value") is not None:
        st.numbers = list(said.numbers)
        st.short_of = st.short_of or said.short_of


def _unique(made: list[Made]) -> list[Made]:
    seen, out = set(), []
    for one in made:
        key = (
            one.concept.id,
            *(one.keys.get(k) for k in ("side", "digit", "joint", "structure", "mode", "value", "trial")),
        )
        if key not in seen:
            seen.add(key)
            out.append(one)
    return out
