"""The part of an encounter's journal that decides on one draft, as a review reads and writes it.

Imports store.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dictation.store.journal import Entry, Moment, Step
from dictation.store.store import SIGNED, Encounter


class DraftJournal:
    """The entries about one draft. Appending is acknowledged once it is on disk, all or none."""

    def __init__(self, encounter: Encounter, draft_sha256: str) -> None:
        self.encounter = encounter
        self.draft_sha256 = draft_sha256

    @property
    def entries(self) -> tuple[Entry, ...]:
        """The entries about the draft, in the order written; their numbers count the encounter's whole journal."""
        return tuple(entry for entry in self.encounter.entries if entry.draft == self.draft_sha256)

    @property
    def reference(self) -> str:
        """The encounter's reference."""
        return self.encounter.reference

    @property
    def signed_elsewhere(self) -> bool:
        """Whether another draft of the same recording is signed in this encounter."""
        drafts = self.encounter.facts.drafts
        signed = {entry.draft for entry in self.encounter.entries if entry.what == SIGNED}
        mine = drafts[self.draft_sha256].recording
        return any(drafts[draft].recording == mine for draft in signed if draft in drafts and draft != self.draft_sha256)

    def append(self, steps: Sequence[Step], who: str, time: Moment) -> tuple[Entry, ...]:
        """Write the steps and return them as entries.

        Raises OutputError or StoreError where they cannot be written, OvertakenError where somebody else has added to the
        encounter since it was read.
        """
        return self.encounter.append([replace(step, draft=self.draft_sha256) for step in steps], who, time)

    def refresh(self) -> tuple[Entry, ...]:
        """Read what was added to the encounter since, and return those entries of it that are about the draft."""
        return tuple(entry for entry in self.encounter.refresh() if entry.draft == self.draft_sha256)
