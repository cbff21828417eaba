"""Why a draft is as it is: for each field the rules and lexicon entries that made it, for each other stretch why not.

The reasons are those that extraction noted as it went. A draft holds none of them, so its own words are read once more;
a field that does not come out the same again is said to be unexplained rather than explained by guess. What goes in: a
draft, or text. What comes out: plain values, and lines for the screen. Imports pipeline and what is below it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from dictation import __version__
from dictation.errors import InputError
from dictation.extraction.extract import Trace, extract
from dictation.extraction.reasons import Fate, Reason, Rule
from dictation.lexicon.loading import load_lexicon
from dictation.note.printable import printable
from dictation.note.wording import word_field
from dictation.pipeline import draft_text
from dictation.record import DraftRecord, Flag, RecordField
from dictation.settings import read_settings
from dictation.transcript import CorrectedTranscript, CorrectedWord, Transcript, Word

if TYPE_CHECKING:
    from dictation.lexicon.entries import Lexicon
    from dictation.settings import Settings

PAUSE_S = 0.3
"""Silence between two words of sound that counts as a pause; a draft keeps the times of words, not the pauses."""
TITLES = {
    "concept": "what", "place": "where", "side": "side", "status": "result", "number": "number", "mode": "mode",
    "detail": "detail", "history": "then",
}  # fmt: skip
"""What a reason gives, as the screen names it, in the order shown."""


@dataclass(frozen=True, slots=True)
class Step:
    """One reason: the rule, what it gives, its sentence, and the heard words it read (end excluded), None for none."""

    rule: Rule
    about: str
    sentence: str
    words: tuple[int, int] | None


@dataclass(frozen=True, slots=True)
class ExplainedField:
    """A field with its reasons in order; none where it did not come out the same when its words were read again."""

    number: int
    field: RecordField
    sentence: str
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class ExplainedStretch:
    """Heard words in no field: what became of them, and the reason in words."""

    words: tuple[int, int]
    text: str
    fate: Fate
    sentence: str


@dataclass(frozen=True, slots=True)
class Explanation:
    """Every field and every stretch of one draft. changed: what made the draft differs from what read it again."""

    draft: DraftRecord
    fields: tuple[ExplainedField, ...]
    stretches: tuple[ExplainedStretch, ...]
    changed: tuple[str, ...] = ()

    def field(self, name: str) -> ExplainedField:
        """Return one field by its number, from 1, or by its id. Raises InputError where there is none."""
        for one in self.fields:
            if name in {str(one.number), one.field.id}:
                return one
        count = len(self.fields)
        raise InputError(f"There is no such field; give a number from 1 to {count}, or an id." if count else "It has no field.")

    def within(self, start: int, end: int) -> tuple[list[ExplainedField], list[ExplainedStretch]]:
        """Return the fields that rest on any of words[start:end], and the stretches that hold any of them.

        Raises InputError where the dictation has no such words.
        """
        count = len(self.draft.transcript.words)
        if not 0 <= start < end <= count:
            raise InputError(f"There are no such words; they are numbered from 0 to {count}, the end not included.")
        fields = [f for f in self.fields if any(_meets(e.words, start, end) for e in f.field.evidence)]
        return fields, [s for s in self.stretches if _meets(s.words, start, end)]


def explain_text(text: str, *, settings: Settings | None = None) -> Explanation:
    """Return why the draft of a typed dictation is as it is."""
    settings = settings or read_settings()
    lexicon = load_lexicon(settings.personal_lexicon, cache=settings.cache_folder)
    return explain_draft(draft_text(text, settings=settings), lexicon)


def explain_draft(draft: DraftRecord, lexicon: Lexicon) -> Explanation:
    """Return why a draft is as it is. lexicon: with the clinic's own words, where the draft was made with them."""
    transcript = _transcript(draft)
    found = extract(transcript, lexicon)
    trace = found.trace
    assert trace is not None
    again = {f.id: f for f in found.fields}
    fields = [
        ExplainedField(
            number, f, word_field(f, lexicon), _steps(trace, trace.why[f.id]) if _same(f, again.get(f.id)) else ()
        )
        for number, f in enumerate(draft.fields, start=1)
    ]  # fmt: skip
    stretches = []
    for one in trace.account.stretches():
        i, j = trace.words.heard(*one.span)
        text = " ".join(w.said for w in transcript.heard.words[i:j])
        stretches.append(ExplainedStretch((i, j), text, one.fate, one.fate.sentence.format(detail=one.detail)))
    return Explanation(draft, tuple(fields), tuple(stretches), tuple(_changed(draft, lexicon)))


def _transcript(draft: DraftRecord) -> CorrectedTranscript:
    """The words of a draft as extraction read them; pauses are found again from the times of the words."""
    words = tuple(Word(w.said, w.start, w.end, w.probability) for w in draft.transcript.words)
    pauses = frozenset(
        i for i in range(len(words))
        if (begins := words[i].start) is not None and (i == 0 or begins - (words[i - 1].end or 0.0) > PAUSE_S)
    )  # fmt: skip
    corrected = (CorrectedWord(c.text, c.from_, c.reason, c.distance, c.runner_up) for c in draft.transcript.corrected)
    return CorrectedTranscript(Transcript(words, pauses), tuple(corrected))


def _same(field: RecordField, again: RecordField | None) -> bool:
    """Whether a field came out the same; the checks add flags, confidence and the evidence of repeats later."""
    later = {"flags", "confidence", "evidence", "decision"}
    return again is not None and field.model_dump(exclude=later) == again.model_dump(exclude=later)


def _changed(draft: DraftRecord, lexicon: Lexicon) -> Iterator[str]:
    source = draft.source
    if source.program_version != __version__:
        yield f"Drafted by program {source.program_version}, read again by {__version__}."
    shipped = source.lexicon_version == lexicon.version and source.lexicon_sha256 in {None, lexicon.checksum}
    if not shipped or source.personal_lexicon_sha256 != lexicon.personal_sha256:
        yield "Drafted with another lexicon than the one in use."


def _steps(trace: Trace, reasons: Sequence[Reason]) -> tuple[Step, ...]:
    order = list(TITLES)
    out = [_step(trace, reason) for reason in sorted(reasons, key=lambda r: order.index(r.rule.about))]
    return tuple(dict.fromkeys(out))


def _step(trace: Trace, reason: Reason) -> Step:
    words = trace.words.heard(*reason.span) if reason.span else None
    said = " ".join(w.said for w in trace.words.transcript.heard.words[slice(*words)]) if words else ""
    sentence = reason.rule.sentence.format(words=f'"{said.rstrip(".,;:?!")}"', detail=reason.detail)
    return Step(reason.rule, reason.rule.about, sentence, words)


def _meets(span: tuple[int, int], start: int, end: int) -> bool:
    return span[0] < end and start < span[1]


def show_explanation(
    explanation: Explanation, *, field: str | None = None, words: tuple[int, int] | None = None
) -> Iterator[str]:
    """Yield the lines to print: everything, or one field, or what rests on or became of words[start:end].

    Raises InputError where there is no such field or words. Everything spoken is made printable.
    """
    fields, stretches = list(explanation.fields), list(explanation.stretches)
    if field is not None:
        fields, stretches = [explanation.field(field)], []
    if words is not None:
        fields, stretches = explanation.within(*words)
    yield from explanation.changed
    for one in fields:
        yield from _field_lines(one)
    if stretches:
        yield "In no field:"
        yield from (f'  words {s.words[0]}:{s.words[1]}  "{printable(s.text)}": {printable(s.sentence)}' for s in stretches)
    if not fields and not stretches:
        yield "Nothing was said."


def _field_lines(one: ExplainedField) -> Iterator[str]:
    i, j = one.field.evidence[0].words
    yield f"{one.number}. {one.sentence} ({one.field.concept})"
    yield f'   words {i}:{j}  "{printable(one.field.evidence[0].said)}"'
    title = ""
    for step in one.steps:
        now = TITLES[step.about]
        yield f"   {now if now != title else '':<8} {printable(step.sentence)}"
        title = now
    if not one.steps:
        yield "   It does not come out the same when its words are read again, so its reasons are not known."
    yield from (_flag_line(flag) for flag in one.field.flags)
    yield ""


def _flag_line(flag: Flag) -> str:
    return f"   {'check' if flag.level == 'check' else 'note':<8} {printable(flag.message)} ({flag.code})"
