"""How a draft comes under review: from its file into an encounter, and back out of the store when it is taken up again.

Imports rules, journal, record, store and lexicon.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from dictation.errors import InputError
from dictation.lexicon.entries import Lexicon
from dictation.record import DraftRecord, parse_draft, read_draft_file
from dictation.review.cautions import Cautions, no_cautions
from dictation.review.decisions import fold
from dictation.review.journal import DraftJournal
from dictation.review.rules import Review, Wording
from dictation.store.facts import Details, Facts, read_reference, suggest_reference
from dictation.store.journal import Entry, Moment
from dictation.store.store import Encounter, Store


@dataclass(frozen=True, slots=True)
class DraftFile:
    """A draft as a file holds it. Made by ``read_file``."""

    path: Path
    content: bytes
    draft: DraftRecord

    @property
    def sha256(self) -> str:
        """The checksum that decisions are bound to."""
        return hashlib.sha256(self.content).hexdigest()


def read_file(path: Path) -> DraftFile:
    """Return the draft in a file. Raises InputError where it cannot be read, RecordError where it is no draft."""
    content = read_draft_file(path)
    old = path.with_name(path.name.removesuffix(".json").removesuffix(".draft") + ".journal.jsonl")
    if old.exists():
        raise InputError(
            f"{old.name} beside the draft holds decisions of an earlier version, which this one does not read; move that file "
            "away to review the draft anew."
        )
    return DraftFile(path, content, parse_draft(content, path.name))


def find_encounter(store: Store, file: DraftFile, reference: str | None = None) -> Encounter | None:
    """Return the encounter that holds a draft, None where it was never taken into one, or not into that of the reference.

    Raises InputError where several hold it and no reference says which.
    """
    holding = store.holding(file.sha256)
    if reference is not None:
        wanted = read_reference(reference).casefold()
        holding = [encounter for encounter in holding if encounter.reference.casefold() == wanted]
    if len(holding) > 1:
        raise InputError(f"{file.path.name} is in several encounters; say which with --encounter.")
    return holding[0] if holding else None


def take_in(store: Store, file: DraftFile, reference: str | None, who: str, time: Moment) -> Encounter:
    """Take a draft file into an encounter and return that: the one of the reference, which is opened where there is none.

    Without a reference a new encounter takes the name of the file as its own. Raises InputError where that is taken, or
    where the recording belongs to another encounter.
    """
    encounter = store.find(read_reference(reference)) if reference is not None else None
    if encounter is None:
        name = reference or suggest_reference(file.path.name.removesuffix(".json").removesuffix(".draft"))
        if name is None:
            raise InputError(f"The name of {file.path.name} cannot serve as a reference; give one with --encounter.")
        encounter = store.find(name)
        if encounter is not None and encounter.facts.drafts:
            raise InputError(
                f"There is an encounter {name} already, with another draft; give --encounter with a new reference, or with "
                "that one to add this draft to it."
            )
        encounter = encounter or store.open_encounter(name, Details(), who, time)
    source = file.draft.source
    encounter.take_draft(
        file.content, source.sha256, source.name, spoken=source.recogniser != "text", who=who, time=time
    )  # fmt: skip
    return encounter


def check_package(facts: Facts, entries: Sequence[Entry], drafts: Mapping[str, bytes]) -> None:
    """Raise RecordError where a draft handed over is none, or what was decided does not fit it."""
    for sha256 in facts.drafts:
        draft = parse_draft(drafts[sha256], "A draft in the file")
        fold(draft, [entry for entry in entries if entry.draft == sha256])


def check_encounter(encounter: Encounter) -> None:
    """Raise RecordError where what was decided in an encounter does not fit its drafts."""
    drafts = {sha256: encounter.draft_content(sha256) for sha256 in encounter.facts.drafts}
    check_package(encounter.facts, encounter.entries, drafts)


def open_review(
    encounter: Encounter, draft_sha256: str, lexicon: Lexicon, word: Wording, cautions: Cautions = no_cautions
) -> Review:
    """Return the review of a draft of an encounter, where its journal stands. Raises StoreError, RecordError."""
    draft = parse_draft(encounter.draft_content(draft_sha256), "The draft in the store")
    return Review(draft, draft_sha256, DraftJournal(encounter, draft_sha256), lexicon, word, cautions)
