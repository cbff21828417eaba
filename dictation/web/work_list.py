"""The work list: every encounter with its state, and how much of each draft is left.

Reviews that were read once are kept, so that the list costs a look at each journal's end. Imports reviewing, review, store and
settings.
"""

from __future__ import annotations

from dataclasses import dataclass
from threading import Lock

from dictation.errors import InputError
from dictation.note.printable import printable
from dictation.review.rules import Review
from dictation.reviewing import review_of
from dictation.settings import Settings
from dictation.store.journal import now
from dictation.store.sound import delete_old_sound
from dictation.store.store import Encounter, Store, Summary

STATES = ("recording", "draft", "in review", "signed")
MOST_ROWS = 50


@dataclass(frozen=True, slots=True)
class Row:
    """One line. path: where its review is; dictate: where it is dictated; name: of the draft where an encounter has several.

    doubts, left: None where there is nothing to decide.
    """

    reference: str
    name: str
    state: str
    doubts: int | None
    left: int | None
    opened: str
    path: str
    dictate: str = ""


class WorkList:
    """Gives the rows of the list, the last opened first."""

    def __init__(self, store: Store, settings: Settings) -> None:
        self.store = store
        self.settings = settings
        self._lock = Lock()
        self._encounters: dict[str, Encounter] = {}
        self._reviews: dict[tuple[str, str], Review] = {}

    def rows(self, words: str, state: str) -> tuple[list[Row], int]:
        """Return the rows of the encounters whose reference holds some letters, in a state ("": any), and how many more
        encounters there are.
        """
        if self.settings.delete_sound.isdecimal():
            delete_old_sound(self.store, int(self.settings.delete_sound), "the program, by its setting", now())
        found = [one for one in self.store.encounters() if words.casefold() in one.reference.casefold()]
        with self._lock:
            rows = [row for one in found[:MOST_ROWS] for row in self._rows(one)]
            kept = {one.id for one in found[:MOST_ROWS]}
            self._encounters = {name: one for name, one in self._encounters.items() if name in kept}
            self._reviews = {key: one for key, one in self._reviews.items() if key[0] in kept}
        return [row for row in rows if state in ("", row.state)], max(0, len(found) - MOST_ROWS)

    def _rows(self, summary: Summary) -> list[Row]:
        try:
            encounter = self._encounters.get(summary.id) or Encounter(self.store, summary.id)
            encounter.refresh()
        except InputError:  # erased meanwhile
            return []
        self._encounters[summary.id] = encounter
        opened, drafts = encounter.facts.opened.words()[:16], list(encounter.facts.drafts.items())
        if not drafts:
            return [Row(encounter.reference, "", "recording", None, None, opened, "", f"/dictate/{summary.id}")]
        rows = []
        for sha256, taken in reversed(drafts):
            review = self._reviews.get((summary.id, sha256))
            if review is None:
                review = self._reviews[summary.id, sha256] = review_of(encounter, sha256, self.settings)
            review.refresh()
            pending = review.state.pending
            signed = review.state.signature is not None
            rows.append(
                Row(
                    encounter.reference,
                    printable(taken.name) if len(drafts) > 1 else "",
                    "signed" if signed else "in review" if review.journal.entries else "draft",
                    None if signed else sum(review.state.fields[name].field.checked() for name in pending),
                    None if signed else len(pending) + len(review.state.uncleared),
                    opened,
                    f"/review/{summary.id}/{sha256}",
                )
            )
        return rows
