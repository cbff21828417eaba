"""The two types that a note is made of: a complete record (nothing pending) and a signed one.

Only the rules hand in the seal (tests/test_layout.py holds them to it), so neither can exist while a field is
pending, and a draft cannot be handed to a note by mistake. Imports record, decisions, checksum and errors.
"""

from __future__ import annotations

from dataclasses import dataclass

from dictation.errors import RecordError, ReviewError
from dictation.record import DraftRecord
from dictation.review.checksum import record_checksum
from dictation.review.decisions import Addendum, Decision, Signature, entered_in_error
from dictation.store.facts import Details

SEAL = object()
"""What a record out of a review carries; for rules.py alone."""


@dataclass(frozen=True, slots=True)
class CompleteRecord:
    """A draft with nothing pending. Made by ``Review.complete`` (rules.py) alone.

    reference: the encounter's. details: what is stated of it, as it was signed once that is done; None where a signature
    of an earlier version did not keep it.
    """

    reference: str
    draft: DraftRecord
    draft_sha256: str
    decisions: tuple[Decision, ...]
    seal: object
    details: Details | None = None

    def __post_init__(self) -> None:
        if self.seal is not SEAL:
            raise ReviewError("A complete record comes out of a review alone; decide every field first.")

    @property
    def kept(self) -> tuple[Decision, ...]:
        """The decisions whose field stands: confirmed, amended or added."""
        return tuple(decision for decision in self.decisions if decision.state != "rejected")


@dataclass(frozen=True, slots=True)
class SignedRecord:
    """A complete record, frozen by its signature. Made by ``Review.sign`` and ``Review.signed`` alone.

    signature.checksum: SHA-256 over record, transcript, what the encounter stated, lexicon version and program version;
    signature.head: hash of its own entry in the journal. addenda: what was added since, oldest first.
    """

    complete: CompleteRecord
    signature: Signature
    addenda: tuple[Addendum, ...]
    seal: object

    def __post_init__(self) -> None:
        if self.seal is not SEAL:
            raise ReviewError("A signed record comes out of a review alone; sign the review first.")

    @property
    def head(self) -> str:
        """The hash of the last entry that the note rests on: the last addendum's, else the signature's own."""
        return self.addenda[-1].head if self.addenda else self.signature.head

    @property
    def in_error(self) -> dict[str, int]:
        """The fields that addenda say were entered in error: id -> number of the addendum."""
        return entered_in_error(self.addenda)

    def verify(self) -> None:
        """Raise RecordError where the record is no longer what was signed."""
        changed = record_checksum(self.complete, self.signature.program_version) != self.signature.checksum
        if changed or any(addendum.to != self.signature.checksum for addendum in self.addenda):
            raise RecordError("The record is not what was signed: its checksum differs; restore the store from a back-up.")
