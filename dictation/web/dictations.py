"""The dictations going on behind the page, one an encounter: they outlive the tab that sends their sound.

One tab sends; the others look on. Imports live, store, lexicon and settings.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from threading import RLock
from typing import TYPE_CHECKING

from dictation.lexicon.loading import load_lexicon
from dictation.live.dictating import Dictating, Now
from dictation.live.keeping import begin, broken_off, dictate, take_in
from dictation.live.kept import Kept
from dictation.live.placed import take_message
from dictation.live.shown import Shown, shown
from dictation.store.journal import now as this_moment
from dictation.store.sound import withdraw_consent
from dictation.store.store import Encounter, Store

if TYPE_CHECKING:
    from dictation.lexicon.entries import Lexicon
    from dictation.settings import Settings


@dataclass(eq=False)
class Ongoing:
    """One dictation and those who watch it. sender: the tab that sends its sound, None while there is none.

    review: the path to go on to, once it has ended.
    """

    encounter: Encounter
    dictating: Dictating
    kept: Kept
    lexicon: Lexicon
    watchers: set[Callable[[], None]] = field(default_factory=set)
    sender: object | None = None
    review: str | None = None
    _shown: tuple[object, Shown] | None = None

    def hear(self, message: bytes) -> None:
        """Keep what is new in a message of sound. Raises InputError for one that cannot be read, OutputError."""
        take_message(message, self.dictating, self.kept)

    def shown(self) -> Shown:
        """Return what the screen shows, worked out once for each draft."""
        now, details = self.dictating.now, self.encounter.facts.details
        if self._shown is None or self._shown[0] is not now.draft:
            self._shown = now.draft, shown(now, self.lexicon, purpose=details.purpose, age=details.age)
        return self._shown[1]

    def tell(self, _: Now | None = None) -> None:
        """Tell everybody who watches that something changed; from any thread."""
        for watcher in tuple(self.watchers):
            watcher()


class Dictations:
    """The dictations going on, by encounter."""

    def __init__(self, store: Store, settings: Settings) -> None:
        self.store = store
        self.settings = settings
        self._lock = RLock()
        self._ongoing: dict[str, Ongoing] = {}

    def find(self, encounter: str) -> Ongoing | None:
        """Return the dictation of an encounter that goes on here. Never waits: the lock may be held while a file is drafted."""
        return self._ongoing.get(encounter)

    def begin(self, encounter: Encounter, *, consent: bool, who: str) -> Ongoing:
        """Begin a dictation, or take up the one that goes on or was broken off. Raises InputError without consent."""
        with self._lock:
            if (found := self.find(encounter.id)) is not None:
                return found
            encounter.refresh()
            unfinished = broken_off(encounter)
            folder = unfinished[0] if unfinished else begin(encounter, consent=consent, who=who, time=this_moment())
            lexicon = load_lexicon(self.settings.personal_lexicon, cache=self.settings.cache_folder)
            told: list[Ongoing] = []
            dictating, kept = dictate(folder, lexicon, self.settings, lambda now: told[0].tell(now) if told else None)
            made = Ongoing(encounter, dictating, kept, lexicon)
            told.append(made)
            self._ongoing[encounter.id] = made
            return made

    def end(self, ongoing: Ongoing, who: str) -> str:
        """End a dictation: read what is left, take it in, and return the path to go on to. Waits as long as that takes."""
        ongoing.dictating.finish()
        ongoing.dictating.wait()
        with self._lock:
            if ongoing.review is None:
                encounter = ongoing.encounter
                encounter.refresh()
                draft = take_in(
                    encounter, ongoing.dictating, ongoing.kept, ongoing.lexicon, self.settings, who=who, time=this_moment()
                )  # fmt: skip
                ongoing.review = f"/review/{encounter.id}/{draft}" if draft else "/"
                self._ongoing.pop(encounter.id, None)
        ongoing.tell()
        return ongoing.review

    def withdraw(self, encounter: Encounter, who: str) -> int:
        """Delete the sound of an encounter, a dictation going on too; return how many recordings were in the store."""
        with self._lock:
            ongoing = self._ongoing.pop(encounter.id, None)
            if ongoing is not None:
                ongoing.dictating.close()
                ongoing.review = "/"
            encounter.refresh()
            count = withdraw_consent(encounter, who, this_moment())
        if ongoing is not None:
            ongoing.tell()
        return count

    def close(self) -> None:
        """Leave every dictation as it is, to be taken up again."""
        with self._lock:
            for ongoing in self._ongoing.values():
                ongoing.dictating.close()
            self._ongoing.clear()
