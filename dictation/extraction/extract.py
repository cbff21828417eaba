"""From corrected words to fields: the order of extraction, written down once.

words -> tokens -> mentions and numbers -> lines and clauses -> items -> statements -> made fields -> record fields.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from operator import attrgetter

from dictation.extraction.accounting import Account
from dictation.extraction.assembly import Assembler
from dictation.extraction.background import background, without_visits
from dictation.extraction.concepts import Namer
from dictation.extraction.digits import short_digits
from dictation.extraction.items import Item, build_items
from dictation.extraction.lines import split_lines
from dictation.extraction.made import Made
from dictation.extraction.matching import Mention, TermMatcher, compile_patterns
from dictation.extraction.numbers import Reading, find_numbers
from dictation.extraction.pauses import likely_marks
from dictation.extraction.positions import find_positions
from dictation.extraction.reasons import Fate, Outcome, Reason
from dictation.extraction.risks import talks
from dictation.extraction.shared_places import without_found_places
from dictation.extraction.short_names import returns, short_names
from dictation.extraction.sides import ordinary_word
from dictation.extraction.speech import REASONS, Clause, classify
from dictation.extraction.statements import Builder
from dictation.extraction.tokens import Token, tokenise
from dictation.extraction.two_readings import flag_disagreement
from dictation.lexicon.compiled import compiled
from dictation.lexicon.entries import Lexicon
from dictation.record import Evidence, Flag, FlagCode, RecordField, Run, Side, Unplaced
from dictation.transcript import CorrectedTranscript, shortened

LONG = 18
"""A stretch of more words than this without a comma was written without punctuation; chosen by us, no source."""
NEAR = 4
"""So many words after "reports" its statement may begin; chosen by us, no source."""
LONG_SILENCE_S = 120.0
"""After so many seconds without a word nothing is carried over: it may be another patient; chosen by us, no source."""
_start = attrgetter("start")


@dataclass(slots=True)
class Extraction:
    """What was found: fields in the order spoken, runs under one carried side, and speech that became no field.

    sides: in force after the last word, as they would be carried on. trace: why, for whoever asks (explaining.py); it is
    not part of the record.
    """

    fields: list[RecordField] = field(default_factory=list)
    runs: list[Run] = field(default_factory=list)
    unplaced: list[Unplaced] = field(default_factory=list)
    sides: tuple[Side, ...] = ()
    trace: Trace | None = None


@dataclass(frozen=True, slots=True)
class Trace:
    """The reasons noted on the way: of each field by its id, and what became of the words in none."""

    words: Words
    account: Account
    why: Mapping[str, tuple[Reason, ...]]


def readers(lexicon: Lexicon) -> tuple[TermMatcher, Namer]:
    """Return what finds the terms of a lexicon and what names concepts by it, compiled once."""
    return compiled(
        lexicon,
        "patterns",
        lambda: compile_patterns(lexicon),
        lambda text: (TermMatcher(lexicon, text), Namer(lexicon)),
    )


def extract(transcript: CorrectedTranscript, lexicon: Lexicon) -> Extraction:
    """Return what a dictation says, every value with the words it rests on. Raises nothing for any words.

    Words without any mark are read twice, as they are and with the marks that most likely belong there; see two_readings.py.
    """
    tokens, mentions, numbers = read_terms(transcript, lexicon)
    if any(t.stop for t in tokens):
        return _read_words(transcript, lexicon, tokens, mentions, numbers)
    parts = {c.id: c.part for c in lexicon.concepts.values()}
    marked, doubtful = likely_marks(tokens, mentions, numbers, parts)
    for a, b in talks(tokens, mentions, parts):
        marked[a:b] = tokens[a:b]
    whole = [m for m in mentions if not any(t.stop for t in marked[m.start : m.end - 1])]
    found = _read_words(transcript, lexicon, marked, whole, numbers, guessed=True)
    if any(t.stop for t in marked):
        plain = _read_words(transcript, lexicon, tokens, mentions, numbers)
        heard = [transcript.corrected[tokens[i].word].from_[0] for i in doubtful]
        flag_disagreement(found.fields, plain.fields, heard)
    return found


def read_terms(transcript: CorrectedTranscript, lexicon: Lexicon) -> tuple[list[Token], list[Mention], list[Reading]]:
    """Return the tokens of a dictation with the terms and numbers in them."""
    matcher, _ = readers(lexicon)
    tokens = tokenise(transcript, matcher.variants, matcher.spelled)
    mentions = matcher.find(tokens)
    mentions = sorted([*mentions, *background(tokens, mentions), *short_digits(tokens, mentions)], key=_start)
    families = lexicon.language.get("short_name", {})
    short = [*short_names(tokens, mentions, families, frozenset(lexicon.structures)), *returns(tokens, mentions)]
    concluded = frozenset(c.id for c in lexicon.concepts.values() if c.part == "impression") | {"follow_up"}
    mentions = without_visits(tokens, mentions, concluded)
    planned = {m.start for m in short if m.id == "follow_up"}
    mentions = [m for m in mentions if m.id != "history" or m.start not in planned]
    mentions = sorted(without_found_places(tokens, [*mentions, *short], lexicon), key=_start)
    numbers = find_numbers(tokens, lexicon.language, _numbers_in_names(tokens, mentions))
    return tokens, _true_sides(tokens, mentions, lexicon), numbers


def _read_words(
    transcript: CorrectedTranscript, lexicon: Lexicon, tokens: Sequence[Token], mentions: Sequence[Mention],
    numbers: Sequence[Reading], *, guessed: bool = False,
) -> Extraction:  # fmt: skip
    """Read the words once, with the marks that stand among them. guessed: nobody said or wrote these marks."""
    _, namer = readers(lexicon)
    parts = {c.id: c.part for c in lexicon.concepts.values()}
    assembler = Assembler(lexicon, namer, tokens)
    assembler.guessed = guessed
    outcomes: list[Outcome] = []
    by_line = _by_line(mentions, split_lines(tokens, mentions, numbers))
    answering, felt = False, frozenset(lexicon.language.get("felt", {}).get("concept", ()))
    for number, (span, here) in enumerate(by_line):
        clauses = classify(tokens, span, here, parts, numbers, answering, felt)
        answering = any(c.reason == "question" for c in clauses)
        anew = [Outcome(Fate.ANEW, (m.start, m.end)) for m in here if m.kind == "reset"]
        if anew or _silent_before(transcript, tokens[span[0]]):
            assembler.start_anew()
            outcomes += anew
        outcomes += [Outcome(Fate.NOT_A_STATEMENT, (c.start, c.end), REASONS[c.reason]) for c in clauses if c.reason]
        for clause in clauses:
            if clause.reason in {"teaching", "history"}:
                _read(tokens, (clause.start, clause.end, False), here, numbers, number, assembler, mention=True)
        for group in _statement_spans(clauses):
            _read(tokens, group, here, numbers, number, assembler)
        assembler.close_line(number)
    outcomes += [*assembler.outcomes, *(Outcome(Fate.LOST, (a, b), reason) for a, b, reason in assembler.lost)]
    return _finish(assembler, outcomes, mentions, numbers, Words(transcript, tokens))


def _true_sides(tokens: Sequence[Token], mentions: Sequence[Mention], lexicon: Lexicon) -> list[Mention]:
    """The mentions without those of "left" and "right" as ordinary words."""
    body = frozenset(m.start for m in mentions if m.kind in {"digit", "joint", "structure", "region", "aspect", "concept"})
    words = lexicon.language.get("not_a_side", {})
    limbs = {m.start for m in mentions if m.kind in {"region", "digit", "joint", "structure"}}
    mentions = [m for m in mentions if m.kind != "side" or tokens[m.start].text != "neither" or m.end in limbs]
    return [m for m in mentions if m.kind != "side" or not ordinary_word(tokens, m.start, m.end, words, body)]


def _numbers_in_names(tokens: Sequence[Token], mentions: Sequence[Mention]) -> frozenset[int]:
    """The "two" of "two-point", hyphened or after "static" or "moving"; else "two point four" stays a number."""
    out = set()
    for m in mentions:
        for k in range(m.start, m.end - 1) if m.kind == "concept" else ():
            two_point = (tokens[k].text, tokens[k + 1].text) == ("two", "point")
            if two_point and (k > m.start or m.end > k + 2 or tokens[k].word == tokens[k + 1].word):
                out.add(k)
    return frozenset(out)


def _silent_before(transcript: CorrectedTranscript, token: Token) -> bool:
    """Whether a token comes after a long silence, by the times of its sound."""
    at, words = transcript.corrected[token.word].from_[0], transcript.heard.words
    begins, ended = words[at].start, words[at - 1].end if at else None
    return begins is not None and ended is not None and begins - ended > LONG_SILENCE_S


def _by_line(mentions: Sequence[Mention], spans: Sequence[tuple[int, int]]) -> list[tuple[tuple[int, int], list[Mention]]]:
    out: list[tuple[tuple[int, int], list[Mention]]] = []
    k = 0
    for span in spans:
        here = []
        while k < len(mentions) and mentions[k].start < span[1]:
            if mentions[k].end <= span[1]:
                here.append(mentions[k])
            k += 1
        out.append((span, here))
    return out


def _statement_spans(clauses: Sequence[Clause]) -> list[tuple[int, int, bool]]:
    """Runs of neighbouring clauses that are the clinician's statements."""
    out: list[tuple[int, int, bool]] = []
    for clause in clauses:
        if clause.reason:
            continue
        if out and out[-1][1] == clause.start and out[-1][2] == clause.addressed:
            out[-1] = (out[-1][0], clause.end, clause.addressed)
        else:
            out.append((clause.start, clause.end, clause.addressed))
    return out


def _read(
    tokens: Sequence[Token], group: tuple[int, int, bool], here: Sequence[Mention], numbers: Sequence, line: int,  # type: ignore[type-arg]
    assembler: Assembler, mention: bool = False,
) -> None:  # fmt: skip
    """Read one stretch of statements; mention: only note what it spoke of, for an elliptical statement after it."""
    start, end, addressed = group
    inside = numbers[bisect_left(numbers, start, key=_start) : bisect_left(numbers, end, key=_start)]
    items = build_items(tokens, here, inside, start, end)
    items, positions = find_positions(items, tokens)
    loose, reported = end - start > LONG and not any(t.stop for t in tokens[start : end - 1]), False
    for st in Builder(items, line, assembler.kinds, assembler.signs).read():
        st.addressed = addressed
        st.position = next((text for at, text in positions if st.start <= at <= st.end + 2), None)
        if mention:
            assembler.mention(st)
        else:
            cue = _part(st.start, start, here)
            if loose and cue is not None and cue.id == "reported":
                reported = st.start - cue.end < NEAR or (reported and st.joined is not None)
                cue = cue if reported else None
            st.planned = cue is not None and cue.id == "plan" and tokens[cue.end - 1].stop == ":"
            assembler.take(st, cue.id if cue else None)


def _within(inner: Mention, outer: Mention) -> bool:
    return outer.start <= inner.start and inner.end <= outer.end


def _part(start: int, line_start: int, here: Sequence[Mention]) -> Mention | None:
    """The heading or cue that puts a statement in a part: the last one said before it in its line.

    In words without punctuation something reported ends with its own statement and those joined to it.
    """
    terms = [m for m in here if m.kind == "concept"]
    cues = [m for m in here if m.kind == "part" and line_start <= m.start <= start + 1]
    cues = [c for c in cues if not any((t.start, t.end) != (c.start, c.end) and _within(c, t) for t in terms)]
    cues = [m for m in cues if m.id in {"impression", "plan", "reported"} or m.start <= line_start + 1]
    return max(cues, key=lambda m: (m.start, m.end), default=None)


class Words:
    """Leads a span of tokens back to corrected words, heard words and seconds."""

    def __init__(self, transcript: CorrectedTranscript, tokens: Sequence[Token]) -> None:
        self.transcript, self.tokens = transcript, tokens

    def heard(self, start: int, end: int) -> tuple[int, int]:
        """The span of heard words."""
        corrected = self.transcript.corrected
        first, last = corrected[self.tokens[start].word], corrected[self.tokens[max(start, end - 1)].word]
        return first.from_[0], max(first.from_[1], last.from_[1])

    def evidence(self, role: str, start: int, end: int) -> Evidence:
        """The stretch as evidence."""
        i, j = self.heard(start, end)
        words = self.transcript.heard.words[i:j]
        a, b = self.tokens[start].word, self.tokens[max(start, end - 1)].word
        return Evidence(
            role=role,  # type: ignore[arg-type]
            said=" ".join(w.said for w in words),
            corrected=" ".join(c.text for c in self.transcript.corrected[a : b + 1]),
            words=(i, j), start=words[0].start if words else None, end=words[-1].end if words else None,
        )  # fmt: skip

    def unplaced(self, start: int, end: int, reason: str) -> Unplaced:
        """The stretch as unplaced speech."""
        e = self.evidence("statement", start, end)
        return Unplaced(text=e.said, start=e.start, end=e.end, reason=reason)


def _finish(
    assembler: Assembler, outcomes: Sequence[Outcome], mentions: Sequence[Mention], numbers: Sequence[Reading], words: Words
) -> Extraction:
    out = Extraction()
    made = sorted(assembler.made, key=lambda m: (m.span[0], m.batch))
    seen: dict[str, int] = {}
    for one in made:
        out.fields.append(_record_field(one, words, seen))
    out.runs = _runs(made, out.fields, words)
    out.sides = tuple(assembler.carried.sides)  # type: ignore[arg-type]
    account = Account(words.tokens, mentions, numbers, made, outcomes)
    out.unplaced = [words.unplaced(*stretch) for stretch in account.unplaced()]
    out.trace = Trace(words, account, {f.id: tuple(one.why) for f, one in zip(out.fields, made, strict=True)})
    return out


def _record_field(one: Made, words: Words, seen: dict[str, int]) -> RecordField:
    evidence = [words.evidence("statement", *one.span)]
    evidence += [words.evidence("statement", *span) for span in one.more_spans]
    evidence += [words.evidence("retraction", *span) for span in one.retraction_spans]
    if one.side_span is not None:
        evidence.append(words.evidence("side", *one.side_span))
    keys = {k: v for k, v in one.keys.items() if v is not None}
    name = ".".join(
        str(p)
        for p in (
            f"w{evidence[0].words[0]}",
            one.concept.id,
            *(keys.get(k) for k in ("side", "digit", "joint", "structure", "mode", "trial")),
        )
        if p
    )
    seen[name] = seen.get(name, 0) + 1
    return RecordField(
        id=name if seen[name] == 1 else f"{name}.{seen[name]}", part=one.concept.part, concept=one.concept.id,  # type: ignore[arg-type]
        evidence=evidence,
        flags=[Flag(code=FlagCode(c), level=level, message=_told(m, one, evidence)) for c, level, m in one.flags],  # type: ignore[arg-type]
        **keys,
    )  # fmt: skip


def _told(message: str, one: Made, evidence: Sequence[Evidence]) -> str:
    """A flag's message with the words it speaks of, as heard; see Made.flag."""
    first, more = evidence[0], evidence[len(one.more_spans)]
    back = next((e for e in reversed(evidence) if e.role == "retraction"), first)
    side = evidence[-1] if one.side_span is not None else first
    message = message.replace("{which}", one.keys.get("side") or "none")
    for name, stretch in (("said", first), ("more", more), ("back", back), ("side", side)):
        message = message.replace(f"{{{name}}}", shortened(stretch.said))
    return message


def _runs(made: Sequence[Made], fields: Sequence[RecordField], words: Words) -> list[Run]:
    """Stretches under one carried side, from the first to the last of the words that set it and the fields that carried it."""
    groups: dict[tuple[str, tuple[int, int]], list[int]] = {}
    for i, one in enumerate(made):
        if one.carried and one.side_span is not None and one.keys.get("side"):
            groups.setdefault((one.keys["side"], one.side_span), []).append(i)
    out = []
    for (side, span), members in groups.items():
        spans = [span, *(made[i].span for i in members)]
        e = words.evidence("side", min(a for a, _ in spans), max(b for _, b in spans))
        out.append(Run(side=side, words=e.words, start=e.start, end=e.end, fields=[fields[i].id for i in members]))  # type: ignore[arg-type]
    return out


__all__ = ["Extraction", "Item", "extract"]
