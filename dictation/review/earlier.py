"""How a draft of a recording differs from the one made of it before: shown beside each statement, deciding nothing.

No decision moves from one draft to the other; whoever decides again sees what was decided then. Imports decisions, record
and store.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from dictation.record import DraftRecord, RecordField, parse_draft
from dictation.review.decisions import Decision, fold
from dictation.store.facts import Taken
from dictation.store.store import Encounter

_PLACE = ("concept", "side", "digit", "joint", "structure", "aspect", "mode", "trial", "position", "occasion")
_CONTENT = (
    "status", "certainty", "severity", "value", "low", "high", "unit", "comparator", "grade_sign", "qualifier",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Earlier:
    """The draft before. was: id of a field of this draft -> what stood in its stead there; one that is missing is new.
    gone: what stands there and is nowhere in this draft.
    """

    taken: Taken
    was: dict[str, Decision]
    gone: tuple[Decision, ...]

    def changed(self, field: RecordField) -> bool:
        """Return whether a field of this draft says something else than the draft before did in the end, or is new."""
        before = self.was.get(field.id)
        return before is None or before.state == "rejected" or not _same(field, before.field, *_PLACE, *_CONTENT)


def earlier_draft(encounter: Encounter, draft_sha256: str, draft: DraftRecord) -> Earlier | None:
    """Return the draft of the same recording that came before: the last with a decision, else the last; None for the first.

    Raises StoreError or RecordError where that cannot be read.
    """
    drafts = encounter.facts.drafts
    mine = drafts[draft_sha256].recording
    before = [sha256 for sha256 in list(drafts)[: list(drafts).index(draft_sha256)] if drafts[sha256].recording == mine]
    if not before:
        return None
    decided = {entry.draft for entry in encounter.entries if entry.what != "draft taken"}
    chosen = next((sha256 for sha256 in reversed(before) if sha256 in decided), before[-1])
    then = parse_draft(encounter.draft_content(chosen), "The draft before in the store")
    state = fold(then, [entry for entry in encounter.entries if entry.draft == chosen])
    return compare(drafts[chosen], list(state.fields.values()), draft)


def compare(taken: Taken, then: list[Decision], draft: DraftRecord) -> Earlier:
    """Return how a draft differs from what stands in the one before it, each statement set against one at most.

    First those that say the same, then the same thing of the same place, then the same concept heard at the same time.
    """
    left, was = list(then), dict[str, Decision]()
    for alike in (_alike, _of_the_same, _heard_together):
        for field in draft.fields:
            found = next((d for d in left if alike(field, d.field)), None) if field.id not in was else None
            if found is not None:
                was[field.id] = found
                left.remove(found)
    return Earlier(taken, was, tuple(d for d in left if d.state != "rejected"))


def _alike(one: RecordField, other: RecordField) -> bool:
    return _same(one, other, *_PLACE, *_CONTENT)


def _of_the_same(one: RecordField, other: RecordField) -> bool:
    return _same(one, other, *_PLACE)


def _heard_together(one: RecordField, other: RecordField) -> bool:
    return one.concept == other.concept and any(
        start < end_other and start_other < end for start, end in _spans(one) for start_other, end_other in _spans(other)
    )


def _spans(field: RecordField) -> Iterator[tuple[float, float]]:
    """When the statement was heard; for typed text, its words."""
    for evidence in field.evidence:
        if evidence.role == "statement":
            spoken = evidence.start is not None and evidence.end is not None
            yield (evidence.start, evidence.end) if spoken else evidence.words  # type: ignore[misc]  # floats where spoken


def _same(one: RecordField, other: RecordField, *keys: str) -> bool:
    return all(getattr(one, key) == getattr(other, key) for key in keys)
