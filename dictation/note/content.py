"""What every form of the note says, as data: title, banner, sections, times, signature, cautions.

Takes a CompleteRecord (a preview, marked NOT SIGNED) or a SignedRecord, verified first; decides nothing. Each
line is the sentence that was confirmed, word for word. Text and Markdown lay this out; neither adds a fact of
its own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from dictation.lexicon.entries import Lexicon
from dictation.note.order import order_by_part
from dictation.note.printable import printable
from dictation.note.wording import HEADINGS
from dictation.review.decisions import Addendum, Decision
from dictation.review.records import CompleteRecord, SignedRecord

TITLE = "Hand, wrist and elbow examination"
NOT_SIGNED = "PREVIEW, NOT SIGNED: not to be filed or acted on."
DEMONSTRATION = (
    "DEMONSTRATION on an invented recording: a program made the decisions, no clinician confirmed "
    "any of this, and it "
    "describes no patient."
)
DICTATED = (
    "This note was dictated. A program turned the recording into statements; each statement here was "
    "then confirmed, "
    "amended or added by the person named above."
)
DOES_NOT = (
    "The program makes no diagnosis and gives no advice. It does not compare the note with the "
    "patient. What is not "
    "mentioned here was not said: it may have been examined or not."
)


@dataclass(frozen=True, slots=True)
class Content:
    """The note, laid out by no one yet. sections: heading and lines. facts: name and value, in order."""

    title: str
    banner: str | None
    sections: tuple[tuple[str, tuple[str, ...]], ...]
    facts: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]


def note_content(record: CompleteRecord | SignedRecord, lexicon: Lexicon, *, as_signed: bool = False) -> Content:
    """Return what the note says, with what was added since it was signed.

    as_signed: leave that out; the note says then that it is superseded. Raises RecordError where a signed record is no longer
    what was signed.
    """
    if isinstance(record, SignedRecord):
        record.verify()
        complete, demonstration = record.complete, record.signature.demonstration
        banner = DEMONSTRATION if demonstration else None
    else:
        complete, demonstration, banner = record, False, NOT_SIGNED
    sections = tuple(
        (HEADINGS[part], tuple(_line(decision) for decision in found)) for part, found in order_by_part(complete.kept, lexicon)
    )
    if isinstance(record, SignedRecord) and record.addenda:
        if as_signed:
            banner = " ".join(filter(None, [banner, _superseded(record.addenda)]))
        else:
            sections += tuple(
                (f"Addendum {number}, {addendum.time.words()}", (_addendum(addendum),))
                for number, addendum in enumerate(record.addenda, 1)
            )
    cautions = (DEMONSTRATION, DOES_NOT) if demonstration else (DICTATED, DOES_NOT)
    if banner == NOT_SIGNED:
        cautions = (NOT_SIGNED, DOES_NOT)
    return Content(TITLE, banner, sections, tuple(_facts(record, complete)), cautions)


def _superseded(addenda: Sequence[Addendum]) -> str:
    last = addenda[-1]
    count = "an addendum" if len(addenda) == 1 else f"{len(addenda)} addenda"
    return f"SUPERSEDED on {last.time.words()} by {count}: read the note that has what was added."


def _addendum(addendum: Addendum) -> str:
    text = printable(addendum.text)
    return f"{text}{'' if text.endswith('.') else '.'} {printable(addendum.signer)}, {printable(addendum.role)}."


def _line(decision: Decision) -> str:
    line = printable(decision.sentence or "")
    return f"{line} (added by hand)." if decision.added else f"{line}."


def _facts(record: CompleteRecord | SignedRecord, complete: CompleteRecord) -> list[tuple[str, str]]:
    signature = record.signature if isinstance(record, SignedRecord) else None
    source = complete.draft.source
    facts = [
        ("Encounter", printable(complete.reference)),
        ("Examined", _examined(record, complete) or "not stated"),
        ("Dictated", (signature.dictated if signature else None) or "not stated"),
    ]
    facts += _stated(complete)
    who = Counter(printable(d.who or "") for d in complete.decisions)
    facts.append(
        (
            "Decided by",
            "; ".join(f"{name} ({count})" for name, count in sorted(who.items())) or "nothing to decide",
        )
    )
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
        facts += [("Record checksum (SHA-256)", signature.checksum), ("Journal head (SHA-256)", record.head)]
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
