"""What only the end of a sentence settles: a side said last, a result at the end of a list, a place shared backwards."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from dictation.extraction.fields import Fields
from dictation.extraction.made import Made
from dictation.extraction.reasons import Fate, Rule
from dictation.extraction.sides import EXAMINATION
from dictation.extraction.statement import Statement

NEAR_WORDS = 14
"""How far back a side said at the end of a sentence reaches, in words; chosen by us, no source."""


def _refines(early: dict[str, Any], late: dict[str, Any]) -> bool:
    """Whether what was said later is the same, told more exactly: its severity, or its digit."""
    keys = {k for k in (*early, *late) if early.get(k) != late.get(k)}
    return bool(keys) and keys <= {"severity", "digit", "joint"} and all(early.get(k) is None for k in keys)


LISTING = {"no", "nor", "or", "and", "not", "nil", "neither"}
"""Words that begin the last of a list of denials."""


class LineEnd(Fields):
    """Looks back over a line once it is read."""

    def close_line(self, line: int) -> None:
        """A side said only at the end of a line ("…, all on the left") holds for the fields before it that had none."""
        for early, _ in self.waiting:
            self.lost.append((early.start, early.end, "no result was said with it"))
        self.waiting = []
        sided = EXAMINATION | {"impression"}
        here = [m for m in self._on_line(line) if "side" in m.concept.takes and m.concept.part in sided]
        punctuated = any(t.stop for t in self.tokens[here[0].span[0] : here[-1].span[1] + 1]) if here else False
        spoken = [(m.keys["side"], m.span) for m in here if m.keys["side"] and not m.carried and not m.contrast]
        sides = list(dict.fromkeys(s for s, _ in spoken))
        here = self._said_again(here)
        self._shared_negatives(here)
        if not spoken and (late := self._headed_last(here)):
            spoken, sides = [late], [late[0]]
        if not spoken or len(sides) != 1:
            return
        for made in here:
            if spoken[0][1][0] - made.span[1] > NEAR_WORDS:
                continue
            if made.keys["side"] is None and any(code == "side_missing" for code, _, _ in made.flags):
                made.keys["side"], made.carried, made.side_span = sides[0], True, spoken[0][1]
                made.flags = [f for f in made.flags if f[0] != "side_missing"]
                made.instead("side", Rule.SIDE_LATER, spoken[0][1], sides[0])
                level = "info" if punctuated else "check"
                made.flag("side_carried", level, f'The side ({sides[0]}) was said later in the same sentence: "{{side}}".')

    def _headed_last(self, here: list[Made]) -> tuple[str, tuple[int, int]] | None:
        """ "Pulp to palm one centimetre in the index, nil in the ring, left hand.": a hand by itself at the end of the line."""
        last = self.outcomes[-1] if self.outcomes else None
        if last is None or last.fate is not Fate.HEADING or not here or len(self.carried.sides) != 1:
            return None
        start, end = last.span
        ends = end >= len(self.tokens) or self.tokens[end - 1].stop in {".", ";"}
        follows = here[-1].span[1] <= start and not any(t.stop in {".", ";"} for t in self.tokens[here[-1].span[1] - 1 : start])
        return (self.carried.sides[0], last.span) if ends and follows and self.tokens[start - 1].stop == "," else None

    def _said_again(self, here: list[Made]) -> list[Made]:
        """ "Wasting on both sides, mild on the left", "no malrotation and no scissoring of the ring": one and the same."""
        gone: set[int] = set()
        for late in here:
            for early in here:
                if {id(early), id(late)} & gone or early.span >= late.span:
                    continue
                plainer = any(code == "expanded" for code, *_ in late.flags) and _refines(late.keys, early.keys)
                if early.concept is late.concept and plainer:
                    early.more_spans.append(late.span)
                    self.drop(late)
                    gone.add(id(late))
                elif early.concept is late.concept and _refines(early.keys, late.keys):
                    late.more_spans.append(early.span)
                    late.why = [*early.why, *late.why]
                    self.drop(early)
                    gone.add(id(early))
        return [m for m in here if id(m) not in gone]

    def _shared_negatives(self, here: list[Made]) -> None:
        """ "No triggering, no warmth and no synovitis in either hand": the side at the end holds for the whole list."""
        last = [m for m in here if m.batch == here[-1].batch] if here else []
        sides = [m.keys["side"] for m in last if not m.carried and m.keys["side"]]
        before = [m for m in here if m.batch != here[-1].batch] if here else []
        same = all(m.keys.get("status") == "absent" for m in here) if here else False
        listed = bool(last) and bool(LISTING & {t.text for t in self.tokens[max(0, last[0].span[0] - 1) : last[0].span[0] + 1]})
        if not sides or not before or not same or not listed or not all(m.carried or m.keys["side"] is None for m in before):
            return
        for made in before:
            at = self.drop(made)
            for side in dict.fromkeys(sides):
                new = replace(made, keys={**made.keys, "side": side}, carried=True, side_span=last[0].span, why=list(made.why))
                new.instead("side", Rule.SIDE_LATER, last[0].span, side)
                new.flags = [f for f in made.flags if f[0] not in {"side_missing", "side_carried"}]
                new.flag("side_carried", "info", f'The side ({side}) was said at the end of the list: "{{side}}".')
                self.made.insert(at, new)

    def _share_back(self, st: Statement, made: list[Made]) -> None:
        """ "Mild swelling and moderate tenderness over the snuffbox": the place holds for both."""
        if (
            st.joined != "and"
            or not st.groups
            or made[0].concept.kind != "finding"
            or len({m.keys["structure"] for m in made}) > 1
        ):
            return
        for old in [m for m in self.last_made() if m.line == st.line]:
            bare = old.concept.kind == "finding" and not any(old.keys.get(k) for k in ("digit", "joint", "structure"))
            if (
                bare
                and old.keys.get("status") == made[0].keys.get("status") == "present"
                and (old.carried or old.keys["side"] is None)
            ):
                for key in ("digit", "joint", "structure"):
                    if key in old.concept.takes:
                        old.keys[key] = made[0].keys.get(key)
                        if old.keys[key]:
                            old.because(Rule.PLACE_SHARED, made[0].span, old.keys[key])
                if made[0].keys["side"] and not made[0].carried:
                    old.keys["side"], old.carried = made[0].keys["side"], False
                    old.instead("side", Rule.SIDE_LATER, made[0].span, old.keys["side"])
                    old.flags = [f for f in old.flags if f[0] not in {"side_missing", "side_carried"}]
