"""What comes next in a line: the look ahead that settles to which side a word belongs."""

from __future__ import annotations

from dictation.extraction.items import DETERMINERS, JOINERS, PREPOSITIONS, Item
from dictation.extraction.places import read_group
from dictation.extraction.progress import Progress
from dictation.extraction.statement import BE, LINKS


class Ahead(Progress):
    """Looks ahead, and changes nothing."""

    def _concept_adjacent(self, i: int) -> bool:
        while i < len(self.items) and self.items[i].word in LINKS | {"joint", "nerve"}:
            if self.items[i].comma:
                return False
            i += 1
        return i < len(self.items) and bool(self.items[i].get("concept") or self.items[i].get("movement"))

    def _named_ahead(self, i: int) -> bool:
        for item in self.items[i : i + 5]:
            if item.get("concept") or item.get("movement") or item.get("structure"):
                return True
            if item.comma:
                return False
        return False

    def _status_ahead(self, i: int) -> bool:
        return i < len(self.items) and self.items[i].get("status") is not None

    def _value_after(self, i: int) -> bool:
        """Whether the concept at items[i] has a number of its own after it."""
        if self.items[i].comma:
            return False
        for item in self.items[i + 1 : i + 9]:
            if item.number is not None:
                return True
            if item.get("concept") or item.get("movement") or item.get("status") or item.get("negation") or item.comma:
                return False
        return False

    def _own_predicate(self, i: int) -> bool:
        """Whether the concept that comes next has its own "is", status or number: then a status before it is not its."""
        while i < len(self.items) and not (self.items[i].get("concept") or self.items[i].get("movement")):
            i += 1
        after = self.items[i + 1] if i + 1 < len(self.items) and not self.items[i].comma else None
        return after is not None and (
            after.word in {"is", "are", "was"} or bool(after.get("status")) or after.number is not None
        )

    def _significant(self, i: int) -> tuple[int, str, str] | None:
        """The next item that matters after i: (index, kind, link word before it)."""
        link = ""
        while i < len(self.items):
            item = self.items[i]
            if item.get("negation") and not item.get("status"):
                return i, "negation", link
            if item.get("copy") or item.get("general_normal"):
                return i, "copy", link
            if item.number is not None or item.get("neutral"):
                return i, "number", link
            if item.get("concept") or item.get("movement"):
                return i, "concept", link
            if item.get("status"):
                return i, ("concept" if self._concept_adjacent(i + 1) and not item.comma else "status"), link
            if item.get("severity"):
                return i, ("concept" if self._concept_adjacent(i + 1) else "severity"), link
            if item.place or item.word in JOINERS or item.get("contrast") or item.get("retraction"):
                return None
            link = item.word
            if item.comma:
                return None
            i += 1
        return None

    def _place_at(self, i: int) -> bool:
        return i < len(self.items) and (self.items[i].place or self.items[i].word in DETERMINERS)

    def _number_soon(self, i: int) -> bool:
        for item in self.items[i : i + 4]:
            if item.number is not None:
                return True
            if item.word not in BE | {"and", "power", "both"}:
                return False
        return False

    def _observed_pair(self, i: int) -> bool:
        """ "the nails and resting cascade are normal"."""
        pair = self.items[i + 1] if i + 1 < len(self.items) and self.items[i].word == "and" else None
        return pair is not None and any(m.observed for m in pair.all("concept"))

    def _list_from(self, i: int) -> bool:
        """Whether from items[i] on terms stand side by side up to one joined by "or" or "and"."""
        while i < len(self.items) and (self.items[i].get("concept") or self.items[i].get("adjective")):
            if self.items[i].comma:
                return False
            i += 1
        return i + 1 < len(self.items) and self.items[i].word in {"or", "and", "nor"} and bool(self.items[i + 1].get("concept"))

    def _result_ends_list(self, i: int) -> bool:
        """Whether a list of terms from items[i] on comes to a "no" or a result of its own."""
        for item in self.items[i:]:
            if item.get("status") or item.word in BE:
                return True
            if not (item.get("concept") or item.place or item.word in JOINERS or item.word in DETERMINERS | PREPOSITIONS):
                return False
        return False

    def _list_joined(self, i: int) -> bool:
        """Whether a concept after a place still stands under the "no" of the list."""
        if self.joined == "or":
            return True
        if self.joined != ",":
            return False
        for item in self.items[i : i + 14]:
            if item.word in {"or", "nor"}:
                return True
            if item.get("status") or item.number or item.get("contrast") or item.word in BE or item.get("negation"):
                return False
        return False

    def _moves_after_place(self, i: int) -> bool:
        """ "active elbow range", "active index MCP flexion": a mode leads the movement after its place."""
        while i < len(self.items) and self.items[i].place and not self.items[i].comma:
            i += 1
        item = self.items[i] if i < len(self.items) else None
        moving = item is not None and any(self.kinds.get(m.id) == "movement" for m in item.all("concept"))
        return item is not None and (moving or item.get("movement") is not None)

    def _compared_after(self, i: int) -> bool:
        """Whether "against" or "compared with" leads to a number or a side: not "against resistance"."""
        near = self.items[i + 1 : i + 4]
        return any(x.number is not None or x.get("side") or x.get("status") for x in near)

    def _place_soon(self, item: Item) -> bool:
        i = self.at + 1
        while i < len(self.items) and self.items[i].word in PREPOSITIONS | DETERMINERS:
            i += 1
        return i < len(self.items) and self.items[i].get("side") is not None and not self._numbers_lead(i + 1)

    def _pair_of_sides(self, item: Item) -> bool:
        i = self.at + 1
        return i < len(self.items) and (side := self.items[i].get("side")) is not None and side.id.startswith("both")

    def _says(self, item: Item) -> bool:
        """Whether an item right after a concept is that concept's own result."""
        status = {m.id for m in item.all("status")}
        return item.number is not None or bool(status - {"present", "absent"})

    def _place_follows_status(self, i: int) -> bool:
        group = read_group(self.items, i, subject=False) if i < len(self.items) else None
        if group is None or self.items[group.last - 1].comma:
            return group is not None
        return (self._significant(group.last) or (0, "", ""))[1] != "concept"

    def _nerve_follows(self, i: int) -> bool:
        """ "…, normal in the median and radial": the result before is that of nerves named after it."""
        while i < len(self.items) and self.items[i].word in PREPOSITIONS | DETERMINERS:
            i += 1
        return i < len(self.items) and self.items[i].get("nerve_name") is not None and self._about_sensation()

    def _next_modifier(self, i: int) -> bool:
        return (
            i < len(self.items)
            and any(self.items[i].get(k) for k in ("severity", "certainty", "mode"))
            and self._concept_adjacent(i + 1)
        )

    def _nerve_here(self, i: int) -> bool:
        """ "Median", "ulnar", "radial" name nerves where sensation is spoken of, or the word nerve or distribution is."""
        item = self.items[i]
        digital = any(m.id == "digital_nerve_sensation" for m in self.st.concepts)
        if digital or any(s.structure == "digital_nerve" for s in self.st.spots()):
            return False
        if item.end - item.start > 1:
            return self._about_sensation() or not item.get("structure")
        if self._part_of_digit(i):
            return False
        return self._about_sensation() and not self._concept_adjacent(i + 1)

    def _part_of_digit(self, i: int) -> bool:
        """ "The ulnar half of the ring finger", "the radial border": which part of it, and no nerve."""
        after = self.items[i + 1] if i + 1 < len(self.items) and not self.items[i].comma else None
        return after is not None and after.word in {"half", "border", "side", "aspect", "surface", "edge"}

    def _about_sensation(self) -> bool:
        ids = {m.id for m in self.st.concepts}
        if not self.st.named and self.out:
            ids |= {m.id for m in self.out[-1].concepts}
        spoken_of = any(i.endswith(("_sensation", "light_touch")) for i in ids)
        return self._nerves_ahead() or spoken_of or bool(self.st.nerves)

    def _nerves_ahead(self) -> bool:
        """ "median, ulnar and radial nerve sensation normal": the list comes before its noun."""
        if self.st.named:
            return False
        for item in self.items[self.at : self.at + 6]:
            if any(m.id.endswith("nerve_sensation") for m in item.all("concept")):
                return True
            if not (item.get("nerve_name") or item.word in JOINERS or item.word in DETERMINERS or item.get("side")):
                return False
        return False

    def _numbers_lead(self, i: int) -> bool:
        """Whether the numbers from items[i] on belong to the side before them: no further side stands after them."""
        k = i
        if i < len(self.items) and self.items[i].word in JOINERS:
            return False
        while k < len(self.items) and (
            self.items[k].number is not None or self.items[k].word == "and" or self.items[k].get("aggregate")
        ):
            if self.items[k].comma:
                return True
            k += 1
        if k == i:
            return False
        while k < len(self.items) and self.items[k].word in PREPOSITIONS | DETERMINERS:
            k += 1
        after = self.items[k].get("side") if k < len(self.items) else None
        return after is None

    def _nerves_result(self, i: int) -> bool:
        """Whether the list of nerves that goes on at items[i] comes to a result of its own."""
        listed = {"and", "nerve", "distribution"}
        while i < len(self.items) and (self.items[i].get("nerve_name") or self.items[i].word in listed):
            i += 1
        return i < len(self.items) and (self.items[i].word in BE or self.items[i].get("status") is not None)

    def _strength_open(self) -> bool:
        before = next((s for s in reversed(self.out) if s.concepts), None)
        return before is not None and any("strength" in m.id or "grip" in m.id for m in before.concepts)

    def _copy_here(self, i: int) -> bool:
        """ "Same", "identical" are copies only where a side is named near and no concept is open for them."""
        near = self.items[i if self.st.named else max(0, i - 4) : i + 6]
        return any(m.kind == "side" for item in near for m in item.mentions)
