"""Statements read from one line's items, left to right.

Clinicians do not speak in sentences, so punctuation helps but is not relied on. Each sort of item has a file of its own:
placing.py, naming.py, results.py; here is the order in which they are tried, and the small words.
"""

from __future__ import annotations

from dictation.extraction.items import DETERMINERS, JOINERS, PREPOSITIONS, Item
from dictation.extraction.matching import Mention
from dictation.extraction.results import Results
from dictation.extraction.statement import BE, KNOWN, LINKS, QUIET, Statement


class Builder(Results):
    """Builds the statements of one line; ``read()`` gives them in order."""

    def read(self) -> list[Statement]:
        """Return the statements."""
        i = 0
        while i < len(self.items):
            i = self.step(i)
        self.close(len(self.items))
        return self.out

    def step(self, i: int) -> int:
        item = self.items[i]
        self.at = i
        if item.get("retraction"):
            return self._retraction(i)
        if item.get("contrast"):
            self.close(i)
            self.joined = None
            self.st.contrast = True
            self.st.excepted = item.get("contrast").id == "except"  # type: ignore[union-attr]
            return i + 1
        if item.get("comparison") and (i == 0 or self._compared_after(i)):
            if self.st.named or self.st.predicated:
                self.close(i)
            heads = bool(self.st.groups) and not (i + 1 < len(self.items) and self.items[i + 1].word in BE)
            self.st.compared = not heads
            return i + 1
        if item.get("copy") and self.st.named and not self.st.predicated and not self._copy_here(i):
            self.st.same_result = True
            self._cover(item, "status", "same")
            return i + 1
        if item.get("so") and (self._place_at(i + 1) or self._concept_adjacent(i + 1)):
            self.close(i)
            self.st.same_result = True
            self._cover(item, "copy")
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
            return self._neither(i)
        group = self._place(i)
        if group is not None:
            return self._take_place(group, i)
        if (counted := self._all_of(i)) > i:
            return counted
        if item.number is not None:
            return self._number(item, i)
        if (nerve := item.get("nerve_name")) and self._nerve_here(i):
            listed = self.last_kind == "nerve" and self.joined in {",", "and"}
            led = self.items[i - 1].word in PREPOSITIONS | DETERMINERS
            result = self._nerves_result(i + 1) or item.get("concept") is not None
            own = not led and result and (self.last_kind == "status" or bool(self.st.numbers))
            if self.st.predicated and ((self.st.nerves and not listed) or own):
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

    def _all_of(self, i: int) -> int:
        """ "on the left all three are negative" takes up the three things said last. The index after it, else i."""
        after = self.items[i + 1] if i + 1 < len(self.items) else None
        both = self.items[i].get("side")
        told = after is not None and (after.number is not None or (after.get("status") and not after.get("concept")))
        if both is not None and both.form == "both" and self.st.groups and not self.st.named and told:
            self.st.all_of = 2
            return i + 1
        if self.items[i].word != "all" or self.st.named or after is None or after.number is None or after.number.unit:
            return i
        k = i + 2
        while k < len(self.items) and (self.items[k].word in BE or self.items[k].word in {"of", "them", "these", "test"}):
            k += 1
        if k >= len(self.items) or not (self.items[k].get("status") or self.items[k].get("negation")):
            return i
        self.st.all_of = int(after.number.value or 0)
        self._cover(after, "status")
        return k

    def _plain_no(self, i: int) -> bool:
        """ "ten, no, PIP": a bare no between commas takes something back."""
        item = self.items[i]
        bare = item.get("negation") is not None and item.end - item.start == 1 and item.comma
        if item.end - item.start == 1 and self.last_kind == "number" and self._no_instead(i):
            return True
        return bare and (self.st.named or bool(self.out)) and self.joined == "," and i + 1 < len(self.items)

    def _no_instead(self, i: int) -> bool:
        """ "seventy no seventy five": a number right after a "no" that follows a number is said in its stead."""
        item, following = self.items[i], self.items[i + 1] if i + 1 < len(self.items) else None
        no = item.get("negation") is not None and any(m.kind == "status" and m.id == "absent" for m in item.mentions)
        return no and following is not None and following.number is not None and not self._concept_adjacent(i + 2)

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

    def _small(self, item: Item, i: int) -> int:
        st = self.st
        for kind in ("severity", "certainty", "mode"):
            if found := item.get(kind):
                return self._modifier(kind, found, item, i)
        if (when := item.get("pain_when")) is not None and not st.named:
            if st.predicated and item.start == self.items[i].start and self.joined == ",":
                self.close(i)
            self.st.when = when.id
            return i + 1
        if item.get("short_of"):
            if (st.numbers or (st.named and st.statuses)) and self.joined in {"and", ","}:
                self.close(i)
                st = self.st
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
            after = self.items[i + 2] if i + 2 < len(self.items) else None
            of_number = st.named and not st.predicated and after is not None and after.number is not None
            if (st.named or st.predicated) and not of_number:
                self.close(i)
            self.st.exists = True
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
            if st.negation and item.word and item.word not in KNOWN and not st.predicated and self._only_unknown():
                self.st.unknown = True
                self.close(i + 1)
        return i + 1

    def _only_unknown(self) -> bool:
        """ "no anticoagulant change, review tomorrow": what the "no" denies is a word nobody knows; its scope ends there."""
        at = self.st.negation_at or (0, 0)
        later = any(g.start > at[0] for g in self.st.groups)
        return not (self.st.named or later or self.st.nerves)

    def _modifier(self, kind: str, found: Mention, item: Item, i: int) -> int:
        """A severity, certainty or mode: part of the open statement, or the first word of the next."""
        trails = kind == "severity" and item.comma and self.st.named and not self.st.predicated and self.joined != "and"
        following = not trails and (self._concept_adjacent(i + 1) or self._next_modifier(i + 1))
        following = following or (kind == "mode" and self._moves_after_place(i + 1))
        if kind == "mode" and item.comma and not item.colon and self.last_kind == "number":
            following = following and self.joined == ","  # "thirty degrees active, flexion twenty five"
        if kind == "severity" and self._grades_what_was_named(found, item, i):
            return i + 1
        if kind == "severity":
            self._part_severities(i, following=following, trails=trails)
        if kind == "mode" and self.st.numbers and self._mode_of_numbers(found, item, i, following=following):
            return i + 1
        if self._parts_from_before(kind, i, following=following):
            self.close(i)
        if kind == "mode":
            after = self.items[i + 1] if i + 1 < len(self.items) else None
            self.st.mode_heading = item.comma or (
                after is not None and any(m.id == "range_of_motion" for m in after.all("concept"))
            )
            self.st.mode = found.id if found.id in {"active", "passive", "both"} else self.st.mode
        elif getattr(self.st, kind) is None:
            setattr(self.st, kind, found.id)
        self._cover(item, self.last_kind or "modifier", kind)
        return i + 1

    def _grades_what_was_named(self, found: Mention, item: Item, i: int) -> bool:
        """ "Synovitis mild wrist extension fifty": what comes next has no severity, so it grades what was named before it."""
        st = self.st
        ahead = next((m for x in self.items[i + 1 : i + 3] for m in x.all("concept")), None)
        unfit = ahead is not None and self.kinds.get(ahead.id) in {"movement", "test", "power", "strength", "measure", "score"}
        if not (unfit and st.named and st.severity is None and not self.items[i - 1].comma):
            return False
        st.severity = found.id
        self._cover(item, "modifier", "severity")
        return True

    def _part_severities(self, i: int, *, following: bool, trails: bool) -> None:
        """End the open statement where the severity begins one of its own: "mild on the left and severe on the right"."""
        if self.st.severity is not None and self.st.groups and not following:
            self.close(i)
        if following and self.st.named and self.joined in {"and", ","}:
            joined = self.joined
            self.close(i)
            self.st.joined = joined
        apart = self.joined in {",", "and"} and self.st.named and bool(self.st.groups) and not following
        if apart and not trails and self._place_follows_status(i + 1):
            self.close(i)

    def _mode_of_numbers(self, found: Mention, item: Item, i: int, *, following: bool) -> bool:
        """Take a mode said after numbers, "sixty active", where it is theirs and leads to nothing. Whether it was taken."""
        before = self.items[i - 1].get("side") if i else None
        if before is not None and before.id == "both_word":
            self.close(i)
            self.st.mode = found.id
            self._cover(item, "mode")
            self.close(i + 1)
            return True
        after = self.items[i + 1] if i + 1 < len(self.items) else None
        if after is not None and not item.comma and after.word in DETERMINERS:
            self.close(i)
        number_next = after is not None and after.number is not None
        if not self.st.numbers or self.st.mode is not None or following or not (item.comma or not number_next):
            return False
        self.st.mode = found.id if found.id in {"active", "passive", "both"} else None
        self._cover(item, "modifier", "mode")
        return True

    def _parts_from_before(self, kind: str, i: int, *, following: bool) -> bool:
        """Whether a modifier leads what comes next, and the open statement has said what it had to say."""
        st = self.st
        leading = not st.named and self.last_kind in {"status", "modifier"} and not self.gap
        of = i > 0 and self.items[i - 1].word == "of" and bool(st.numbers)
        parted = st.predicated or (st.named and following and self.last_kind != "be")
        listed = self.joined in {"and", "or", ","} and not st.predicated and self.last_kind == "concept"
        leads = following or (kind == "mode" and bool(st.numbers))
        return parted and leads and not (leading or of or listed)
