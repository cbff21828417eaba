"""Results: a "no", a word of status or a number, and the statement it speaks of.

A second status or number starts an elliptical statement about the concept before: "positive on the right, negative on
the left". One that follows a word nobody knows is about that word, and nothing else.
"""

from __future__ import annotations

from dictation.extraction.items import DETERMINERS, PREPOSITIONS, Item
from dictation.extraction.matching import Mention
from dictation.extraction.naming import Naming
from dictation.extraction.places import read_group
from dictation.extraction.statement import KNOWN, SLIPS


class Results(Naming):
    """Reads triggers of negation, words of status, and numbers."""

    def _negation(self, item: Item, negation: Mention, i: int) -> bool:
        if negation.form == "nor" and self.st.negation and self.st.named and not self.st.predicated:
            self.joined = "or"
            return True
        found = {m.id for m in item.all("negation")}
        if found == {"before", "after"}:
            late = self.st.named and not self._named_ahead(i + 1) and self.last_kind in {"be", "concept", "place"}
            late = late and not (self.joined == "," and not item.comma and self._place_at(i + 1))  # "…, nil middle"
            negation = next(m for m in item.all("negation") if m.id == ("after" if late else "before"))
        if negation.id == "after":
            if not (self.st.named or self.st.predicated):
                return False
            if item.get("status") and self.joined in {",", "and"} and self._place_follows_status(i + 1):
                return False
            following = self.items[i + 1] if i + 1 < len(self.items) and not item.comma else None
            if item.get("status") and self.joined == "," and following is not None and following.word in PREPOSITIONS:
                self.close(i)
                self.st.unknown = True
            if item.get("status") and not self.st.statuses:
                return False
            self.st.negation_after, self.st.negation_at = True, (item.start, item.end)
            self._cover(item, "negation")
            return True
        ends = item.comma or i + 1 >= len(self.items)
        object_ = negation.form in {"nothing", "nil", "none"} and self.last_kind == "concept" and self.joined is None
        if ends and self.st.named and not self.st.predicated and (object_ or self.items[i - 1].word in {"does", "do", "did"}):
            self.st.negation_after, self.st.negation_at = True, (item.start, item.end)
            self._cover(item, "negation")
            return True
        if ends and negation.form == "not" and self.st.groups and not (self.st.named or self.st.predicated):
            self.st.negation, self.st.negation_at = negation.id, (item.start, item.end)  # "medial not, Cozen's positive"
            self._cover(item, "negation")
            self.close(i + 1)
            return True
        if ends and negation.form == "not" and not item.colon:
            self.close(i + 1)  # a "not" that ends its clause denies nothing that comes after
            return True
        bare = item.get("status") is not None and (item.comma or i + 1 >= len(self.items))
        if bare and not self._named_ahead(i + 1):
            return False
        ahead = next((m for x in self.items[i + 1 : i + 3] for m in x.all("concept")), None)
        if ahead is not None and not self.st.predicated and self._sign_of_test(ahead.id):
            self.st.negation, self.st.negation_at = negation.id, (item.start, item.end)
            self._cover(item, "negation")
            return True
        after_subject = self.last_kind in {"place", "be", ""} and not self.st.named
        before_status = (
            self.st.named
            and not self.st.predicated
            and self.last_kind in {"be", "concept", "place"}
            and self._status_ahead(i + 1)
        )
        if after_subject and self.st.retracts and (self.st.groups or self.st.numbers) and not self.st.predicated:
            self.close(i)
            self.st.negation, self.st.negation_at = negation.id, (item.start, item.end)
            self._cover(item, "negation")
            return True
        if not after_subject and not before_status:
            leading = self._leading_places()
            self.close(i)
            self.st.groups = leading
        if negation.id == "double":
            self.st.double_negation = True
        elif self.st.negation is None:
            self.st.negation = negation.id
        else:
            self.st.double_negation = True
        self.st.negation_at = (item.start, item.end)
        self._cover(item, "negation")
        return True

    def _neither(self, i: int) -> int:
        """ "neither wrist is tender" names both sides; "neither swelling nor warmth" names none. The index after it."""
        following = self.items[i + 1] if i + 1 < len(self.items) else None
        if self.items[i].get("side") and following is not None and not following.get("concept"):
            group = read_group(self.items, i, subject=True)
            if group is not None:
                self.st.groups.append(group)
                self._cover_group(group)
                return group.last
        return i + 1

    def _number(self, item: Item, i: int) -> int:
        st = self.st
        wanted = max(1, st.wanted, len(st.spots()) if st.named and self.joined in {",", "and"} else 1)
        trials = (
            (self.joined in {",", "and"} or self.last_kind == "number")
            and (self._strength_open() or self._weights(i))
            and (self._unit_last(item) or not self._place_soon(item))
        )
        if (not st.named and st.numbers and not self._pair_of_sides(item) and self.joined != "and" and not trials) or (
            st.named and len(st.numbers) >= wanted and not self._more_numbers(item)
        ):
            self.close(i)
        self._mark_unknown(i)
        following = self.items[i + 1] if i + 1 < len(self.items) else None
        if (
            following is not None
            and (counted := following.get("aggregate")) is not None
            and counted.id == "trial"
            and counted.plural
        ):
            return i + 2
        if self.st.negation and item.comma and not self.st.named and set(self.st.words) - KNOWN:
            self.st.unknown = True  # "no sports for four weeks, review": what is denied is a word nobody knows
        if item.number is not None:
            self.st.numbers.append(item.number)
        self._cover(item, "number")
        return i + 1

    def _mark_unknown(self, i: int) -> None:
        """ "triceps four" where triceps is no known term: the four is not about what was named before it."""
        after = self.items[i + 1] if i + 1 < len(self.items) else None
        before = self.items[i - 1] if i else None
        known = KNOWN
        qualified = (
            self.items[i].get("status") is not None and after is not None and bool(after.word) and not self.items[i].comma
        )
        if qualified and after is not None and after.word not in known and not self.st.named:
            self.st.unknown = True
        if before is None or not before.word or before.comma or self.st.named:
            return
        self.st.unknown = self.st.unknown or before.word not in known

    def _weights(self, i: int) -> bool:
        """ "thirty one, thirty three and thirty two kilograms": a run of numbers that ends in a weight is trials."""
        while i < len(self.items) and (self.items[i].number is not None or self.items[i].word == "and"):
            number = self.items[i].number
            if number is not None and number.unit in {"kg", "[lb_av]"}:
                return True
            i += 1
        return False

    def _more_numbers(self, item: Item) -> bool:
        """Trials of a strength, and two numbers followed by two sides, stay in one statement."""
        st = self.st
        ids = {m.id for m in st.concepts}
        measured = any("strength" in c or "grip" in c or "pinch" in c for c in ids)
        if measured and self._of_the_next_side():
            return False
        if measured and (self._unit_last(item) or not self._place_soon(item)):
            return True
        return self._pair_of_sides(item)

    def _of_the_next_side(self) -> bool:
        """ "28, 30 and 29 kg on the right, 40, 41 and 39 kg on the left": trials whose side follows begin after that side."""
        sided = [g for g in self.st.groups if g.sides_said]
        if self.last_kind != "place" or not sided or sided[0].start < self.st.numbers[0].start:
            return False
        i = self.at
        while i < len(self.items) and (self.items[i].number is not None or self.items[i].word in {"and", "then"}):
            i += 1
        while i < len(self.items) and self.items[i].word in PREPOSITIONS | DETERMINERS:
            i += 1
        return i < len(self.items) and self.items[i].get("side") is not None

    def _unit_last(self, item: Item) -> bool:
        """ "28, 30 and 29 kg on the right": numbers that wait for the unit of the last are trials, and share its side."""
        before = self.st.numbers
        weighed = item.number is not None and item.number.unit in {"kg", "[lb_av]"}
        return weighed and bool(before) and all(n.unit is None for n in before) and self.last_kind == "number"

    def _status_first(self, item: Item) -> bool:
        """Whether an item that is both a concept and a status is the status the open statement waits for."""
        concept = item.get("concept")
        if concept is None:
            return True
        st = self.st
        before = self.out[-1].concepts if self.out else []
        steadied = any(m.id in SLIPS or self.kinds.get(m.id) == "test" for m in before) and concept.id == "joint_instability"
        if steadied and st.groups and not st.named and self.joined is None and len({*st.spots()}) == 1:
            return not any(s.given() - {"side"} for s in st.spots())
        sensitive = {"altered"} == {m.id for m in item.all("status")} and self.kinds.get(concept.id) == "finding"
        if sensitive and all(self.kinds.get(m.id) == "finding" for m in st.concepts):
            return False
        waiting = (
            st.named and not st.predicated and self.joined is None and self.last_kind in {"concept", "be", "place", "negation"}
        )
        return waiting and not any(m.id == concept.id for m in st.concepts)

    def _status(self, item: Item, i: int) -> int:
        st = self.st
        ids = frozenset(m.id for m in item.all("status"))
        leads = self._concept_adjacent(i + 1) and not item.comma and not self._own_predicate(i + 1)
        before = self.items[i - 1] if i else None
        if st.named and st.predicated and before is not None and before.word and not before.comma and before.word not in KNOWN:
            self.close(i)
            self.st.unknown = True
        if st.named and st.joined == "with" and self.joined == "," and not st.predicated and self._place_follows_status(i + 1):
            self.close(i)
        nothing = "absent" in ids and st.groups and self.joined in {",", "and"} and self._place_follows_status(i + 1)
        graded = bool(st.numbers and st.groups) and self.joined in {"and", ","} and self._place_follows_status(i + 1)
        if not st.named and not leads and ((st.statuses and self.joined == ",") or graded):
            self.close(i)
        if st.named and not st.predicated and nothing:
            self.close(i)
        elif st.named and st.predicated:
            if ids == {"present"}:
                pass
            elif (
                leads
                or (self.joined == "," and self._nerve_follows(i + 1))
                or (self._place_follows_status(i + 1) and (self.last_kind != "status" or self.joined == ","))
                or (st.groups and (self.joined in {",", "and"} or self.last_kind == "place") and self.last_kind != "status")
            ):
                self.close(i)
        elif st.named and leads and (self.joined in {",", "and", "with"} or self.last_kind == "status"):
            self.close(i)
        elif st.named and self._of_another(i):
            self.close(i)
            self.st.unknown = True
        after = self.items[i + 1] if i + 1 < len(self.items) else None
        dangling = ids == {"absent"} and not item.comma and after is not None and bool(after.word) and after.word not in KNOWN
        if (
            st.named
            and dangling
            and not self._place_follows_status(i + 1)
            and not leads
            and self.last_kind != "be"
            and self.st is st
        ):
            self.close(i)
            self.st.unknown = True
        self._place_before_be()
        self._mark_unknown(i)
        self.st.statuses.append(ids)
        self.st.status_at.append(item.start)
        self._cover(item, "status")
        return i + 1

    def _of_another(self, i: int) -> bool:
        """ "Dupuytren's disease, recurrence no": a word nobody knows, after a comma, is what the result is about."""
        k = i
        while k > 0 and self.items[k - 1].word and not self.items[k - 1].comma:
            k -= 1
        words = [x.word for x in self.items[k:i] if not x.word.endswith("ly")]
        opens = k > 0 and self.items[k - 1].comma and not self.items[k - 1].colon
        return opens and bool(words) and words[-1] not in KNOWN and not any(x.place for x in self.items[k:i])

    def _place_before_be(self) -> None:
        """ "T1 reduced on the left all four are normal": the place stands before a second "are", and belongs to it."""
        st = self.st
        late = st.named and st.statuses and st.groups and st.groups[-1].start > st.status_at[-1] and self.last_kind == "be"
        if not late or self.joined:
            return
        group = st.groups.pop()
        st.end = group.start
        self.out.append(st)
        self.st = self._new(group.first)
        self.st.groups, self.st.start, self.st.end, self.st.unknown = [group], group.start, group.end, True
