"""Concepts: whether a concept joins the open list or starts a statement of its own."""

from __future__ import annotations

from dictation.extraction.items import DETERMINERS, Item
from dictation.extraction.places import read_group
from dictation.extraction.placing import Placing
from dictation.extraction.statement import BE, GENERIC, REFERRED

MOVED = {"movement", "power", "strength", "function"}


MEASURED = {"strength", "power", "function", "measure"}
"""Kinds of concept that a weight before them may belong to; before any other it belongs to what was named earlier."""

STRESSED = {"maximal", "maximally", "point", "focal", "exquisite", "exquisitely"}
"""First words of forms that say a finding is there: "no effusion, maximal tenderness over the epicondyle"."""


class Naming(Placing):
    """Reads concepts and movement words."""

    def _concept(self, item: Item, i: int) -> int:
        st = self.st
        concepts = item.all("concept")
        movement = item.get("movement")
        last = i + 1 >= len(self.items)
        if (
            not st.named
            and st.groups
            and not self._result_first(i + 1)
            and self.last_kind == "place"
            and self.joined == ","
            and (st.statuses or st.numbers)
            and not last
        ):
            self.close(i)
            st = self.st
        if st.retracts and not st.named and self.joined is None and self._corrects_alone(i):
            self.close(i)
            st = self.st
        if st.nerves and not st.named and st.predicated:
            self.close(i)
            st = self.st
        weighed = any(n.unit in {"kg", "[lb_av]"} for n in st.numbers)
        if concepts and not st.named and weighed and self.kinds.get(concepts[0].id) not in MEASURED:
            self.close(i)
            st = self.st
        if self._of_plan(i):
            self._cover(item, "concept", "purpose")
            return i + 1
        if self._manoeuvre(i):
            return i + 1
        first = not self.out and not any(x.number or x.get("status") or x.word in BE for x in self.items[i + 1 :])
        timed = bool(concepts) and self.kinds.get(concepts[0].id) == "reported" and self.last_kind == "number"
        if not st.named and st.predicated and not first and not timed and self._complete():
            self.close(i)
            st = self.st
        if (
            not st.named
            and st.predicated
            and not timed
            and (st.unknown or (st.numbers and self._value_after(i) and self.items[i - 1].word != "of"))
        ):
            self.close(i)
            st = self.st
        if movement is not None and movement.id in {"power", "strength"} and not concepts:
            if self._power_of_nothing_named(i):
                self.close(i)
                self.st.unknown = True
                self._cover(item, "power")
                return i + 1
            if (st.named or st.groups) and self.last_kind in {"concept", "place", "mode", "modifier", "power"}:
                st.power, st.strength = True, st.strength or movement.id == "strength"
                self._cover(item, "power")
            return i + 1
        if concepts and self.items[i - 1].word == "to" and st.concepts and st.concepts[-1].id in REFERRED:
            st.concepts.pop()
        if concepts and self._sign_of_test(concepts[0].id):
            st.shown = True
            if status := concepts[0].sets.get("status"):
                st.statuses.append(frozenset({status}))
                st.status_at.append(item.start)
            self._cover(item, "status")
            return i + 1
        if self._heading_before():
            st.mode, st.concepts = st.mode or st.concepts[0].sets.get("mode"), []
        if self._bare_list(i):
            self.joined = ","
        if st.named and not self._continues(i, movement is not None):
            negated = st.negation is not None
            told = self.last_kind == "be" and item.get("movement") is None and not self.joined
            listed = negated and self._list_joined(i) and not st.negation_after and not self._another_room(i)
            self.close(i)
            if listed and self.st.negation is None:
                self.st.negation, self.st.listed, self.st.negation_at = st.negation, True, st.negation_at
            self.st.there = self.st.there or told
        if self.st.named and self.st.severity and not self.st.negation and self.items[i - 1].word in {"some", "a", "an"}:
            joined = self.joined
            self.close(i)
            self.st.joined = joined
        self.st.either = self.st.either or (self.joined == "or" and bool(self.st.concepts))
        if concepts and any(m.id == concepts[0].id for m in self.st.concepts):
            pass
        elif concepts:
            self.st.concepts.append(concepts[0])
        elif movement is not None:
            self.st.movements.append(movement)
        self._cover(item, "concept")
        return i + 1

    def _power_of_nothing_named(self, i: int) -> bool:
        """ "No scar, power four out of five": a finding has no power, so a result right after is of what nobody named."""
        told = self.joined == "," or self._number_soon(i + 1)
        return told and bool(self.st.concepts) and all(self.kinds.get(m.id) == "finding" for m in self.st.concepts)

    def _continues(self, i: int, movement: bool) -> bool:
        """Whether a further concept joins the open list, or fills a statement that began with its number."""
        st = self.st
        if st.copy or st.general or self._another_room(i):
            return False
        if st.predicated:
            return False
        if (
            self.joined is None
            and self.last_kind == "concept"
            and not st.there
            and any(m.id == c.id for m in st.concepts for c in self.items[i].all("concept"))
        ):
            return True
        after = self.items[i + 1] if i + 1 < len(self.items) else None
        ends = self.items[i].comma or after is None
        own = not ends and after is not None and (after.word in BE or (self.joined == "," and self._says(after)))
        if self.joined == "," and any(m.id == c.id for m in st.concepts for c in self.items[i].all("concept")):
            return False
        if self.joined == "," and st.roles and st.roles[-1][0] == "severity" and not st.negation:
            return False
        told = any(
            c.observed or c.sets.get("status") == "absent" or c.form.split(" ")[0].lower() in STRESSED
            for c in self.items[i].all("concept")
        )
        if st.negation and self.joined in {"and", ","} and (own or told):
            return False
        if self.joined == "," and not self._list_joined(i) and self._says_alone(i):
            return False
        if self.joined == "," and st.groups and not st.negation and not ends and after is not None and self._own_place(i + 1):
            return False
        plans = any(self.kinds.get(m.id) == "plan" for m in st.concepts)
        return self.joined in {"and", "or", ","} and self.last_kind in {"concept", "nerve"} and not plans

    def _manoeuvre(self, i: int) -> bool:
        """ "With resisted thumb abduction, the synergy test …": how a test was done, before the comma, is no finding."""
        start = i
        while start > 0 and not self.items[start - 1].comma:
            start -= 1
        led = self.items[start].word in {"with", "on", "during", "by"} and not self.st.named and not self.st.predicated
        ids = self.items[i].all("concept")
        moved = self.items[i].get("movement") is not None or any(self.kinds.get(m.id) in MOVED for m in ids)
        ends = next((x for x in self.items[i:] if x.comma), None)
        told = any(x.number or x.get("status") or x.get("negation") for x in self.items[start : i + 1])
        return led and moved and ends is self.items[i] and not told and i + 1 < len(self.items)

    def _sign_of_test(self, concept: str) -> bool:
        """ "Allen's test shows prompt refill", "biceps squeeze, no supination": what is looked for tells the result."""
        return any(f"{m.id} {concept}" in self.signs for m in self.st.concepts)

    def _corrects_alone(self, i: int) -> bool:
        """Whether what was said so far in a correction is all of it: "sorry, seventy", "correction, the right wrist"."""
        st = self.st
        if st.numbers:
            return self.items[i - 1].word != "of"
        before = {k for g in (self.out[-1].groups if self.out else ()) for k in g.given()}
        return any(before & g.given() for g in st.groups) and not self._own_predicate(i)

    def _own_place(self, i: int) -> bool:
        """ "PIP swollen, tender over the volar plate": a place of another sort follows, for this concept alone."""
        group = read_group(self.items, i, subject=False)
        given = {k for g in self.st.groups for k in g.given()}
        placed = {"joint", "structure"}
        return group is not None and group.prep and bool(group.given() & placed) and bool(given & placed)

    def _another_room(self, i: int) -> bool:
        """A plan or an impression never stands in one list with findings."""
        apart = {"plan", "impression", "context", "reported"}
        kinds = {self.kinds.get(m.id) for m in self.items[i].all("concept")}
        open_kinds = {self.kinds.get(m.id) for m in self.st.concepts}
        return bool(kinds) and bool(open_kinds) and (kinds & apart != open_kinds & apart) and not kinds & open_kinds

    def _bare_list(self, i: int) -> bool:
        """ "no swelling bruising or deformity" without its comma: terms side by side, the last joined by "or" or "and"."""
        st = self.st
        beside = self.joined is None and self.last_kind == "concept" and not st.predicated and self._list_from(i)
        return beside and (st.negation is not None or self._result_ends_list(i))

    def _says_alone(self, i: int) -> bool:
        """Whether a concept after a comma stands apart: a test after a finding, or one told by its own word or status."""
        st, item = self.st, self.items[i]
        kinds = {self.kinds.get(m.id) for m in (*st.concepts, *item.all("concept"))}
        if {"finding", "test"} <= kinds:
            return True
        after = self.items[i + 1] if not item.comma and i + 1 < len(self.items) else None
        if not st.negation:
            told = after is not None and (after.word in BE or after.get("status") is not None)
            return told and self.items[i - 1].get("adjective") is not None  # "swollen, radial pulse absent"
        return item.get("adjective") is not None or (after is not None and after.get("status") is not None)

    def _heading_before(self) -> bool:
        """ "Sensation: light touch reduced": the general word only headed the particular one."""
        st = self.st
        only = len(st.concepts) == 1 and st.concepts[0].id in GENERIC and not st.predicated and not st.movements
        return only and self.last_kind == "concept" and self.joined in {None, ","} and not st.negation

    def _of_plan(self, i: int) -> bool:
        """ "aspiration of the ganglion": what a plan is for makes no finding."""
        before = [m for m in self.st.concepts if self.kinds.get(m.id) == "plan"]
        beside = not self.joined and any(self.kinds.get(m.id) == "plan" for m in self.items[i - 1].mentions)
        if not beside and any(self.kinds.get(m.id) == "plan" for m in self.items[i].all("concept")):
            return False
        if before and before[-1].form.split()[-1:] in (["for"], ["of"]) and self.last_kind in {"concept", "place"}:
            return True
        if before and self.last_kind == "place" and not self.joined and self.st.groups:
            led = self.items[self.st.groups[-1].first]
            if led.word in DETERMINERS and led.start == before[-1].end:
                return True  # "aspirate the right ganglion"
        link = next((w.word for w in reversed(self.items[max(0, i - 3) : i]) if w.word and w.word not in DETERMINERS), "")
        return link in {"of", "for"} and any(self.kinds.get(m.id) == "plan" for m in self.st.concepts)

    def _complete(self) -> bool:
        """Whether a statement that began with its status has had its place ("normal in the index"), or other words, since."""
        st = self.st
        if self.gap:
            return True
        if st.groups and st.statuses and self.last_kind == "status" and {"is", "are", "was", "were"} & set(st.words):
            return True
        tendon = any(m.kind == "structure" for g in st.groups for k in range(g.first, g.last) for m in self.items[k].mentions)
        if tendon and st.statuses and self.last_kind == "status" and st.groups[-1].end <= st.status_at[0]:
            return True
        told = self._own_predicate(self.at) or any("status" in m.sets for m in self.items[self.at].all("concept"))
        if st.numbers and st.groups and self.items[self.at - 1].word != "of" and told:
            return True
        if self.last_kind == "be" or self.at + 1 >= len(self.items):
            return False
        return bool(st.groups and st.status_at and st.groups[-1].prep and st.groups[-1].start > st.status_at[-1])
