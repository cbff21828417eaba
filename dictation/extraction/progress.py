"""The state of reading one line into statements, shared by the files that each read one sort of item."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from dictation.extraction.items import Item
from dictation.extraction.statement import Statement


class Progress:
    """Where the reading of a line stands: its items, the open statement, those that are done.

    kinds: concept -> its kind. signs: "test concept", where the test's result is told by that concept.
    joined: what joins the next item to the last ("and", "or", "," …). last_kind: what the last item was. at: the item
    being read. gap: a word that names something unknown stood since the last term.
    """

    def __init__(self, items: Sequence[Item], line: int, kinds: Mapping[str, str], signs: frozenset[str] = frozenset()) -> None:
        self.items = items
        self.line = line
        self.kinds, self.signs = kinds, signs
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

    def _cover(self, item: Item, kind: str, role: str | None = None) -> None:
        """Take an item into the open statement. kind: what the reading goes by; role: what the item was read as."""
        self.st.roles.append((role or kind, item.start, item.end))
        if not self.st.end or self.st.end <= self.st.start:
            self.st.start = min(self.st.start, item.start) if self.st.end > self.st.start else item.start
        self.st.end = max(self.st.end, item.end)
        self.last_kind = kind
        self.gap = False
        self.joined = "," if item.comma else None
