"""Statements: which concepts, places, numbers and words of status belong together.

A left-to-right reading of one line's items. Clinicians do not speak in sentences, so punctuation helps but is not relied
on: a bare place joins what follows it, a place after a preposition joins what precedes it, and a second status or number
starts an elliptical statement about the concept before ("positive on the right, negative on the left").
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from dictation.extraction.items import DETERMINERS, JOINERS, PREPOSITIONS, Item
from dictation.extraction.matching import Mention
from dictation.extraction.numbers import Reading
from dictation.extraction.places import WHERE, PlaceGroup, Spot, read_group

BE = frozenset("is are was were remains remain being has have had shows appears looks feels measures reaches get gets".split())
GENERIC = {"gross_sensation", "range_of_motion", "hand_function"}
QUIET = frozenset(
    "today now still only just about again there then it she he they we out up measured comes come opens open both all "
    "also too very quite rather really clinically here this that one side degree joint remains test sign score grade "
    "both i note noted well also again range movement movements um er uh okay so right yes but being to do does done did "
    "first second third last next again overall grossly can could patient manages able testing resisted total overall each at a time not full go goes active at best".split()
)
"""Words that do not name what a following number or status is about."""
LINKS = frozenset("of a an the to his her their at for by it its in degree degrees about only just still now also is are".split())


KNOWN = QUIET | LINKS | BE | DETERMINERS | PREPOSITIONS | frozenset(JOINERS)


@dataclass(slots=True)
class Statement:
    """What was said together.

    concepts: empty for an elliptical statement, which continues an earlier one. groups: place groups, in order.
    negation: the trigger's text. listed: under a "no" said earlier in the list. retracts: how it takes something back.
    movement: generic movement words ("flexion") whose joint is found elsewhere.
    """

    start: int
    end: int
    concepts: list[Mention] = field(default_factory=list)
    movements: list[Mention] = field(default_factory=list)
    alternatives: list[tuple[Mention, ...]] = field(default_factory=list)
    groups: list[PlaceGroup] = field(default_factory=list)
    numbers: list[Reading] = field(default_factory=list)
    statuses: list[frozenset[str]] = field(default_factory=list)
    status_at: list[int] = field(default_factory=list)
    negation: str | None = None
    negation_after: bool = False
    double_negation: bool = False
    listed: bool = False
    severity: str | None = None
    certainty: str | None = None
    mode: str | None = None
    short_of: bool = False
    beyond: bool = False
    neutral: bool = False
    power: bool = False
    strength: bool = False
    same_result: bool = False
    position: str | None = None
    mean: bool = False
    nerves: list[str] = field(default_factory=list)
    copy: bool = False
    general: str | None = None
    there: bool = False
    joined: str | None = None
    retracts: str | None = None
    addressed: bool = False
    words: list[str] = field(default_factory=list)
    contrast: bool = False
    unknown: bool = False
    mode_heading: bool = False
    colon: bool = False
    line: int = 0

    @property
    def named(self) -> bool:
        """Whether it names what it is about."""
        return bool(self.concepts or self.movements or self.general or self.copy)

    @property
    def predicated(self) -> bool:
        """Whether it already says something: a status, a number, or a form that carries one."""
        own = any("status" in m.sets for m in self.concepts)
        return bool(self.statuses or self.numbers or own or self.neutral or self.general or self.copy or self.same_result)

    @property
    def empty(self) -> bool:
        """Whether nothing in it could make or change a field."""
        return not (self.named or self.groups or self.predicated or self.nerves or self.mode or self.severity)

    def spots(self) -> tuple[Spot, ...]:
        """The places said in it, groups that name different keys put together."""
        if not self.groups:
            return ()
        merged = list(self.groups[0].spots)
        for group in self.groups[1:]:
            merged = _merge(merged, group.spots)
        return tuple(dict.fromkeys(merged))


def _merge(a: Sequence[Spot], b: Sequence[Spot]) -> list[Spot]:
    keys_a = set().union(*(s.given() for s in a))
    keys_b = set().union(*(s.given() for s in b))
    shared = keys_a & keys_b
    if len(a) == 1 and all({getattr(s, k) for s in b} <= {getattr(a[0], k), None} for k in shared):
        shared = set()
    if not shared:
        return [
            Spot(
                **{k: getattr(x, k) or getattr(y, k) for k in ("side", "digit", "joint", "structure", "aspect")},
                plural=x.plural or y.plural, hand=x.hand or y.hand,
            )
            for x in a for y in b
        ]  # fmt: skip
    return [*a, *b]


class Builder:
    """Builds the statements of one line. ``read()`` gives them in order."""

    def __init__(self, items: Sequence[Item], line: int, kinds: Mapping[str, str]) -> None:
        self.items = items
        self.line = line
        self.kinds = kinds
        self.out: list[Statement] = []
        self.st = self._new(0)
        self.joined: str | None = None
        self.last_kind = ""
        self.at = 0
        self.gap = False

    def _new(self, i: int) -> Statement:
        at = self.items[i].start if i < len(self.items) else (self.items[-1].end if self.items else 0)
        return Statement(at, at, line=self.line)

    def close(self, i: int) -> None:
        """End the current statement before items[i]."""
        if not self.st.empty or self.st.retracts or self.st.negation:
            self.out.append(self.st)
        self.st = self._new(i)
        self.st.joined = self.joined
        self.last_kind = ""

    def read(self) -> list[Statement]:
        """Return the statements."""
        i = 0
        while i < len(self.items):
            i = self.step(i)
        self.close(len(self.items))
        return self.out

    # each branch takes one item (or one place group) and returns the index after it
    def step(self, i: int) -> int:
        item = self.items[i]
        self.at = i
        if item.get("retraction"):
            return self._retraction(i)
        if item.get("contrast"):
            self.close(i)
            self.joined = None
            self.st.contrast = True
            return i + 1
        if item.get("copy") and self.st.named and not self.st.predicated and not self._copy_here(i):
            self.st.same_result = True
            self._cover(item, "status")
            return i + 1
        if item.get("copy") and self._copy_here(i):
            if self.st.named or self.st.predicated:
                self.close(i)
            self.st.copy = True
            self._cover(item, "copy")
            return i + 1
        if item.get("general_normal"):
            if self.st.named or self.st.predicated:
                self.close(i)
            self.st.general = "general"
            self._cover(item, "concept")
            return i + 1
        if self._plain_no(i):
            self.close(i)
            self.st.retracts = "replace"
            self._cover(item, "retraction")
            return i + 1
        if (negation := item.get("negation")) and negation.id != "pseudo" and self._negation(item, negation, i):
            return i + 1
        group = self._place(i)
        if group is not None:
            return self._take_place(group, i)
        if item.number is not None:
            return self._number(item, i)
        if (nerve := item.get("nerve_name")) and self._nerve_here(i):
            listed = self.last_kind == "nerve" and self.joined in {",", "and"}
            if self.st.predicated and self.st.nerves and not listed:
                self.close(i)
            self.st.nerves.append(nerve.id)
            self._cover(item, "nerve")
            return i + 1
        if item.get("status") and self._status_first(item):
            return self._status(item, i)
        if item.get("concept") or item.get("movement"):
            return self._concept(item, i)
        if item.get("status"):
            return self._status(item, i)
        return self._small(item, i)

    def _cover(self, item: Item, kind: str) -> None:
        if not self.st.end or self.st.end <= self.st.start:
            self.st.start = min(self.st.start, item.start) if self.st.end > self.st.start else item.start
        self.st.end = max(self.st.end, item.end)
        self.last_kind = kind
        self.gap = False
        self.joined = "," if item.comma else None

    def _plain_no(self, i: int) -> bool:
        """ "ten, no, PIP": a bare no between commas takes something back."""
        item = self.items[i]
        bare = item.get("negation") is not None and item.end - item.start == 1 and item.comma
        return bare and (self.st.named or bool(self.out)) and self.joined == "," and i + 1 < len(self.items)

    def _retraction(self, i: int) -> int:
        kind = self.items[i].get("retraction")
        assert_kind = kind.id if kind else "replace"
        if assert_kind == "after":
            if self.st.empty:
                return i + 1
            self.st.retracts = "replace"
            return i + 1
        if assert_kind == "replace" and self.items[i].end - self.items[i].start == 1 and i + 1 >= len(self.items):
            return i + 1
        self.close(i)
        self.st.retracts = assert_kind
        self._cover(self.items[i], "retraction")
        if assert_kind in {"drop", "flip", "again"}:
            self.close(i + 1)
        return i + 1

    def _copy_here(self, i: int) -> bool:
        """ "Same", "identical" are copies only where a side is named near and no concept is open for them."""
        near = self.items[i if self.st.named else max(0, i - 4) : i + 6]
        return any(m.kind == "side" for item in near for m in item.mentions)

    def _negation(self, item: Item, negation: Mention, i: int) -> bool:
        found = {m.id for m in item.all("negation")}
        if found == {"before", "after"}:
            late = self.st.named and not self._named_ahead(i + 1) and self.last_kind in {"be", "concept", "place"}
            negation = next(m for m in item.all("negation") if m.id == ("after" if late else "before"))
        if negation.id == "after":
            if not (self.st.named or self.st.predicated):
                return False
            if item.get("status") and not self.st.statuses:
                return False
            self.st.negation_after = True
            self._cover(item, "negation")
            return True
        bare = item.get("status") is not None and (item.comma or i + 1 >= len(self.items))
        if bare and not self._named_ahead(i + 1):
            return False
        after_subject = self.last_kind in {"place", "be", ""} and not self.st.named
        before_status = self.st.named and not self.st.predicated and self.last_kind in {"be", "concept", "place"} and self._status_ahead(i + 1)
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
        self._cover(item, "negation")
        if item.get("side"):
            group = read_group(self.items, i, subject=True)
            if group is not None:
                self.st.groups.append(group)
        return True

    def _named_ahead(self, i: int) -> bool:
        for item in self.items[i : i + 5]:
            if item.get("concept") or item.get("movement") or item.get("structure"):
                return True
            if item.comma:
                return False
        return False

    def _status_ahead(self, i: int) -> bool:
        return i < len(self.items) and self.items[i].get("status") is not None

    def _nerve_here(self, i: int) -> bool:
        """ "Median", "ulnar", "radial" name nerves where sensation is spoken of, or the word nerve or distribution is."""
        item = self.items[i]
        if item.end - item.start > 1:
            return self._about_sensation() or not item.get("structure")
        return self._about_sensation() and not self._concept_adjacent(i + 1)

    def _about_sensation(self) -> bool:
        ids = {m.id for m in self.st.concepts}
        if not self.st.named and self.st.statuses and self.out:
            ids |= {m.id for m in self.out[-1].concepts}
        return self._nerves_ahead() or bool(ids & {"gross_sensation", "light_touch", "pinprick_sensation"}) or bool(self.st.nerves)

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

    def _place(self, i: int) -> PlaceGroup | None:
        item = self.items[i]
        if item.word and item.word not in PREPOSITIONS | DETERMINERS | WHERE:
            return None
        if not item.word and not item.place:
            return None
        k = i
        while k < len(self.items) and self.items[k].word in DETERMINERS | PREPOSITIONS:
            k += 1
        if k < len(self.items) and self.items[k].get("nerve_name") and self._nerve_here(k):
            return None
        k = i
        while k < len(self.items) and self.items[k].word in DETERMINERS:
            k += 1
        if k < len(self.items) and self.items[k].get("concept") and self._prefers_concept(self.items[k], k):
            return None
        side = item.get("side")
        opens = i == 0 or self.items[i - 1].comma
        bare = side is not None and side.id == "right" and item.comma and item.end - item.start == 1
        if bare and opens and not self._place_at(i + 1) and len(self.items) > 1:
            return None
        if side is not None and side.id in {"both", "both_word"} and not self._truly_both(i):
            return None
        subject = not self.st.named and not self.st.predicated
        return read_group(self.items, i, subject=subject)

    def _truly_both(self, i: int) -> bool:
        """Whether "both" means both sides: not in "are both full", "both actively", "both sides of the ring finger"."""
        item = self.items[i]
        k = i + 1
        while k < len(self.items) and self.items[k].word in DETERMINERS | {"of"} and not self.items[k - 1].comma:
            k += 1
        after = self.items[k] if k < len(self.items) and not item.comma else None
        if item.get("side").id == "both":  # type: ignore[union-attr]
            return after is None or self.items[k - 1].word not in DETERMINERS or after.get("digit") is None
        if after is not None and after.place and not (after.get("side") and not after.get("digit")):
            return True
        before = self.items[i - 1] if i else None
        last = item.comma or i + 1 >= len(self.items)
        return last and before is not None and bool(before.get("status") or before.number or before.word in PREPOSITIONS)

    def _observed_pair(self, i: int) -> bool:
        """ "the nails and resting cascade are normal"."""
        pair = self.items[i + 1] if i + 1 < len(self.items) and self.items[i].word == "and" else None
        return pair is not None and any(m.observed for m in pair.all("concept"))

    def _number_soon(self, i: int) -> bool:
        for item in self.items[i : i + 4]:
            if item.number is not None:
                return True
            if item.word not in BE | {"and", "power", "both"}:
                return False
        return False

    def _place_at(self, i: int) -> bool:
        return i < len(self.items) and (self.items[i].place or self.items[i].word in DETERMINERS)

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

    def _concept_adjacent(self, i: int) -> bool:
        while i < len(self.items) and self.items[i].word in LINKS | {"joint", "nerve"}:
            if self.items[i].comma:
                return False
            i += 1
        return i < len(self.items) and bool(self.items[i].get("concept") or self.items[i].get("movement"))

    def _take_place(self, group: PlaceGroup, i: int) -> int:
        st = self.st
        nxt = self._significant(group.last)
        boundary = self.items[group.last - 1].comma
        if self._compared(i):
            self._cover_group(group)
            return group.last
        if not (st.named or st.predicated or st.nerves):
            self._add_place(group)
            return group.last
        given = {k for g in st.groups for k in g.given()}
        clash = bool(given & group.given()) and not self._agrees(group)
        next_concept = nxt is not None and not boundary and nxt[1] in {"concept", "negation", "copy"}
        next_value = nxt is not None and not boundary and nxt[1] in {"status", "number", "severity"}
        next_be = group.last < len(self.items) and not boundary and self.items[group.last].word in BE
        before_comma = self.joined == "," and not group.prep
        everywhere = not group.prep and {s.side for s in group.spots} == {"right", "left"} and group.given() == {"side"}
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
        direct = group.prep and st.named and not st.predicated and self.last_kind in {"concept", "place"}
        if next_be and not direct and not (st.predicated and not st.groups and group.prep):
            return self._elliptical(group, i)
        if next_concept and not group.prep and not (nxt and nxt[1] == "concept" and nxt[2] == "of"):
            return self._elliptical(group, i)
        if clash:
            return self._elliptical(group, i)
        if boundary and group.prep and self.joined == "," and nxt is not None and nxt[1] in {"concept", "negation"} and st.predicated:
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

    def _significant(self, i: int) -> tuple[int, str, str] | None:
        """The next item that matters after i: (index, kind, link word before it)."""
        link = ""
        while i < len(self.items):
            item = self.items[i]
            if item.get("negation") and not item.get("status"):
                return i, "negation", link
            if item.get("copy") or item.get("general_normal"):
                return i, "copy", link
            if item.number is not None:
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

    def _leading_places(self) -> list[PlaceGroup]:
        return list(self.st.groups) if not (self.st.named or self.st.predicated) else []

    def _number(self, item: Item, i: int) -> int:
        st = self.st
        wanted = max(1, len(st.concepts) + len(st.movements), len(st.spots()) if st.named and self.joined in {",", "and"} else 1)
        trials = self.joined in {",", "and"} and self._strength_open() and not self._place_soon(item)
        if not st.named and st.numbers and not self._pair_of_sides(item) and self.joined != "and" and not trials:
            self.close(i)
        elif st.named and len(st.numbers) >= wanted and not self._more_numbers(item):
            self.close(i)
        self._mark_unknown(i)
        following = self.items[i + 1] if i + 1 < len(self.items) else None
        if following is not None and (counted := following.get("aggregate")) is not None and counted.id == "trial":
            return i + 2
        if item.number is not None:
            self.st.numbers.append(item.number)
        self._cover(item, "number")
        return i + 1

    def _mark_unknown(self, i: int) -> None:
        """ "triceps four" where triceps is no known term: the four is not about what was named before it."""
        after = self.items[i + 1] if i + 1 < len(self.items) else None
        before = self.items[i - 1] if i else None
        known = KNOWN
        qualified = self.items[i].get("status") is not None and after is not None and bool(after.word) and not self.items[i].comma
        if qualified and after is not None and after.word not in known and not self.st.named:
            self.st.unknown = True
        if before is None or not before.word or before.comma or self.st.named:
            return
        self.st.unknown = self.st.unknown or before.word not in known

    def _more_numbers(self, item: Item) -> bool:
        """Trials of a strength, and two numbers followed by two sides, stay in one statement."""
        st = self.st
        ids = {m.id for m in st.concepts}
        if any("strength" in c or "grip" in c or "pinch" in c for c in ids) and not self._place_soon(item):
            return True
        return self._pair_of_sides(item)

    def _strength_open(self) -> bool:
        before = next((s for s in reversed(self.out) if s.concepts), None)
        return before is not None and any("strength" in m.id or "grip" in m.id for m in before.concepts)

    def _place_soon(self, item: Item) -> bool:
        i = self.items.index(item) + 1
        while i < len(self.items) and self.items[i].word in PREPOSITIONS | DETERMINERS:
            i += 1
        return i < len(self.items) and self.items[i].get("side") is not None

    def _pair_of_sides(self, item: Item) -> bool:
        i = self.items.index(item) + 1
        return i < len(self.items) and (side := self.items[i].get("side")) is not None and side.id.startswith("both")

    def _status_first(self, item: Item) -> bool:
        """Whether an item that is both a concept and a status is the status the open statement waits for."""
        concept = item.get("concept")
        if concept is None:
            return True
        st = self.st
        waiting = st.named and not st.predicated and self.joined is None and self.last_kind in {"concept", "be", "place", "negation"}
        return waiting and not any(m.id == concept.id for m in st.concepts)

    def _status(self, item: Item, i: int) -> int:
        st = self.st
        ids = frozenset(m.id for m in item.all("status"))
        leads = self._concept_adjacent(i + 1) and not item.comma and not self._own_predicate(i + 1)
        before = self.items[i - 1] if i else None
        if st.named and st.predicated and before is not None and before.word and not before.comma and before.word not in KNOWN:
            self.close(i)
            self.st.unknown = True
        nothing = "absent" in ids and st.groups and self.joined in {",", "and"} and self._place_follows_status(i + 1)
        if not st.named and st.statuses and self.joined == "," and not leads:
            self.close(i)
        if st.named and not st.predicated and nothing:
            self.close(i)
        elif st.named and st.predicated:
            if ids == {"present"}:
                pass
            elif leads or (self._place_follows_status(i + 1) and (self.last_kind != "status" or self.joined == ",")) or (st.groups and self.joined in {",", "and"} and self.last_kind != "status"):
                self.close(i)
        elif st.named and leads and (self.joined in {",", "and", "with"} or self.last_kind == "status"):
            self.close(i)
        after = self.items[i + 1] if i + 1 < len(self.items) else None
        dangling = ids == {"absent"} and not item.comma and after is not None and bool(after.word) and after.word not in BE
        if st.named and dangling and not self._place_follows_status(i + 1) and not leads and self.last_kind != "be" and self.st is st:
            self.close(i)
            self.st.unknown = True
        self._mark_unknown(i)
        self.st.statuses.append(ids)
        self.st.status_at.append(item.start)
        self._cover(item, "status")
        return i + 1

    def _own_predicate(self, i: int) -> bool:
        """Whether the concept that comes next has its own "is", status or number: then a status before it is not its."""
        while i < len(self.items) and not (self.items[i].get("concept") or self.items[i].get("movement")):
            i += 1
        after = self.items[i + 1] if i + 1 < len(self.items) and not self.items[i].comma else None
        return after is not None and (after.word in {"is", "are", "was"} or bool(after.get("status")) or after.number is not None)

    def _place_follows_status(self, i: int) -> bool:
        group = read_group(self.items, i, subject=False) if i < len(self.items) else None
        return group is not None and not (self._significant(group.last) or (0, "", ""))[1] == "concept"

    def _concept(self, item: Item, i: int) -> int:
        st = self.st
        concepts = item.all("concept")
        movement = item.get("movement")
        last = i + 1 >= len(self.items)
        if not st.named and st.groups and self.last_kind == "place" and self.joined == "," and (st.statuses or st.numbers) and not last:
            self.close(i)
            st = self.st
        if st.nerves and not st.named and st.predicated:
            self.close(i)
            st = self.st
        if self.items[i - 1].word in {"of", "for", "the", "a"} and self._of_plan(i):
            self._cover(item, "concept")
            return i + 1
        if not st.named and st.predicated and self._complete():
            self.close(i)
            st = self.st
        if not st.named and st.predicated and (st.unknown or (st.numbers and self._value_after(i) and self.items[i - 1].word != "of")):
            self.close(i)
            st = self.st
        if movement is not None and movement.id in {"power", "strength"} and not concepts:
            if (st.named or st.groups) and self.last_kind in {"concept", "place", "mode", "modifier", "power"}:
                st.power, st.strength = True, st.strength or movement.id == "strength"
                self._cover(item, "power")
            return i + 1
        if self._heading_before():
            st.concepts, st.alternatives = [], []
        if st.named and not self._continues(i, movement is not None):
            negated = st.negation is not None
            listed = negated and self._list_joined(i) and not st.negation_after
            self.close(i)
            if listed and self.st.negation is None:
                self.st.negation, self.st.listed = st.negation, True
        if concepts and any(m.id == concepts[0].id for m in self.st.concepts):
            pass
        elif concepts:
            self.st.concepts.append(concepts[0])
            self.st.alternatives.append(concepts)
        elif movement is not None:
            self.st.movements.append(movement)
        self._cover(item, "concept")
        return i + 1

    def _continues(self, i: int, movement: bool) -> bool:
        """Whether a further concept joins the open list, or fills a statement that began with its number."""
        st = self.st
        if st.copy or st.general:
            return False
        if st.predicated:
            return False
        if self.joined is None and self.last_kind == "concept" and any(m.id == c.id for m in st.concepts for c in self.items[i].all("concept")):
            return True
        after = self.items[i + 1] if i + 1 < len(self.items) else None
        ends = self.items[i].comma or after is None
        own = not ends and after is not None and (after.word in BE or (self.joined == "," and self._says(after)))
        if self.joined == "," and any(m.id == c.id for m in st.concepts for c in self.items[i].all("concept")):
            return False
        observed = any(c.observed for c in self.items[i].all("concept"))
        if st.negation and self.joined in {"and", ","} and (own or observed):
            return False
        plans = any(self.kinds.get(m.id) == "plan" for m in st.concepts)
        return self.joined in {"and", "or", ","} and self.last_kind in {"concept", "nerve"} and not plans

    def _heading_before(self) -> bool:
        """ "Sensation: light touch reduced": the general word only headed the particular one."""
        st = self.st
        only = len(st.concepts) == 1 and st.concepts[0].id in GENERIC and not st.predicated and not st.movements
        return only and self.last_kind == "concept" and self.joined in {None, ","} and not st.negation

    def _of_plan(self, i: int) -> bool:
        """ "aspiration of the ganglion": what a plan is for makes no finding."""
        link = next((w.word for w in reversed(self.items[max(0, i - 3) : i]) if w.word and w.word not in DETERMINERS), "")
        return link in {"of", "for"} and any(self.kinds.get(m.id) == "plan" for m in self.st.concepts)

    def _complete(self) -> bool:
        """Whether a statement that began with its status has had its place ("normal in the index"), or other words, since."""
        st = self.st
        if self.gap:
            return True
        if self.last_kind == "be" or self.at + 1 >= len(self.items):
            return False
        return bool(st.groups and st.status_at and st.groups[-1].prep and st.groups[-1].start > st.status_at[-1])

    def _value_after(self, i: int) -> bool:
        """Whether the concept at items[i] has a number of its own after it."""
        for item in self.items[i + 1 : i + 9]:
            if item.number is not None:
                return True
            if item.get("concept") or item.get("status") or item.get("negation") or item.comma:
                return False
        return False

    def _says(self, item: Item) -> bool:
        """Whether an item right after a concept is that concept's own result."""
        status = {m.id for m in item.all("status")}
        return item.number is not None or bool(status - {"present", "absent"})

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

    def _small(self, item: Item, i: int) -> int:
        st = self.st
        for kind in ("severity", "certainty", "mode"):
            if found := item.get(kind):
                return self._modifier(kind, found, item, i)
        if item.get("short_of"):
            st.short_of = True
            self._cover(item, "short_of")
            return i + 1
        if item.get("beyond"):
            st.beyond = True
            self._cover(item, "beyond")
            return i + 1
        if item.get("neutral"):
            st.neutral = True
            self._cover(item, "neutral")
            return i + 1
        if (aggregate := item.get("aggregate")) is not None:
            if aggregate.id == "mean":
                if st.numbers:
                    self.close(i)
                self.st.mean = True
                self._cover(item, "mean")
            return i + 1
        if item.word == "which" and st.named:
            self.close(i)
            self.st.there = True
        if item.word in {"too", "also"} and (st.groups or st.named) and not st.predicated and self.out:
            st.same_result = True
        following = self.items[i + 1] if i + 1 < len(self.items) else None
        if item.word == "there" and following is not None and following.word in BE and not item.comma:
            if st.named or st.predicated:
                self.close(i)
            return i + 2
        if item.word == "there" and st.named:
            st.there = True
        if item.word == "and" and st.retracts and not st.empty:
            self.close(i)
        if item.word in JOINERS:
            self.joined = JOINERS[item.word]
            if self.joined == "with" and st.named:
                self.close(i)
                self.joined = "with"
                self.st.joined = "with"
            return i + 1
        if item.word in BE:
            self.last_kind = "be"
        if item.word:
            st.words.append(item.word)
            if item.word not in LINKS and item.word not in DETERMINERS and item.word not in PREPOSITIONS:
                self.joined = None
                self.gap = self.gap or (st.predicated and item.word not in QUIET and item.word not in BE)
        if item.comma:
            self.joined = ","
        return i + 1

    def _modifier(self, kind: str, found: Mention, item: Item, i: int) -> int:
        st = self.st
        following = self._concept_adjacent(i + 1) or self._next_modifier(i + 1)
        if kind == "severity" and st.severity is not None and st.named and st.groups and not following:
            self.close(i)
            st = self.st
        if kind == "severity" and following and st.named and self.joined in {"and", ","}:
            joined = self.joined
            self.close(i)
            self.st.joined = joined
            st = self.st
        leading = not st.named and self.last_kind in {"status", "modifier"} and not self.gap
        of = i > 0 and self.items[i - 1].word == "of" and bool(st.numbers)
        number_next = i + 1 < len(self.items) and self.items[i + 1].number is not None
        if kind == "mode" and st.numbers and st.mode is None and not following and (item.comma or not number_next):
            st.mode = found.id if found.id in {"active", "passive", "both"} else None
            self._cover(item, "modifier")
            return i + 1
        if (st.named or st.predicated) and not leading and not of and (st.predicated or (following and self.last_kind != "be")):
            if following or (kind == "mode" and st.numbers):
                if not (self.joined in {"and", "or", ","} and not st.predicated and self.last_kind == "concept"):
                    self.close(i)
        if kind == "mode":
            after = self.items[i + 1] if i + 1 < len(self.items) else None
            self.st.mode_heading = item.comma or (
                after is not None and any(m.id == "range_of_motion" for m in after.all("concept"))
            )
            self.st.mode = found.id if found.id in {"active", "passive", "both"} else self.st.mode
        elif getattr(self.st, kind) is None:
            setattr(self.st, kind, found.id)
        self._cover(item, self.last_kind or "modifier")
        return i + 1

    def _next_modifier(self, i: int) -> bool:
        return i < len(self.items) and any(self.items[i].get(k) for k in ("severity", "certainty", "mode")) and self._concept_adjacent(i + 1)
