"""Where a place belongs: to what was said before it, or to what follows.

A bare place joins what follows it, a place after a preposition what precedes it; one that clashes with the open statement
starts an elliptical one.
"""

from __future__ import annotations

from dataclasses import replace

from dictation.extraction.ahead import Ahead
from dictation.extraction.items import DETERMINERS, PREPOSITIONS, Item
from dictation.extraction.places import FILLERS, WHERE, PlaceGroup, read_group
from dictation.extraction.statement import BE

WHOLE = {"hand_dominance", "occupation"}
"""Said of the patient, not of a place: a place after them belongs to what follows."""


TURNED = {"returning", "back", "moving", "turning", "switching", "going", "coming"}
"""Words of turning to the other side: the place after them heads what follows."""


class Placing(Ahead):
    """Reads places."""

    def _place(self, i: int) -> PlaceGroup | None:
        item = self.items[i]
        if item.word == "with" and self._with_concept(i):
            return None
        if item.word and item.word not in PREPOSITIONS | DETERMINERS | WHERE:
            return None
        if not item.word and not item.place:
            return None
        k = i
        while k < len(self.items) and self.items[k].word in DETERMINERS | PREPOSITIONS:
            k += 1
        if k < len(self.items) and self.items[k].get("nerve_name") and self._nerve_here(k):
            return None
        if k < len(self.items) and self._both_of_its(k):
            return None
        k = i
        while k < len(self.items) and self.items[k].word in DETERMINERS:
            k += 1
        if k < len(self.items) and self.items[k].get("concept") and self._prefers_concept(self.items[k], k):
            return None
        side = item.get("side")
        opens = i == 0 or self.items[i - 1].comma
        bare = side is not None and side.id == "right" and item.comma and not item.colon and item.end - item.start == 1
        named = any(self.kinds.get(m.id) in {"impression", "plan"} for m in self.st.concepts)
        named = named or (self.st.named and not self.st.predicated)  # "Finkelstein's, right, positive"
        if bare and opens and not named and not self._place_at(i + 1) and len(self.items) > 1:
            self.st.perhaps_right = True
            return None
        if side is not None and side.id in {"both", "both_word"} and not self._truly_both(i):
            return None
        subject = not self.st.named and not self.st.predicated
        return read_group(self.items, i, subject=subject)

    def _with_concept(self, i: int) -> bool:
        """ "a cord with an MCP contracture": the place after "with" belongs to what comes next."""
        if not self.st.named or self.items[i].comma:
            return False
        group = read_group(self.items, i + 1, subject=True)
        after = self.items[group.last] if group is not None and group.last < len(self.items) else None
        return (
            group is not None
            and after is not None
            and not self.items[group.last - 1].comma
            and after.get("concept") is not None
        )

    def _truly_both(self, i: int) -> bool:
        """Whether "both" means both sides.

        Not in "are both full", "both actively", "both sides of the ring finger", "snuffbox and tubercle both tender".
        """
        item = self.items[i]
        k = i + 1
        while k < len(self.items) and self.items[k].word in DETERMINERS | {"of"} and not self.items[k - 1].comma:
            k += 1
        after = self.items[k] if k < len(self.items) and not item.comma else None
        if not self.st.named and len(self.st.spots()) > 1:
            return False
        if self._both_of_its(i):
            return False
        if k == i + 1 and after is not None and after.get("concept") and not self._pair_named(k):
            return True
        if item.get("side").id == "both":  # type: ignore[union-attr]
            return after is None or self.items[k - 1].word not in DETERMINERS or after.get("digit") is None
        if after is not None and after.place and not (after.get("side") and not after.get("digit")):
            return True
        before = self.items[i - 1] if i else None
        if item.colon and i == 0:
            return True
        last = item.comma or i + 1 >= len(self.items)
        ends = bool(before and (before.get("status") or before.number or before.word in PREPOSITIONS))
        one = bool(before and before.comma and before.get("concept")) and len(self.st.concepts) == 1
        return last and (ends or one)

    def _both_of_its(self, i: int) -> bool:
        """ "Intact on both borders": the two borders of one finger, no sides."""
        side, after = self.items[i].get("side"), self.items[i + 1] if i + 1 < len(self.items) else None
        return side is not None and side.id == "both_word" and after is not None and after.word in FILLERS - {"side", "joint"}

    def _pair_named(self, k: int) -> bool:
        """ "both Phalen's and Durkan's": the word joins two terms and means no sides."""
        joined = self.items[k + 1] if k + 1 < len(self.items) else None
        return joined is not None and joined.word in {"and", "or", "nor"}

    def _prefers_concept(self, item: Item, i: int) -> bool:
        """Of "carpal tunnel" as structure and as diagnosis: the diagnosis where nothing else is named with it."""
        concept = item.get("concept")
        if concept is None or any(m.kind in {"side", "digit", "joint"} for m in item.mentions):
            return False
        after = self.items[i + 1] if i + 1 < len(self.items) else None
        if concept.observed and after is not None and (after.word in BE or after.get("status") or self._observed_pair(i + 1)):
            return True
        if self.kinds.get(concept.id) == "power" and self._number_soon(i + 1):
            return True
        if self.st.named:
            return False
        led = i > 0 and self.items[i - 1].word in PREPOSITIONS
        return not led and not self._concept_adjacent(i + 1)

    def _take_place(self, group: PlaceGroup, i: int) -> int:
        st = self.st
        nxt = self._significant(group.last)
        boundary = self.items[group.last - 1].comma
        turned = group.prep and i > 0 and self.items[i - 1].word in TURNED and group.given() <= {"side", "hand", "joint"}
        if turned and (st.named or st.predicated):
            return self._elliptical(group, i)
        both = [g for g in st.groups if g.sides_said == frozenset({"right", "left"}) and len(g.sides_said) == 2]
        one = group.prep and group.given() == {"side"} and len(group.sides_said) == 1
        if both and one and (st.named or st.predicated or st.severity):
            bare = [replace(g, spots=tuple(replace(s, side=None) for s in g.spots), sides_said=frozenset()) for g in both]
            st.groups = [g for g in st.groups if g not in both] + [g for g in bare if g.given()]
            self._add_place(group)
            return group.last
        if self._compared(i):
            self._cover_group(group)
            return group.last
        if not (st.named or st.predicated or st.nerves):
            if (
                st.negation
                and self.joined == ","
                and len(group.sides_said) == 1
                and any(len(g.sides_said) == 1 and g.sides_said != group.sides_said for g in st.groups)
            ):
                st.negation, st.negation_at = None, None  # "not the right, the left wrist is swollen"
            self._add_place(group)
            return group.last
        whole = st.concepts[-1] if st.concepts and st.concepts[-1].id in WHOLE else None
        if whole is not None and not group.prep and (whole.sets.get("side") or whole.id != "hand_dominance"):
            return self._elliptical(group, i)
        given = {k for g in st.groups for k in g.given()}
        clash = bool(given & group.given()) and not self._agrees(group)
        if (
            st.named
            and self.last_kind == "place"
            and not (group.prep or self.joined)
            and group.given() - {"side"}
            and group.given() <= given
        ):
            return self._elliptical(group, i)
        next_concept = nxt is not None and not boundary and nxt[1] in {"concept", "negation", "copy"}
        opens = not st.named and self.last_kind == "status" and not st.groups
        next_concept = next_concept and not opens
        untested = bool(st.statuses) and "not_assessed" in st.statuses[-1] and self.last_kind == "status" and st.named
        if untested and next_concept and not group.prep and not self.joined:
            return self._elliptical(group, i)  # "grip not tested left grip 38"
        next_value = nxt is not None and not boundary and nxt[1] in {"status", "number", "severity"}
        k = group.last
        while k < len(self.items) and (self.items[k].word in {"all", "of", "them", "these"} or self.items[k].number):
            k += 1
        counted = k > group.last and self.items[group.last].word == "all"
        k = k if counted else group.last
        next_be = k < len(self.items) and not boundary and self.items[k].word in BE
        before_comma = self.joined == "," and not group.prep
        everywhere = not group.prep and {s.side for s in group.spots} == {"right", "left"} and group.given() == {"side"}
        power = group.last < len(self.items) and any(m.id == "power" for m in self.items[group.last].all("movement"))
        apart = (next_value or power) and (group.prep or group.given() > {"side", "structure"} or power)
        if apart and st.named and st.predicated and (parted := self._without_last_structure(group, i)):
            return self._take_place(parted, i)
        purpose = [m for m in st.concepts if self.kinds.get(m.id) == "plan"]
        object_ = bool(purpose) and self.items[i].word in DETERMINERS and self.items[i].start == purpose[-1].end
        if (
            purpose
            and self.last_kind == "concept"
            and ((object_ and not self.joined) or purpose[-1].form.split()[-1:] == ["for"])
        ):
            self._add_place(group)
            return group.last
        if self._result_first(group.last):
            self._add_place(group)
            return group.last
        if st.numbers and not boundary and group.given() == {"side"} and self._numbers_lead(group.last):
            return self._elliptical(group, i)
        if self._one_of_both(group, boundary=boundary):
            st.groups = [g for g in st.groups if not g.sides_said]
            self._add_place(group)
            return group.last
        if everywhere and (st.predicated or st.named) and "side" not in given:
            self._add_place(group)
            return group.last
        listed = self.joined == "or" or not next_concept
        if self.joined in {"and", "or"} and st.groups and self.last_kind == "place" and not next_be and listed:
            if st.predicated and next_value and clash:
                return self._elliptical(group, i)
            st.groups.append(group)
            self._cover_group(group)
            return group.last
        direct = (
            group.prep and (st.named or st.nerves) and not st.predicated and self.last_kind in {"concept", "nerve", "place"}
        )
        if counted and next_be:
            return self._elliptical(group, i)
        if next_be and not direct and not (st.predicated and not st.groups and group.prep):
            return self._elliptical(group, i)
        if next_concept and not group.prep and not (nxt and nxt[1] == "concept" and nxt[2] == "of"):
            return self._elliptical(group, i)
        if clash:
            return self._elliptical(group, i)
        if (
            boundary
            and group.prep
            and self.joined == ","
            and nxt is not None
            and nxt[1] in {"concept", "negation"}
            and st.predicated
        ):
            return self._elliptical(group, i)
        if st.predicated and next_value and not group.prep and (st.groups or group.given() & {"structure", "joint"}):
            return self._elliptical(group, i)
        if st.named and next_value and not group.prep and self.joined == "," and group.given() - {"side"}:
            return self._elliptical(group, i)
        if st.predicated and next_value and st.groups and before_comma:
            return self._elliptical(group, i)
        if st.predicated and next_value and self.joined in {",", "and"}:
            return self._elliptical(group, i)
        self._add_place(group)
        return group.last

    def _one_of_both(self, group: PlaceGroup, *, boundary: bool) -> bool:
        """ "bilateral Phalen's, positive right, negative left": a result is at once told of one of the two sides."""
        st = self.st
        both = any(len(g.sides_said) == 2 for g in st.groups)
        told = st.named and self.last_kind == "status" and len(st.statuses) == 1
        ends = boundary or group.last >= len(self.items)
        return both and told and ends and group.given() == {"side"} and len(group.sides_said) == 1

    def _result_first(self, i: int) -> bool:
        """ "Four minus, right APB" and "stable to stress, the UCL on the left": a line that begins with its result."""
        st = self.st
        opens = st.predicated and not st.named and not st.groups and not self.out and self.joined == ","
        return opens and not any(item.number or item.get("status") or item.word in BE for item in self.items[i:])

    def _without_last_structure(self, group: PlaceGroup, i: int) -> PlaceGroup | None:
        """ "four plus on the right FDI five": a structure named bare, with a result after it, is what that result is about."""
        for k in range(group.first + 1, group.last):
            bare = self.items[k].get("structure") and self.items[k - 1].place and not self.items[k - 1].comma
            if bare and (k == group.last - 1 or self.items[k - 1].get("side")):
                return read_group(self.items[:k], i, subject=False)
        return None

    def _compared(self, i: int) -> bool:
        """ "more than on the other side": what is compared with is not spoken of."""
        k = i - 1
        while k >= 0 and self.items[k].word in {"with", "to", "on", "the", "at"}:
            k -= 1
        return k >= 0 and self.items[k].word in {"than", "compared", "versus", "unlike"}

    def _elliptical(self, group: PlaceGroup, i: int) -> int:
        self.close(i)
        self._add_place(group)
        return group.last

    def _agrees(self, group: PlaceGroup) -> bool:
        """Whether what both name is the same: "left index … of the left index finger"."""
        before = self.st.spots()
        for key in ("side", "digit", "joint", "structure", "aspect"):
            old = {getattr(s, key) for s in before} - {None}
            new = {getattr(s, key) for s in group.spots} - {None}
            if old and new and old != new:
                return False
        return True

    def _add_place(self, group: PlaceGroup) -> None:
        st = self.st
        if not (st.named or st.predicated) and st.groups:
            given = {k for g in st.groups for k in g.given()}
            if given & group.given() - {"hand"}:
                st.groups = [g for g in st.groups if not g.given() & group.given()]
        st.groups.append(group)
        self._cover_group(group)
        if self.items[group.last - 1].comma and not st.named:
            st.colon = True

    def _cover_group(self, group: PlaceGroup) -> None:
        for k in range(group.first, group.last):
            self._cover(self.items[k], "place")

    def _leading_places(self) -> list[PlaceGroup]:
        return list(self.st.groups) if not (self.st.named or self.st.predicated) else []
