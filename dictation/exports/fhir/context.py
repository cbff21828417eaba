"""What every resource of one bundle shares: its ids, the patient's placeholder, people, narrative.

Ids are made from the record's checksum, so the same record gives the same bundle. Imports codes and record types.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from html import escape
from typing import Any
from uuid import UUID, uuid5

from dictation.exports.fhir.codes import OWN
from dictation.lexicon.entries import Lexicon
from dictation.note.printable import printable
from dictation.review.records import SignedRecord
from dictation.store.journal import Moment

_SPACE = UUID("6f0d6c2e-5d3c-5b0a-9c7e-0a4b6a1f7d11")


@dataclass
class Context:
    """One bundle being made. people: the Practitioner of each name met so far."""

    record: SignedRecord
    lexicon: Lexicon
    superseded: bool
    people: dict[str, dict[str, Any]] = field(default_factory=dict)

    @property
    def version(self) -> str:
        """What tells this document from an earlier or later one of the same record: a journal hash."""
        return self.record.signature.head if self.superseded else self.record.head

    def uuid(self, kind: str, name: str) -> str:
        """Return the id of a resource, the same for the same record and state."""
        return str(uuid5(_SPACE, f"{self.record.signature.checksum}/{self.version}/{kind}/{name}"))

    def reference(self, kind: str, name: str) -> dict[str, str]:
        """Return a reference to a resource of the bundle."""
        return {"reference": f"urn:uuid:{self.uuid(kind, name)}"}

    def patient(self) -> dict[str, Any]:
        """Return the placeholder of the patient: the encounter's reference, which the clinic resolves, and no resource."""
        reference = self.record.complete.reference
        return {
            "type": "Patient",
            "identifier": {"system": f"{OWN}:encounter", "value": reference},
            "display": f"Patient of encounter {reference}",
        }

    def person(self, name: str, role: str | None = None) -> dict[str, Any]:
        """Return a reference to the Practitioner of a name, made where it is new. Named, not authenticated.

        In a demonstration it was the program that decided, and nobody is a Practitioner.
        """
        text = printable(name) or "not named"
        if self.record.signature.demonstration:
            return {"display": f"{text} (a demonstration)"}
        one = self.people.setdefault(
            text, {"resourceType": "Practitioner", "id": self.uuid("Practitioner", text), "name": [{"text": text}]}
        )
        if role and printable(role):
            one["qualification"] = [{"code": {"text": printable(role)}}]
        return {**self.reference("Practitioner", text), "display": text}


def narrative(lines: Iterable[str], *, status: str = "generated") -> dict[str, str]:
    """Return lines as XHTML, escaped: one as a paragraph, several as a list."""
    texts = [escape(printable(line)) for line in lines]
    inside = f"<p>{texts[0]}</p>" if len(texts) == 1 else f"<ul>{''.join(f'<li>{text}</li>' for text in texts)}</ul>"
    return {"status": status, "div": f'<div xmlns="http://www.w3.org/1999/xhtml">{inside}</div>'}


def instant(time: Moment) -> str:
    """Return a moment as FHIR has it, with the zone of the local clock."""
    return time.local().isoformat()
