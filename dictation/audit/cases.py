"""The signed records of a store, one at a time: what an audit looks at, and nothing that says whose they are.

Imports review, store, record and errors.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from dictation.record import DraftRecord, RecordField, parse_draft
from dictation.review.decisions import Decision, State, entered_in_error, fold
from dictation.store.store import Encounter, Store

GENERAL = "general"


@dataclass(frozen=True, slots=True)
class Case:
    """One signed examination. decisions: those that no addendum says were entered in error. to_sign_min: minutes from the end
    of dictation to the signature; stated: that end is as the signer stated it, else when the draft was taken in.
    """

    purpose: str
    draft: DraftRecord
    state: State
    decisions: tuple[Decision, ...]
    to_sign_min: float
    stated: bool

    @property
    def kept(self) -> list[RecordField]:
        """The fields that stand in the record."""
        return [one.field for one in self.decisions if one.state in {"confirmed", "amended"}]


def signed_cases(store: Store, since: str | None = None, purpose: str | None = None) -> Iterator[Case]:
    """Give every signed examination, demonstrations left out. since: signed on that day or later, as 2025-03-04.

    Raises RecordError or StoreError where the store is broken.
    """
    for summary in store.encounters():
        if not summary.signed:
            continue
        encounter = Encounter(store, summary.id)
        for_what = encounter.facts.details.purpose or GENERAL
        if purpose is not None and for_what != purpose:
            continue
        for sha256 in encounter.facts.drafts:
            case = _case(encounter, sha256, for_what)
            if case is not None and (since is None or _day(case) >= since):
                yield case


def _case(encounter: Encounter, sha256: str, purpose: str) -> Case | None:
    entries = [entry for entry in encounter.entries if entry.draft == sha256]
    if not any(entry.what == "signed" for entry in entries):
        return None
    draft = parse_draft(encounter.draft_content(sha256), "A draft in the store")
    state = fold(draft, entries)
    signature = state.signature
    if signature is None or signature.demonstration:
        return None
    errors = entered_in_error(state.addenda)
    decisions = tuple(one for name, one in state.fields.items() if name not in errors)
    ended = _local(signature.dictated)
    signed = signature.time.local().replace(tzinfo=None)
    stated = ended is not None and ended <= signed
    begun = ended if stated and ended is not None else encounter.facts.drafts[sha256].time.local().replace(tzinfo=None)
    return Case(purpose, draft, state, decisions, max(0.0, (signed - begun).total_seconds() / 60), stated)


def _local(text: str | None) -> datetime | None:
    try:
        return datetime.strptime(text or "", "%Y-%m-%d %H:%M")
    except ValueError:
        return None


def _day(case: Case) -> str:
    assert case.state.signature is not None, "a case is signed"
    return case.state.signature.time.at[:10]
