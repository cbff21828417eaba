"""Which concept a statement is about: the modelling choices of the record (DEVELOPERS.md, "Modelling choices").

A movement word takes its joint ("flexion" of the wrist), a tendon said to be intact is tendon integrity, a grasp with
kilograms is a strength, a muscle with a grade is its power, wasting of the thenar eminence is thenar wasting. The tables
are in lexicon/language.yaml; the grammar that uses them is here.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from dictation.extraction.matching import Mention
from dictation.extraction.places import FINGERS, Spot
from dictation.extraction.reasons import Reason, Rule
from dictation.extraction.statement import Statement
from dictation.extraction.tokens import Token
from dictation.extraction.values import grade
from dictation.lexicon.entries import Concept, Lexicon

SENSATION = {"gross_sensation", "light_touch", "pinprick_sensation"}
INTACT = {"intact", "ruptured", "divided", "cut", "in"}
"""Said of a tendon, not of a power: "FDP to the index 5/5, EPL intact"; "in continuity"."""
TENDON_STATUS = {"normal", "absent", "reduced", "not_assessed"}
TOLD = set("seated sitting supine rested resting exposed lying positioned patient he she with is are was were".split())
"""Words that tell of a position; "hands on the pillow" by itself is more often said to the patient."""
PAST = {"after", "following", "since", "post", "previous", "old"}
SHOWS = {"show", "showed", "confirm", "confirmed", "reveal", "revealed", "demonstrate", "demonstrated"}
DONE = {"given", "done", "performed", "taken", "tried", "started", "prescribed", "injected", "commenced", "administered"}
"""After "was" or "were": what was done, not what is planned."""
SCORED = {"pain", "sore", "score", "scored", "rate", "rated", "put"}
"""With "out of ten", words that tell of pain."""
JOINT_MOVEMENTS = {"wrist", "elbow", "mcp", "pip", "dip", "ip"}


@dataclass(frozen=True, slots=True)
class Named:
    """A concept a statement is about, with what its form carries, the places it holds for, and why it is this one."""

    concept: Concept
    spots: tuple[Spot, ...]
    sets: Mapping[str, str] = field(default_factory=dict)
    observed: bool = False
    expanded: str | None = None
    why: tuple[Reason, ...] = ()


class Namer:
    """Names the concepts of statements, by the tables of one lexicon."""

    def __init__(self, lexicon: Lexicon) -> None:
        self.lexicon = lexicon
        language = lexicon.language
        self.power_of = _inverted(language.get("power_of", {}))
        self.narrower = _inverted(language.get("narrower", {}))
        self.offered_as = _inverted(language.get("offered_as", {}))
        self.reported_as = _inverted(language.get("reported_as", {}))
        self.test_of = _inverted(language.get("test_of", {}))
        self.result_of = _inverted(language.get("result_of", {}))
        self.measured_as = _inverted(language.get("measured_as", {}))
        self.expands = language.get("expands", {})
        self.both_ways = frozenset(language.get("both_ways", {}).get("test", ()))

    def name(
        self, st: Statement, spots: Sequence[Spot], tokens: Sequence[Token], *, part: str | None, joint: str | None
    ) -> list[Named]:
        """Return what the statement names. joint: the joint in force, for a bare movement word."""
        out: list[Named] = []
        beside = next((c.joint for m in st.concepts if (c := self.lexicon.concepts[m.id]).kind == "movement" and c.joint), None)
        joint = beside or joint
        for m in sorted((*st.concepts, *st.movements), key=lambda m: m.start):
            if m.kind == "movement":
                moved = Reason(Rule.MOVEMENT, (m.start, m.end), m.id)
                out += [replace(n, why=(moved, *n.why)) for n in self._movement(m.id, st, tuple(spots), joint)]
                continue
            concept = self.lexicon.concepts[m.id]
            surface = " ".join(t.text for t in tokens[m.start : m.end])
            if m.end < len(tokens) and tokens[m.end].text == "clinic":
                continue
            if concept.id == "discharge" and part != "plan" and st.negation:
                continue  # of a wound
            if concept.kind == "plan" and part != "plan" and (_done(tokens, m.start, m.end) or _visit(m, st, tokens)):
                continue
            before = _words_before(tokens, m.start)
            for named in self._one(concept, st, tuple(spots), surface, part, before, m.sets):
                why = (Reason(Rule.TERM, (m.start, m.end), f'{m.id} ("{m.form}")'), *named.why)
                out.append(replace(named, sets={**m.sets, **named.sets}, observed=m.observed, why=why))
        if out and all(n.concept.kind == "power" for n in out) and any(grade(n) for n in st.numbers):
            out += self._muscles_beside(out, st.spots())
        if not out and not st.concepts and not st.movements:
            out = self._unnamed(st, tuple(spots), tokens, graded=part == "power")
        return out

    def _muscles_beside(self, named: Sequence[Named], spots: tuple[Spot, ...]) -> list[Named]:
        """ "Interossei and APB both 5/5": a muscle listed with one that is graded has the same grade."""
        known = {n.concept.id for n in named}
        beside = [s for s in spots if s.structure in self.power_of and self.power_of[s.structure] not in known]
        why = _table("the power of the muscle named beside another")
        return [Named(self.lexicon.concepts[self.power_of[s.structure or ""]], (s,), why=why) for s in beside]

    def _one(
        self, concept: Concept, st: Statement, spots: tuple[Spot, ...], surface: str, part: str | None,
        tokens_before: Sequence[str] = (), sets: Mapping[str, str] | None = None,
    ) -> list[Named]:  # fmt: skip
        concepts = self.lexicon.concepts
        sets = sets or {}
        if st.nerves and (concept.id in SENSATION or concept.id.endswith("nerve_sensation")):
            return self._nerves(concept, st, spots)
        if (
            concept.id == "gross_sensation"
            and spots
            and all(s.digit and s.aspect in {"radial", "ulnar"} and not s.structure for s in spots)
        ):
            return [Named(concepts["digital_nerve_sensation"], spots, why=_table("sensation at a border of a digit"))]
        as_what = ""
        if concept.id in self.result_of and SHOWS & set(st.words):
            normal = st.negation is not None or (bool(st.statuses) and "normal" in set().union(*st.statuses))
            return [Named(concepts[self.result_of[concept.id]], spots, {"status": "normal" if normal else "abnormal"})]
        if concept.id in self.result_of and st.statuses and set().union(*st.statuses) & {"normal", "abnormal", "altered"}:
            concept, as_what = concepts[self.result_of[concept.id]], "the result, since one was given"
        if concept.id in self.reported_as and part == "reported":
            concept, as_what = concepts[self.reported_as[concept.id]], "a symptom reported"
        if concept.id in self.offered_as and part == "impression":
            concept, as_what = concepts[self.offered_as[concept.id]], "an impression, since it is offered as one"
        st_absent = sets.get("status") == "absent" or st.negation is not None
        before = tokens_before
        if (
            concept.id == "splint"
            and part != "plan"
            and {"in", "wearing"} & set(before)
            and not {"put", "placed", "it"} & set(before)
        ):
            concept, as_what = concepts["splint_in_place"], "a splint worn, not one to be made"
        ligaments = [s for s in spots if s.structure in self.test_of]
        if concept.id == "joint_instability" and ligaments:
            return [
                Named(
                    concepts[self.test_of[s.structure or ""]],
                    (s,),
                    {"status": "negative" if st_absent else "positive"},
                    why=_table("the stress test of the ligament named"),
                )
                for s in ligaments
            ]
        if concept.id == "patient_position" and not TOLD & {*before, *surface.split(), *st.words}:
            return []
        if concept.id == "joint_subluxation" and any((s.structure or "").endswith("_nerve") for s in spots):
            return []
        if concept.kind in {"impression", "plan"} and PAST & set(before[-4:]):
            return []
        graded = any(grade(n) for n in st.numbers)
        plainly_graded = any(n.out_of == 5 or n.sign for n in st.numbers)
        if concept.id in self.power_of and (
            st.power or plainly_graded or (part == "power" and graded and concept.kind == "movement")
        ):
            if not (concept.kind == "strength" and not plainly_graded):
                concept, as_what = concepts[self.power_of[concept.id]], "a power, since a grade or the word power is with it"
        elif concept.id in self.measured_as and (st.power or (st.numbers and not plainly_graded)):
            kilos = any(n.unit in {"kg", "[lb_av]"} or (n.value or 0) > 5 for n in st.numbers)
            if kilos or "pinch" in self.measured_as[concept.id] or not graded:
                measured = _pinch(self.measured_as[concept.id], surface)
                concept, as_what = concepts[measured], "a strength, since it was measured"
        if concept.id == "grip_power" and st.strength:
            concept, as_what = concepts["grip_strength"], "a strength, since the word strength is with it"
        narrowed = self.narrow(concept, spots)
        return [replace(n, why=(*_table(as_what), *n.why)) for n in narrowed] if as_what else narrowed

    def narrow(self, concept: Concept, spots: tuple[Spot, ...]) -> list[Named]:
        """Split by place where a place has a concept of its own."""
        out: dict[str, list[Spot]] = {}
        for spot in spots or (Spot(),):
            key = concept.id
            for place in (spot.structure, spot.joint, spot.digit):
                if place and f"{concept.id} {place}" in self.narrower:
                    key = self.narrower[f"{concept.id} {place}"]
                    break
            out.setdefault(key, []).append(spot)
        return [
            Named(
                self.lexicon.concepts[key], tuple(s), why=_table("what this place has of its own") if key != concept.id else ()
            )
            for key, s in out.items()
        ]

    def sensed(self, st: Statement, spots: tuple[Spot, ...]) -> list[Named]:
        """ "Radial digital nerve intact": a sensory nerve with a result is its sensation."""
        sensory = tuple(s for s in spots if f"gross_sensation {s.structure}" in self.narrower)
        if not sensory or not st.statuses or st.numbers:
            return []
        return self.narrow(self.lexicon.concepts["gross_sensation"], sensory)

    def _nerves(self, concept: Concept, st: Statement, spots: tuple[Spot, ...]) -> list[Named]:
        names: list[str] = []
        for nerve in st.nerves:
            names += (
                ["median_nerve_sensation", "ulnar_nerve_sensation", "radial_nerve_sensation"] if nerve == "all" else [nerve]
            )
        if concept.id.endswith("nerve_sensation"):
            names.append(concept.id)
        sets = {} if concept.id not in SENSATION - {"gross_sensation"} else {"qualifier": concept.preferred.lower()}
        expanded = "all nerve distributions" if "all" in st.nerves else None
        why = _table("the sensation of the nerve named")
        return [Named(self.lexicon.concepts[n], spots, sets, expanded=expanded, why=why) for n in dict.fromkeys(names)]

    def _movement(self, movement: str, st: Statement, spots: tuple[Spot, ...], joint: str | None) -> list[Named]:
        concepts = self.lexicon.concepts
        groups: dict[tuple[str, ...], list[Spot]] = {}
        if movement in self.expands:
            groups[self.expands[movement]] = list(spots)
            spots = ()
        for spot in spots or ((Spot(),) if not groups else ()):
            ids = _movement_ids(movement, spot, joint)
            if ids:
                groups.setdefault(ids, []).append(spot)
        out = []
        plainly_graded = any(n.out_of == 5 or n.sign for n in st.numbers)
        for ids, members in groups.items():
            for name in ids:
                why: tuple[Reason, ...] = ()
                if (st.power or plainly_graded) and name in self.power_of:
                    name, why = self.power_of[name], _table("a power, since a grade or the word power is with it")
                expanded = movement.replace("_", " ") if len(ids) > 1 else None
                if name in concepts:
                    out.append(Named(concepts[name], tuple(members), expanded=expanded, why=why))
        return out

    def _unnamed(self, st: Statement, spots: tuple[Spot, ...], tokens: Sequence[Token], *, graded: bool) -> list[Named]:
        """Statements of places alone: a tendon intact, a muscle graded, a joint with its arc."""
        concepts = self.lexicon.concepts
        said = set().union(*st.statuses, set())
        if st.when and said & {"positive", "negative"}:
            status = "present" if "positive" in said and st.negation is None else "absent"
            return [Named(concepts[st.when], spots, {"status": status})]
        if any(n.out_of == 10 for n in st.numbers) and SCORED & {t.text for t in tokens[max(0, st.start - 6) : st.end]}:
            return [Named(concepts["pain_score"], spots)]
        if st.nerves and st.statuses and not st.numbers:
            return self._nerves(concepts["gross_sensation"], st, spots)
        tendons = [s for s in spots if s.structure and (s.structure in self.power_of or is_tendon(s.structure))]
        if tendons:
            muscles = [s for s in tendons if s.structure in self.power_of]
            whole = bool(INTACT & {_text(tokens, k) for k in st.status_at}) and not (st.numbers or st.power)
            if muscles and not whole and (graded or st.power or any(grade(n) for n in st.numbers)):
                by: dict[str, list[Spot]] = {}
                for spot in muscles:
                    by.setdefault(self.power_of[spot.structure or ""], []).append(spot)
                why = _table("the power of the muscle named, since a grade or the word power is with it")
                return [Named(concepts[k], tuple(v), why=why) for k, v in by.items()]
            if st.statuses and set().union(*st.statuses) & TENDON_STATUS:
                return [Named(concepts["tendon_integrity"], tuple(tendons), why=_table("whether the tendon named is intact"))]
        ligaments = [s for s in spots if s.structure in self.test_of]
        if ligaments and set().union(*st.statuses, set()) & {"positive", "negative"}:
            why = _table("the stress test of the ligament named")
            return [Named(concepts[self.test_of[s.structure or ""]], (s,), why=why) for s in ligaments]
        joints = [s for s in spots if s.joint]
        if joints and st.numbers and any(n.low is not None for n in st.numbers):
            return [Named(concepts["range_of_motion"], tuple(joints), why=_table("the arc of the joint named"))]
        full = bool(joints) and not st.numbers and any(_text(tokens, k) in {"full", "fully"} for k in st.status_at)
        if full and len(joints) == len(spots):
            return [Named(concepts["range_of_motion"], tuple(joints), why=_table("the range of the joint, since it is full"))]
        return []


def _text(tokens: Sequence[Token], at: int) -> str:
    return tokens[at].text if at < len(tokens) else ""


def _words_before(tokens: Sequence[Token], at: int) -> list[str]:
    """The four words before a term, as far as no punctuation parts them from it."""
    start = at
    while start > 0 and at - start < 4 and not tokens[start - 1].stop:
        start -= 1
    return [t.text for t in tokens[start:at]]


def _done(tokens: Sequence[Token], start: int, end: int) -> bool:
    """ "Antibiotics were given by the GP", "was given antibiotics": what was done already is no plan."""
    near = [t.text for t in tokens[max(0, start - 2) : start]], [t.text for t in tokens[end : end + 3]]
    return any(a in {"was", "were", "been"} and b in DONE for words in near for a, b in itertools.pairwise(words))


def _visit(m: Mention, st: Statement, tokens: Sequence[Token]) -> bool:
    """ "Elbow review.": a place and the word, as a sentence, says what this visit is; it plans none."""
    of_what = m.form.lower() in {"follow-up", "review"} and _text(tokens, m.end) == "of" and not _words_before(tokens, m.start)
    if of_what:
        return True
    headed = bool(st.groups) and st.groups[0].start <= st.start and not (st.negation or st.numbers or st.words)
    return m.form == "review" and headed and tokens[m.end - 1].stop == "." and st.end == m.end


def _table(as_what: str) -> tuple[Reason, ...]:
    return (Reason(Rule.TABLE, None, as_what),)


def _inverted(table: Mapping[str, tuple[str, ...]]) -> dict[str, str]:
    return {form: meaning for meaning, forms in table.items() for form in forms}


def _pinch(measured: str, surface: str) -> str:
    if measured == "tip_pinch_strength" and any(w in surface for w in ("tripod", "chuck", "palmar", "three")):
        return "tripod_pinch_strength"
    return measured


def is_tendon(structure: str | None) -> bool:
    """Return whether a structure is a tendon."""
    return structure is not None and (
        (structure.startswith(("flexor_", "extensor_", "abductor_", "palmaris"))
        and not structure.endswith(("compartment", "retinaculum", "mechanism", "sheath")))
        or structure in {"triceps_tendon", "distal_biceps_tendon", "central_slip", "terminal_extensor_tendon"}
    )


def _movement_ids(movement: str, spot: Spot, joint: str | None) -> tuple[str, ...]:
    place = spot.joint
    joint = "wrist" if joint == "druj" else joint  # after the DRUJ, "extension" is the wrist's
    if movement in {"abduction", "adduction"}:
        if spot.digit == "thumb":
            return ("thumb_palmar_abduction" if movement == "abduction" else "thumb_adduction",)
        return (f"finger_{movement}",)
    if movement == "hyperextension":
        return ("hyperextension",)
    if place in JOINT_MOVEMENTS:
        return (f"{place}_{movement}",)
    if spot.digit == "thumb" and place in {None, "cmc"}:
        return (f"thumb_{movement}",) if place or joint not in {"mcp", "ip"} else (f"{joint}_{movement}",)
    if spot.digit in FINGERS and place is None and joint in {"mcp", "pip", "dip"}:
        return (f"{joint}_{movement}",)
    if spot.digit in FINGERS and place is None:
        return (f"composite_{movement}",)
    if place is None and joint in JOINT_MOVEMENTS:
        return (f"{joint}_{movement}",)
    return ()
