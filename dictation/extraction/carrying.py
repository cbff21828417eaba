"""What is carried from statement to statement: side, digit, joint, mode, and the place a heading named."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import islice, takewhile

from dictation.extraction.concepts import Namer, is_tendon
from dictation.extraction.made import Made, Said, overlay
from dictation.extraction.places import Spot
from dictation.extraction.reasons import Fate, Outcome, Reason, Rule
from dictation.extraction.sides import EXAMINATION, Carried
from dictation.extraction.statement import Statement
from dictation.extraction.tokens import Token, written
from dictation.lexicon.entries import Lexicon

EXAMINING = frozenset(
    [
        "examining", "examine", "examination", "looking", "inspecting", "inspection", "moving", "turning", "starting",
        "check", "review",
    ]
)  # fmt: skip
OPENS = frozenset(["there", "no", "the", "he", "she"])
"""Right after "on the left", these start the next statement more often than they go on with the last."""


SEPARATING = {"and", "but", "now", "then", "or", "while", "whereas", "plan", "impression", "so", "okay", "next"}
"""Words before a side that set it apart from what was said before them."""


CONCLUDING = {"impression", "diagnosis", "conclusion", "opinion", "plan"}
PLANNING = {"management", "treatment", "recommendation"}
"""A place right after one of the first, or in a sentence that opens with any, is where the impression or plan is: it heads
nothing and sets no side."""
ENDS = frozenset({".", "?", "!", ";"})


class Carrying:
    """What has been said so far. One per dictation. since: how many fields were made of an earlier patient.

    guessed: the marks among the tokens are likely ones, and nobody's.
    """

    def __init__(self, lexicon: Lexicon, namer: Namer, tokens: Sequence[Token]) -> None:
        self.lexicon, self.namer, self.tokens = lexicon, namer, tokens
        self.carried = Carried()
        self.guessed = False
        self.since = 0
        self.kinds = {c.id: c.kind for c in lexicon.concepts.values()}
        self.signs = frozenset(f"{t} {c}" for c, tests in lexicon.language.get("shown_by", {}).items() for t in tests)
        self.made: list[Made] = []
        self.lost: list[tuple[int, int, str]] = []
        self.outcomes: list[Outcome] = []
        self.history: list[Said] = []
        self.batch = 0
        self.subject: tuple[Spot, ...] = ()
        self.subject_said: tuple[int, int] | None = None
        self.subject_line = -1
        self.unnamed: tuple[Spot, ...] = ()
        self.again = False
        self.waiting: list[tuple[Statement, str | None]] = []
        self.last_batch = 0
        self.concluded: tuple[int, str | None, tuple[int, int]] | None = None

    def start_anew(self) -> None:
        """A new patient, or speech after a long silence: nothing is carried over, continued, copied or taken back."""
        self.carried, self.since = Carried(), len(self.made)
        self.history, self.subject, self.unnamed, self.again = [], (), (), False
        self.last_batch = self.batch + 1

    def _lead(self, st: Statement, spots: tuple[Spot, ...]) -> None:
        """A place before the concept is the subject of the rest of its line."""
        first = min([m.start for m in (*st.concepts, *st.movements)] + [n.start for n in st.numbers], default=st.end)
        if not (st.concepts or st.movements) and all(s.given() <= {"side"} and not s.hand for s in spots):
            return
        told = bool(st.concepts) and all(self.kinds[m.id] in {"context", "plan"} for m in st.concepts)
        if st.groups and st.groups[0].start < first and not st.groups[0].prep and spots and not told:
            led = all(g.start < first and not g.prep for g in st.groups)  # "Left hand: little MCP …" is one subject
            self.subject = spots if led else st.groups[0].spots
            self.subject_said = st.groups[0].start, st.groups[-1 if led else 0].end
        elif self.subject and any(s.joint and s.joint not in {None, self.subject[0].joint} for s in spots):
            self.subject = ()

    def _examined(self, st: Statement) -> None:
        """ "Examining the left hand, consent obtained": a side with a verb of examination heads what follows."""
        if not st.groups or not any(self.kinds[m.id] == "context" for m in st.concepts):
            return
        group, last = st.groups[0], st.groups[-1]
        before = {t.text for t in self.tokens[max(0, group.start - 3) : group.start]}
        opens = group.start == st.start and not group.prep and self.tokens[group.end - 1].stop in {",", ":"}
        opens = opens and all(m.id == "occupation" for m in st.concepts)  # "Right wrist, 34 year old climber."
        if (opens or before & EXAMINING) and all(group.start < m.start for m in st.concepts):
            self._heading(st, group.spots)
            st.groups = st.groups[1:]
        elif last.prep and last.end >= st.end and last.given() <= {"side", "hand"} and self._runs_on(last.end):
            st.groups = st.groups[:-1]
            self.carried.set_sides(tuple(last.sides_said), (last.start, last.end))

    def _runs_on(self, end: int) -> bool:
        """Whether a statement follows straight on what ended at a token: "consent obtained on the right there is"."""
        if end >= len(self.tokens) or self.tokens[end - 1].stop not in {"", ","} or self.tokens[end].pause:
            return False
        return self.tokens[end].text in OPENS

    def _heading(self, st: Statement, spots: tuple[Spot, ...]) -> None:
        if not spots:
            return
        if self._concludes(st.start):
            self.lost.append((st.start, st.end, "an impression or plan of which no term was recognised"))
            return
        self.carried.set_mode(None)
        if self._mere_word(st, spots):
            self.carried.opposed = self.carried.opposed or self.carried.perhaps_left_behind()
            self._became(Fate.BARE_WORD, st)
            return
        sides = tuple(dict.fromkeys(s for spot in spots if (s := self._side(spot.side))))
        if sides:
            self.carried.set_sides(sides, (st.groups[0].start, st.groups[-1].end), headed=True)
        elif any(spot.side for spot in spots):
            return
        spot = spots[0]
        first = not any(m.line == st.line for m in self.made[-8:])
        only = len(spots) in {1, len(sides)} and not set(st.words) - EXAMINING - {"on"} and not st.numbers and first
        self.carried.heading = replace(spot, side=None) if only else Spot()
        self.carried.heading_said = (st.groups[0].start, st.groups[-1].end)
        place = [key for key in (spot.digit, spot.joint, spot.structure, spot.aspect) if key]
        named = [*(f"the side ({s})" for s in sides), *(f"the place ({p})" for p in place)]
        if st.retracts and self.outcomes and self.outcomes[-1].fate is Fate.HEADING:
            self.outcomes[-1] = Outcome(Fate.CORRECTION, self.outcomes[-1].span)
        self._became(Fate.HEADING if named else Fate.SUBJECT, st, " and ".join(named))
        if len({s.digit for s in spots}) == 1:
            self.carried.digit = spot.digit or (
                self.carried.digit if not (spot.hand or spot.joint in {"wrist", "elbow"}) else None
            )
        if spot.joint:
            self.carried.joint = spot.joint
        elif spot.hand:
            self.carried.joint, self.carried.heading = None, Spot()
        self.carried.set_mode(st.mode if st.mode in {"active", "passive"} else None, spots)

    def _concludes(self, start: int) -> bool:
        """Whether a place stands right after "impression", or in a sentence headed so: "Plan: MRI, right wrist"."""
        for i in range(start - 1, -1, -1):
            token = self.tokens[i]
            opens = i == 0 or token.pause or self.tokens[i - 1].stop in ENDS
            if token.text in CONCLUDING and i == start - 1 and token.stop not in ENDS:
                return True
            if token.text in CONCLUDING | PLANNING and opens and token.stop:
                return True
            if token.stop in ENDS or opens:
                return False
        return False

    def _became(self, fate: Fate, st: Statement, detail: str = "") -> None:
        """Note what became of a statement that makes no field."""
        self.outcomes.append(Outcome(fate, (st.start, st.end), detail))

    def _mere_word(self, st: Statement, spots: tuple[Spot, ...]) -> bool:
        """ "Right," and "Right." alone are more often the word than the side; a colon makes it a heading."""
        bare = len(spots) == 1 and spots[0].given() == {"side"} and spots[0].side == "right" and not spots[0].hand
        one = st.end - st.start == 1
        return bare and one and self.tokens[st.start].stop in {",", "."}

    def _side(self, side: str | None) -> str | None:
        return self.carried.resolve(side) if side else None

    def _carry(self, st: Statement, spots: tuple[Spot, ...], made: list[Made]) -> None:
        said = tuple(dict.fromkeys(s for spot in spots if (s := self._side(spot.side))))
        inside = next((m for m in st.concepts if m.sets.get("side")), None)
        if said and not st.compared:
            self._between(st, made, said)
            before = self.carried.sides
            group = next(g for g in st.groups if g.sides_said)
            same_line = [m for m in self._on_line(st.line) if m.keys["side"] not in {None, *said}]
            compared = self._only_compared(st, made, said)
            if not compared:
                self.carried.set_sides(said, (group.start, group.end))
            odd = any(g.odd for g in st.groups)
            self.carried.opposed = odd or compared or (bool(same_line) and before != said and len(said) == 1)
        elif inside is not None and not st.compared:  # "a cord in the left palm": the side stands inside the term
            self.carried.set_sides((inside.sets["side"],), (inside.start, inside.end))
        if self.carried.heading.given() and any(self._elsewhere(spot) for spot in spots):
            self.carried.heading = Spot()
        digits = {spot.digit for spot in spots if spot.digit}
        if not digits and made[0].concept.joint in {"ip", "cmc"}:
            digits = {"thumb"}
        if not digits and any(spot.finger for spot in spots):
            digits = {m.keys["digit"] for m in made if m.keys["digit"]}
        if digits:
            self.carried.digit = digits.pop() if len(digits) == 1 else None
        elif any(spot.joint in {"wrist", "elbow", "druj"} or spot.plural for spot in spots):
            self.carried.digit = None
        joints = {m.keys["joint"] for m in made} - {None}
        if len(joints) == 1 and made[0].concept.kind in {"movement", "finding"}:
            self.carried.joint = joints.pop()

    def _only_compared(self, st: Statement, made: list[Made], said: tuple[str, ...]) -> bool:
        """ "Pronation 70 right, 80 left.": a number of the other side right after one of the side in force is a comparison.

        The examination goes on with the side it was at, and what follows asks to be checked.
        """
        concepts = {m.concept.id for m in made}
        twins = [m for m in self._on_line(st.line) if m.concept.id in concepts and m not in made and _numeric(m)]
        if len(said) == 1 and not (st.concepts or st.movements) and {s.side for s in st.spots()} == {"other"}:
            return True  # "Watson's positive, contralateral negative"
        sides = {m.keys["side"] for m in twins}
        return (
            len(said) == 1
            and not st.concepts
            and all(map(_numeric, made))
            and sides == set(self.carried.sides) - set(said) != set()
        )

    def _elsewhere(self, spot: Spot) -> bool:
        """Whether a place leaves the one the heading named, so that the heading no longer holds."""
        heading = self.carried.heading
        structure = self.lexicon.structures.get(spot.structure or "")
        away = structure is not None and heading.joint is not None and structure.region not in {heading.joint, None}
        return away or (spot.joint is not None and heading.joint is not None and spot.joint != heading.joint)

    def _either_way(self, st: Statement, made: list[Made]) -> None:
        """In words run together, a side between two statements may belong to either: both ask to be checked."""
        group = st.groups[0] if st.groups else None
        if group is None or group.start != st.start or not group.sides_said or not st.start:
            return
        before = self.tokens[st.start - 1]
        if before.stop or self.tokens[st.start].pause or before.text in SEPARATING:
            return
        if self._sides_lead(st):
            return
        earlier = [m for m in self.last_made() if m.span[1] >= st.start - 1 and self._unpunctuated(m.span[1], st.start)]
        said = tuple(self._side(s) for s in sorted(group.sides_said))
        planned = made[0].concept.part == "plan"
        if not earlier or (said == self.carried.sides and not planned):
            return
        words = self._words(group.start, group.end)
        for one in (*earlier, *made):
            if one.keys.get("side") not in said or one in made:
                one.flag("side_conflict", "check", f'"{words}" may belong to what was said before it, or after.')

    def _sides_lead(self, st: Statement) -> bool:
        """ "Wrist extension right 55 left 70": the side before had its number after it, and so has this one."""
        pair = [h.statement for h in self.history[-2:]]
        return len(pair) == 2 and pair[1] is st and all(map(_side_leads, pair))

    def _between(self, st: Statement, made: list[Made], said: tuple[str, ...]) -> None:
        """ "… Durkan's positive on the left there is a scar …": the side may belong to what follows it."""
        group = next(g for g in st.groups if g.sides_said)
        last = group.end >= st.end and group.prep and len(said) == 1
        stopped = (
            any(t.stop for t in self.tokens[group.start : group.end])
            or group.end >= len(self.tokens)
            or self.tokens[group.end].pause
        )
        if (
            not last
            or stopped
            or not self.carried.sides
            or said == self.carried.sides
            or self.tokens[group.end].text in {"and", "but", "or"}
        ):
            return
        earlier = islice(reversed(self.made), len(made), None)
        previous = next((m for m in earlier if m.concept.part in EXAMINATION), None)
        if previous is None or not previous.carried:
            return
        for one in made:
            one.flag(
                "side_conflict",
                "check",
                f'"{self._words(group.start, group.end)}" may belong to what was said next.',
            )
            if self.tokens[group.end].text in OPENS and len(self.carried.sides) == 1:
                one.keys["side"] = self.carried.sides[0]

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
        own_side = [h for h in self.history if not h.statement.compared]
        previous = own_side[-1] if own_side and own_side[-1].statement.line == st.line else None
        base: tuple[Spot, ...] = ()
        before = self.history[-1].statement if self.history else st
        neighbour = Reason(Rule.PLACE_OF_NEIGHBOUR, (before.start, before.end))
        if st.there and self.history:
            base, st.place_from = self.unnamed or self.history[-1].spots, neighbour
        elif self.tokens[st.start].text in {"not", "non", "tender"} and (here := self._just_made(st)):
            base, st.place_from = here, neighbour
        elif previous and own and previous.spots and self._denied_beside(st):
            base, st.place_from = previous.spots, neighbour
        elif self.subject and self.subject != spots and not (previous and own and self._nearer(st, previous)):
            base, st.place_from = self.subject, Reason(Rule.PLACE_OF_SUBJECT, self.subject_said)
        elif previous and own and previous.spots and st.joined in {"and", "or", "with", ",", None} and self._shares(st):
            base, st.place_from = previous.spots, neighbour
        elif any(s.aspect for s in spots) and self.history:
            base = tuple(replace(s, structure=None) if is_tendon(s.structure) else s for s in self.history[-1].spots)
            st.place_from = neighbour  # the border is the digit's: a tendon has none
        elif self.carried.heading.given():
            base, st.place_from = (self.carried.heading,), Reason(Rule.PLACE_OF_HEADING, self.carried.heading_said)
        if any(spot.hand for spot in spots):
            return spots
        return overlay(base, spots) if base else spots

    def _just_made(self, st: Statement) -> tuple[Spot, ...]:
        """ "the olecranon bursa is swollen, not red": the places of the findings just made in this line, as made."""
        last = [m for m in self._on_line(st.line) if m.batch == self.batch - 1 and m.concept.kind == "finding"]
        spots = [
            Spot(m.keys.get("side"), m.keys.get("digit"), m.keys.get("joint"), m.keys.get("structure"))
            for m in last
            if m.keys.get("structure")
        ]
        return tuple(dict.fromkeys(spots))

    def _nearer(self, st: Statement, previous: Said) -> bool:
        """ "Left hand: synovitis of the index MCP, tender": the neighbour's place is closer than a hand that heads the line."""
        hand = all(not spot.given() - {"side"} for spot in self.subject)
        placed = any(spot.given() - {"side"} for spot in previous.spots)
        return hand and placed and st.joined in {"and", "or", "with", ","} and self._shares(st)

    def _denied_beside(self, st: Statement) -> bool:
        """ "A nodule at the middle finger with no contracture": what is denied so is denied there."""
        denied = self.tokens[st.negation_at[0]].text if st.negation_at and not st.listed else ""
        return denied in {"with", "without"} or (bool(denied) and st.joined == "with")

    def _shares(self, st: Statement) -> bool:
        """Whether a statement without a place may take its neighbour's: "swollen and warm", "not red", not "no scars"."""
        if self.tokens[st.start].text in {"not", "non"}:
            return True
        return st.joined is not None and not (st.negation and not st.listed)

    def _completed(self, spots: tuple[Spot, ...], made: list[Made]) -> tuple[Spot, ...]:
        """The places with the digit in force that completed them, for the statement that continues this one."""
        digits = {m.keys["digit"] for m in made if m.concept.digit is None}
        if len(digits) == 1 and (digit := digits.pop()) and not any(s.digit for s in spots):
            return tuple(replace(s, digit=digit) for s in spots or (Spot(),))
        return spots

    def _on_line(self, line: int) -> list[Made]:
        """What was made on the line being read; nothing follows it yet, so a long dictation is not searched whole."""
        return list(takewhile(lambda m: m.line == line, reversed(self.made)))[::-1]

    def last_made(self) -> list[Made]:
        """What the last statement that made anything made. Looks back from the end, so that no dictation is too long."""
        return list(takewhile(lambda m: m.batch >= self.last_batch, reversed(self.made)))[::-1]

    def drop(self, made: Made) -> int:
        """Take a field out, and return where it stood: near the end, since only what was just said is taken back."""
        at = next(k for k in range(len(self.made) - 1, -1, -1) if self.made[k] is made)
        del self.made[at]
        return at

    def _mode_alone(self, st: Statement) -> None:
        """ "…, both actively" belongs to the numbers before it; "Active:" and "Passive now." head what follows."""
        before = [m for m in self._on_line(st.line) if "mode" in m.concept.takes and m.keys.get("mode") is None]
        if before and not st.mode_heading:
            for made in before:
                made.keys["mode"] = st.mode if st.mode != "both" else None
                made.because(Rule.MODE, (st.start, st.end), st.mode or "")
        else:
            self.carried.set_mode(st.mode, headed=self._marked_off(st.end))
        self._became(Fate.MODE, st, st.mode or "")

    def _marked_off(self, end: int) -> bool:
        """Whether a mark that was said or written, or a pause, comes after what ends at a token."""
        if end < len(self.tokens) and self.tokens[end].text in SEPARATING:
            end += 1  # "Passive now."
        marked = bool(self.tokens[end - 1].stop) and not self.guessed
        return marked or (end < len(self.tokens) and bool(self.tokens[end].pause))

    def _unpunctuated(self, end: int, start: int) -> bool:
        """Whether no stop and no pause parts what ended at one token from what starts at another."""
        stopped = any(t.stop for t in self.tokens[max(0, end - 1) : start])
        return not stopped and not any(t.pause for t in self.tokens[end : start + 1])

    def _words(self, start: int, end: int) -> str:
        return written(self.tokens[start:end])


def _numeric(made: Made) -> bool:
    return made.keys.get("value") is not None or made.keys.get("low") is not None


def _side_leads(st: Statement) -> bool:
    side = next((g for g in reversed(st.groups) if g.sides_said), None)
    return side is not None and len(st.numbers) == 1 and side.end <= st.numbers[0].start
