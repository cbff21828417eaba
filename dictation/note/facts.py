"""What a note says of its record: encounter, when, who decided, who signed, versions, checksums. Imports record types."""

from __future__ import annotations

from collections import Counter

from dictation.note.printable import printable
from dictation.review.records import CompleteRecord, SignedRecord

_CHECKSUM, _HEAD = "Record checksum (SHA-256)", "Journal head (SHA-256)"
IN_BRIEF = {"Encounter", "Examined", "Signed", _CHECKSUM, _HEAD}
"""The facts that even a brief note holds."""


def record_facts(record: CompleteRecord | SignedRecord) -> list[tuple[str, str]]:
    """Return name and value of each fact, in order, each printable."""
    complete = record.complete if isinstance(record, SignedRecord) else record
    signature = record.signature if isinstance(record, SignedRecord) else None
    source = complete.draft.source
    facts = [
        ("Encounter", printable(complete.reference)),
        ("Examined", printable(_examined(record, complete) or "not stated")),
        ("Dictated", printable((signature.dictated if signature else None) or "not stated")),
    ]
    facts += _stated(complete)
    who = Counter(printable(d.who or "") for d in complete.decisions)
    decided = "; ".join(f"{name} ({count})" for name, count in sorted(who.items())) or "nothing to decide"
    facts.append(("Decided by", decided))
    states = Counter("added by hand" if d.added and d.state != "rejected" else d.state for d in complete.decisions)
    shown = ("confirmed", "amended", "added by hand", "rejected")
    facts.append(("Statements", ", ".join(f"{states[state]} {state}" for state in shown)))
    if signature is not None:
        signed = f"{printable(signature.signer)}, {printable(signature.role)}, {signature.time.words()}"
        if signature.demonstration:
            signed = f"by no one: a demonstration, {signature.time.words()}"
        facts.append(("Signed", signed + ("" if signature.demonstration else " (named, not authenticated)")))
    facts.append(("Recogniser", printable(source.recogniser + (f", {source.model}" if source.model else ""))))
    version = signature.program_version if signature else source.program_version
    facts.append(("Versions", printable(f"program {version}, lexicon {source.lexicon_version}")))
    if isinstance(record, SignedRecord) and signature is not None:
        facts += [(_CHECKSUM, signature.checksum), (_HEAD, record.head)]
    return facts


def _examined(record: CompleteRecord | SignedRecord, complete: CompleteRecord) -> str | None:
    if isinstance(record, SignedRecord):
        return record.signature.examined
    return complete.details.examined if complete.details else None


def _stated(complete: CompleteRecord) -> list[tuple[str, str]]:
    """What the encounter states of the examination, each where it does."""
    details = complete.details
    if details is None:
        return []
    age = f"{details.age} years" if details.age is not None else None
    found = (
        ("Examiner", ", ".join(filter(None, (details.examiner, details.role)))),
        ("Also present", details.present),
        ("Purpose", details.purpose),
        ("Age and sex", ", ".join(filter(None, (age, details.sex)))),
        ("Consent to recording", details.consent),
    )
    return [(name, printable(value)) for name, value in found if value]
