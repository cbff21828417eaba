"""A draft under review as every tab sees it: one review, one version number, and what of the page each version changed.

The version is the number of entries in the encounter's journal, so it holds across a restart, and counts what a terminal
decided meanwhile. A decision that names an older version is refused. Imports reviewing, review, store, settings and errors.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from threading import RLock
from typing import Protocol

from dictation.errors import InputError, OvertakenError
from dictation.review.rules import Review
from dictation.reviewing import review_of
from dictation.settings import Settings
from dictation.store.journal import Entry
from dictation.store.store import Encounter, Store

MOST_OPEN = 8
"""Reviews kept in memory; one opened again is read from the store again."""

Pieces = Mapping[str, str]
"""Id of an element of the page -> its HTML."""


class Drawn(Protocol):
    """A review as drawn. layout: changes where anything of the page stands elsewhere than before."""

    @property
    def pieces(self) -> Pieces:
        """Every piece, as it stands."""

    @property
    def layout(self) -> str:
        """The same as long as every piece stands where it stood."""


Draw = Callable[[Review], Drawn]


class Sitting:
    """One review, open on the page. Whoever reads or decides holds its lock."""

    def __init__(self, review: Review, draw: Draw) -> None:
        self.review = review
        self._draw = draw
        self._lock = RLock()
        self._pieces: dict[str, tuple[int, str]] = {}
        self.layout = ""
        self._first = self.version
        self._keep()

    @property
    def encounter(self) -> Encounter:
        """The encounter that the draft belongs to."""
        return self.review.journal.encounter

    @property
    def version(self) -> int:
        """How many entries the encounter's journal has."""
        return len(self.encounter.entries)

    @contextmanager
    def held(self) -> Iterator[Review]:
        """Give the review as it stands in the store now, for one caller at a time."""
        with self._lock:
            self.refresh()
            yield self.review

    def refresh(self) -> int:
        """Take up what others have added since, and return the version."""
        with self._lock:
            before = self.version
            self.review.refresh()
            if self.version != before:
                self._keep()
            return self.version

    def decide(self, version: int, step: Callable[[Review], str]) -> str:
        """Take one step of the review for a page of a version, and return what it says.

        Raises OvertakenError, with nothing written, where the page is older than the review; ReviewError as the rules do.
        """
        with self._lock:
            if self.refresh() != version:
                raise OvertakenError("Nothing was written: this page had not caught up with what was decided meanwhile.")
            try:
                return step(self.review)
            finally:
                if self.version != version:
                    self._keep()

    def since(self, version: int) -> Pieces | None:
        """Return what changed on the page since a version; None where that is not known, and all of it is to be loaded anew."""
        with self._lock:
            if not self._first <= version <= self.version:
                return None
            return {name: html for name, (changed, html) in self._pieces.items() if changed > version}

    def pieces(self) -> Pieces:
        """Return the page's pieces as they stand."""
        return {name: html for name, (_, html) in self._pieces.items()}

    def entries_since(self, version: int) -> tuple[Entry, ...]:
        """Return what was added to the encounter since a version."""
        return self.encounter.entries[version:]

    def _keep(self) -> None:
        """Draw the page anew and note what changed."""
        drawn = self._draw(self.review)
        self.layout = drawn.layout
        for name, html in drawn.pieces.items():
            if self._pieces.get(name, (0, ""))[1] != html:
                self._pieces[name] = (self.version, html)


class Sittings:
    """The reviews open on the page, the last used ones in memory."""

    def __init__(self, store: Store, settings: Settings, drawer: Callable[[], Draw]) -> None:
        """drawer: makes what draws the pieces of one review."""
        self.store = store
        self.settings = settings
        self._drawer = drawer
        self._lock = RLock()
        self._open: OrderedDict[tuple[str, str], Sitting] = OrderedDict()

    def sitting(self, encounter: str, draft: str) -> Sitting:
        """Return the sitting of a draft, by the ids of encounter and draft. Raises InputError where there is none."""
        with self._lock:
            found = self._open.get((encounter, draft))
            if found is None:
                held = Encounter(self.store, encounter)
                if draft not in held.facts.drafts:
                    raise InputError("There is no such draft in this encounter; go back to the work list.")
                found = Sitting(review_of(held, draft, self.settings), self._drawer())
                self._open[encounter, draft] = found
            self._open.move_to_end((encounter, draft))
            while len(self._open) > MOST_OPEN:
                self._open.popitem(last=False)
        return found
