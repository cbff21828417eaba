"""What a note has to say, as data, before a template arranges it: parts, sides, addenda, facts, banner, cautions.

Takes a CompleteRecord (a preview, marked NOT SIGNED) or a SignedRecord, verified first; decides nothing. Every
statement kept is in it once for each way of arranging them (by part, by side).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from dictation.lexicon.entries import Lexicon
from dictation.measurement.result import Measure
from dictation.note.document import Facts, Sentence, Table
from dictation.note.facts import IN_BRIEF, record_facts
from dictation.note.merging import confirmed, merge_sentences, withdrawn
from dictation.note.options import NoteOptions
from dictation.note.order import order_by_part
from dictation.note.places import SIDES
from dictation.note.printable import printable
from dictation.note.tables import number_table
from dictation.note.wording import CLINICAL_WORDS, HEADINGS, Words
from dictation.review.decisions import Addendum, Decision
from dictation.review.grouping import negative
from dictation.review.records import CompleteRecord, SignedRecord

NOT_SIGNED = "PREVIEW, NOT SIGNED: not to be filed or acted on."
DEMONSTRATION = (
    "DEMONSTRATION on an invented recording: a program made the decisions, no clinician confirmed any of this, and it "
    "describes no patient."
)
DICTATED = (
    "This note was dictated. A program turned the recording into statements; each statement here was then confirmed, "
    "amended or added by the person named above."
)
DOES_NOT = (
    "The program makes no diagnosis and gives no advice. It does not compare the note with the patient. What is not "
    "mentioned here was not said: it may have been examined or not."
)
TYPED = DICTATED.replace("dictated", "made from typed text").replace("the recording", "the text")
PLAIN_DICTATED = "This page was made from words that were spoken. The person named here has agreed to each line of the record."
PLAIN_TYPED = PLAIN_DICTATED.replace("spoken", "typed")
PLAIN_DOES_NOT = (
    "It holds what is in the record and nothing else. It gives no advice. What is not named here was not said. It may "
    "have been checked or not."
)
_APART = {"context", "reported", "impression", "plan"}


@dataclass(frozen=True, slots=True)
class Part:
    """One part of the examination. lines: its statements, without those in table. sentences: all of them, as sentences."""

    id: str
    heading: str
    lines: tuple[Sentence, ...]
    table: Table | None
    sentences: tuple[Sentence, ...]


@dataclass(frozen=True, slots=True)
class SideFindings:
    """What was found on one side over all parts of the examination. name: "RIGHT", "LEFT", or "" where no side applies.

    findings: positives and numbers, and what was entered in error. ordinary: negatives and normals. not_assessed: what was
    said not to be.
    """

    name: str
    findings: tuple[Sentence, ...]
    ordinary: tuple[Sentence, ...]
    not_assessed: tuple[Sentence, ...]


@dataclass(frozen=True, slots=True)
class Content:
    """All that a template may arrange. kept: the statements that must all be in the note, one by one."""

    banner: str | None
    kept: tuple[Sentence, ...]
    parts: tuple[Part, ...]
    sides: tuple[SideFindings, ...]
    measures: tuple[Sentence, ...]
    addenda: tuple[tuple[str, Sentence], ...]
    facts: Facts
    facts_in_brief: Facts
    cautions: tuple[str, ...]
    texts: dict[str, str]


def note_content(
    record: CompleteRecord | SignedRecord, lexicon: Lexicon, options: NoteOptions, words: Words = CLINICAL_WORDS
) -> Content:
    """Return what the note says. Raises RecordError where a signed record is no longer what was signed."""
    addenda: tuple[Addendum, ...] = ()
    complete, demonstration, banner = record if isinstance(record, CompleteRecord) else record.complete, False, NOT_SIGNED
    if isinstance(record, SignedRecord):
        record.verify()
        demonstration = record.signature.demonstration
        banner = DEMONSTRATION if demonstration else ""
        addenda = () if options.as_signed else record.addenda
        if options.as_signed and record.addenda:
            banner = f"{banner} {superseded(record.addenda)}".strip()
    typed = complete.draft.source.recogniser == "text"
    dictated, does_not = (PLAIN_DICTATED, PLAIN_DOES_NOT) if words.plain else (DICTATED, DOES_NOT)
    if typed:
        dictated = PLAIN_TYPED if words.plain else TYPED
    marked = NOT_SIGNED if isinstance(record, CompleteRecord) else DEMONSTRATION if demonstration else None
    errors = record.in_error if isinstance(record, SignedRecord) and not options.as_signed else {}
    parts = order_by_part(complete.kept, lexicon)
    facts = record_facts(record)
    return Content(
        banner or None,
        tuple(
            withdrawn(d, lexicon, words, errors) if d.field.id in errors else Sentence(confirmed(d), (d.field.id,))
            for d in complete.kept
        ),
        tuple(_part(part, found, lexicon, words, errors) for part, found in parts),
        tuple(_sides([d for part, found in parts if part not in _APART for d in found], lexicon, words, errors)),
        tuple(_measure(measure) for measure in options.measures),
        tuple((f"Addendum {n}, {a.time.words()}", Sentence(_addendum(a))) for n, a in enumerate(addenda, 1)),
        Facts(tuple(facts)),
        Facts(tuple(fact for fact in facts if fact[0] in IN_BRIEF)),
        (marked or dictated, does_not),
        _texts(record, complete),
    )


def superseded(addenda: Sequence[Addendum]) -> str:
    """Return what the note without its addenda says of itself."""
    last = addenda[-1]
    count = "an addendum" if len(addenda) == 1 else f"{len(addenda)} addenda"
    return f"SUPERSEDED on {last.time.words()} by {count}: read the note that has what was added."


def _part(part: str, found: Sequence[Decision], lexicon: Lexicon, words: Words, errors: Mapping[str, int]) -> Part:
    table, rest = number_table(found, lexicon, words, errors)
    sentences = merge_sentences(found, lexicon, words, errors)
    lines = sentences if table is None else merge_sentences(rest, lexicon, words, errors)
    return Part(part, HEADINGS[part], tuple(lines), table, tuple(sentences))


def _sides(
    found: Sequence[Decision], lexicon: Lexicon, words: Words, errors: Mapping[str, int]
) -> Iterable[SideFindings]:
    for side in ("right", "left", None):
        mine = [decision for decision in found if decision.field.side == side]
        kinds: dict[str, list[Decision]] = {"findings": [], "ordinary": [], "not assessed": []}
        for decision in mine:
            kinds[_kind(decision, lexicon, errors)].append(decision)
        if mine:
            merged = (tuple(merge_sentences(group, lexicon, words, errors)) for group in kinds.values())
            yield SideFindings(SIDES[side] if side else "", *merged)


def _kind(decision: Decision, lexicon: Lexicon, errors: Mapping[str, int]) -> str:
    if decision.field.id in errors:
        return "findings"
    if decision.field.status == "not_assessed":
        return "not assessed"
    return "ordinary" if negative(decision.field, lexicon) else "findings"


def _measure(measure: Measure) -> Sentence:
    """One measure with what it is worked out by and from whom: a number that the record does not hold says so."""
    place = " ".join(filter(None, [SIDES.get(measure.side or ""), measure.digit]))
    by = "; ".join(filter(None, [measure.formula, str(measure.source)]))
    notes = "".join(f" {note}" for note in measure.notes)
    return Sentence(printable(f"{place + ': ' if place else ''}{measure.text} (worked out: {by}).{notes}"), measure.inputs)


def _addendum(addendum: Addendum) -> str:
    text = printable(addendum.text)
    return f"{text}{'' if text.endswith('.') else '.'} {printable(addendum.signer)}, {printable(addendum.role)}."


def _texts(record: CompleteRecord | SignedRecord, complete: CompleteRecord) -> dict[str, str]:
    """Single values that a template may put into a sentence of its own; "" where there is none."""
    signature = record.signature if isinstance(record, SignedRecord) and not record.signature.demonstration else None
    texts = {"reference": complete.reference, "examined": "", "dictated": "", "signer": "", "role": "", "signed": ""}
    if signature is not None:
        texts |= {
            "examined": signature.examined or "",
            "dictated": signature.dictated or "",
            "signer": signature.signer,
            "role": signature.role,
            "signed": signature.time.words(),
        }
    return {name: printable(text) for name, text in texts.items()}
