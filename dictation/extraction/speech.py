"""Whose words and what sort of speech: only the clinician's statements may become fields.

Commands to the patient, questions, teaching, conditionals, history, the patient's own words, other people and other
parts of the body make no field. Cues come from lexicon/language.yaml, class ``cue``. What goes in: tokens and mentions.
What comes out: lines (sentence-like), each cut into clauses with a reason where it is no statement.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from dictation.extraction.items import PREPOSITIONS
from dictation.extraction.matching import Mention
from dictation.extraction.numbers import Reading
from dictation.extraction.risks import risk_talk
from dictation.extraction.tokens import Token

REASONS = {
    "question": "a question",
    "command": "a command to the patient",
    "announce": "said to the patient before doing it",
    "teaching": "a teaching or reference remark",
    "conditional": "conditional, not something found",
    "patient": "may be the patient's own words",
    "history": "about an earlier time",
    "family": "about another person",
    "other_body": "about another part of the body",
    "risk": "talk of risks or of consent to treatment, not something found",
}
LEAD_IN = frozenset(
    "okay ok now and so then please good right just well great lovely thank you thanks perfect next alright but".split()
)
THINKS = frozenset(["think", "thought", "know", "suppose"])
"""What "I" does so may be the clinician's or the patient's; with a test or a diagnosis it is the clinician's."""
TAGS = frozenset(
    ["do you see", "you see", "can you see", "see", "okay", "right", "all right", "yes", "is it not", "do you agree", "agree"]
)
"""Questions tacked on to a statement: "swelling over the snuffbox, do you see?"."""
TURNING = frozenset("look looking examine examining start starting begin move moving turn turning go going do compare".split())
PLAN_AND_CONTEXT = frozenset({"plan", "context", "reported"})


@dataclass(frozen=True, slots=True)
class Clause:
    """tokens[start:end]; reason is None for the clinician's statement, else a key of REASONS.

    addressed: speaks to the patient ("your wrist is swollen"), so whose words they are is in doubt.
    """

    start: int
    end: int
    reason: str | None = None
    addressed: bool = False


def classify(
    tokens: Sequence[Token], span: tuple[int, int], mentions: Sequence[Mention], parts: dict[str, str],
    numbers: Sequence[Reading], answering: bool = False, felt: frozenset[str] = frozenset(),
) -> list[Clause]:  # fmt: skip
    """Return the clauses of one line.

    parts: concept id -> part of the examination. answering: the line before asked the patient something. felt: what only the
    patient can feel; said right after a question, by nobody in particular, it may be the answer.
    """
    start, end = span
    here = [m for m in mentions if start <= m.start and m.end <= end]
    cues = _live_cues(here)
    risks = risk_talk(tokens, span, here, parts)
    bounds = _clause_bounds(tokens, start, end, here, risks)
    asked = bool(tokens[end - 1].stop == "?")
    clauses: list[Clause] = []
    line_reason: str | None = None
    loose = _unpunctuated(tokens, start, end)
    tagged = asked and len(bounds) > 1 and " ".join(t.text for t in tokens[slice(*bounds[-1])]) in TAGS
    for i, j in bounds:
        inside = [c for c in cues if i <= c.start and c.end <= j]
        first = _first_content(tokens, i, j)
        contrast = any(m.kind == "contrast" and m.start == i for m in here)
        planned = any(m.kind == "concept" and parts.get(m.id) == "plan" and i <= m.start < j for m in here)
        if contrast or tokens[i].text in {"so"}:
            line_reason = None
        asking = asked and (not tagged or j == end)
        reason = "question" if asking else _reason(tokens, i, j, first, inside, here, numbers, planned, parts, start)
        if any(a <= i and j <= b for a, b in risks):
            reason = "risk"
        if reason is None and answering and _first_person(tokens, i, j, inside):
            reason = "patient"
        if reason is None and line_reason and not _stands_alone(tokens, i, j, here, numbers, line_reason, loose):
            reason = line_reason
        if reason in {"command", "announce", "conditional", "patient", "family", "other_body", "question", "history"}:
            planned_line = _under_plan(tokens, start, here)
            whole = reason == "conditional" and not loose and _ends_in_if(tokens, i, inside, here, planned_line)
            line_reason = None if whole else reason
            whole = whole or (reason == "conditional" and planned_line)
            if reason == "conditional" and tokens[i].text != "and" and not whole:
                clauses = [
                    Clause(
                        c.start,
                        c.end,
                        c.reason or ("conditional" if _names(c.start, c.end, here) else None),
                        c.addressed,
                    )
                    for c in clauses
                ]
        elif reason is None:
            line_reason = None
        if reason == "teaching" and not _names(i, j, here) and not any(m.kind == "side" for m in here):
            clauses = [Clause(c.start, c.end, c.reason or "teaching", c.addressed) for c in clauses]
        if loose and line_reason != "conditional":
            line_reason = None if line_reason != "question" or reason is None else line_reason
        addressed = any(c.id == "second_person" for c in inside) and not planned
        told = any(c.id in {"clinician", "third_person"} for c in inside)
        answer = bool(start) and tokens[start - 1].stop == "?"
        addressed = addressed or (answer and not told and any(m.id in felt and i <= m.start < j for m in here))
        clauses.append(Clause(i, j, reason, addressed))
    return clauses


def _ends_in_if(
    tokens: Sequence[Token], i: int, inside: Sequence[Mention], here: Sequence[Mention], planned_line: bool
) -> bool:
    """ "Nerve conduction studies if no better": the condition is for what its own clause names, and for nothing beside it."""
    at = next((c.start for c in inside if c.id == "conditional" and tokens[c.start].text in {"if", "unless"}), i)
    return at > i and (planned_line or _names(i, at, here))


def _first_person(tokens: Sequence[Token], i: int, j: int, inside: Sequence[Mention]) -> bool:
    """ "Every time I wring a cloth out": an answer, unless it is the clinician who sees, feels or finds."""
    clinician = {k for c in inside if c.id in {"clinician", "announce"} for k in range(c.start, c.end)}
    return any(tokens[k].text == "i" and k not in clinician for k in range(i, j))


def _names(start: int, end: int, here: Sequence[Mention]) -> bool:
    return any(m.kind == "concept" and start <= m.start and m.end <= end for m in here)


def _live_cues(here: Sequence[Mention]) -> list[Mention]:
    """Cues that are not part of a longer term ("ulnar head" is no head)."""
    terms = [m for m in here if m.kind not in {"cue", "part", "status", "severity"}]
    terms += [m for m in here if m.kind == "cue" and m.id == "clinician"]
    return [
        c
        for c in here
        if c.kind == "cue"
        and (
            c.id in {"command", "announce", "clinician"}
            or not any(t.start <= c.start and c.end <= t.end and t.end - t.start > c.end - c.start for t in terms)
        )
    ]


def _clause_bounds(
    tokens: Sequence[Token], start: int, end: int, here: Sequence[Mention], whole: Sequence[tuple[int, int]]
) -> list[tuple[int, int]]:
    """whole: stretches that stay uncut."""
    cuts = {start, end}
    cuts |= {i + 1 for i in range(start, end - 1) if tokens[i].stop in {",", ":"}}
    cuts |= {m.start for m in here if m.kind == "contrast" and m.start > start}
    cuts |= {i for i in range(start + 1, end) if tokens[i].text == "unless"}
    cuts |= {m.start - 1 for m in here if m.id == "history" and m.start > start + 1 and tokens[m.start - 1].text == "and"}
    if _unpunctuated(tokens, start, end):
        cuts |= set(_noun_groups(start, end, here, tokens))
    ordered = sorted({c for c in cuts if not any(a < c < b for a, b in whole)} | {at for stretch in whole for at in stretch})
    return list(itertools.pairwise(ordered))


def _unpunctuated(tokens: Sequence[Token], start: int, end: int) -> bool:
    return end - start > 18 and not any(t.stop in {",", ":"} for t in tokens[start : end - 1] if t.stop)


def _noun_groups(start: int, end: int, here: Sequence[Mention], tokens: Sequence[Token]) -> set[int]:
    """Where, in words without punctuation, what is spoken of next may begin: a concept with the words that lead it."""
    lead = {
        i
        for m in here
        if m.kind in {"side", "digit", "joint", "aspect", "negation", "severity", "mode", "status"}
        or (m.kind == "cue" and m.id in {"other_body", "family"})
        for i in range(m.start, m.end)
    }
    cuts, reached = set(), start
    for m in here:
        if m.start < reached:
            continue
        if m.kind in {"concept", "movement"} or (m.kind == "structure" and not _after_preposition(tokens, m.start)):
            reached = m.end
            i = m.start
            while i > start and (i - 1 in lead or tokens[i - 1].text in {"the", "a", "an", "and"} or _existential(tokens, i)):
                i -= 1
            if tokens[i].text in {"is", "are"}:
                i = m.start
            if i > start and tokens[i - 1].text in PREPOSITIONS:
                if i == m.start:
                    continue
                i = m.start
            if i > start and tokens[i - 1].text not in {"your", "my", "you"}:
                cuts.add(i)
    return cuts


def _existential(tokens: Sequence[Token], i: int) -> bool:
    """ "there is" before a concept leads it; an "is" of something else does not."""
    return tokens[i - 1].text == "there" or (tokens[i - 1].text in {"is", "are"} and i > 1 and tokens[i - 2].text == "there")


def _after_preposition(tokens: Sequence[Token], i: int) -> bool:
    while i > 0 and tokens[i - 1].text in {"the", "a", "his", "her", "left", "right", "both"}:
        i -= 1
    return i > 0 and tokens[i - 1].text in {
        "over",
        "at",
        "of",
        "on",
        "in",
        "to",
        "around",
        "along",
        "under",
        "press",
        "pressing",
        "and",
        "or",
    }


def _first_content(tokens: Sequence[Token], i: int, j: int) -> int:
    while i < j - 1 and tokens[i].text in LEAD_IN:
        i += 1
    return i


def _reason(
    tokens: Sequence[Token], i: int, j: int, first: int, inside: Sequence[Mention], here: Sequence[Mention],
    numbers: Sequence[Reading], planned: bool, parts: dict[str, str], line_start: int,
) -> str | None:  # fmt: skip
    by = {c.id for c in inside}
    if _turns_to(tokens, i, j, here):
        return None
    leads = {c.id for c in inside if c.start in {i, first}}
    clinician = [c for c in inside if c.id == "clinician"]
    terms = [m for m in here if m.kind == "concept" and i <= m.start and m.end <= j]
    context = bool(terms) and all(parts.get(m.id) in PLAN_AND_CONTEXT for m in terms)
    if "conditional" in by and not any(
        c.id == "conditional" and tokens[c.end - 1].text == "might" and _next_is(tokens, c.end, "be") for c in inside
    ):
        return "conditional"
    tested = any(m.start == first and m.end - m.start > 1 for m in terms)
    relative = i > line_start and tokens[first].text in {"which", "who", "where", "when", "what", "how"}
    if "question" in leads and not clinician and not tested and not relative:
        return "question"
    asked_of = "announce" in by and not (
        by & {"third_person"} and all(c.id != "announce" or tokens[c.start].text == "for" for c in inside)
    )
    if asked_of and not planned and not clinician:
        return "announce"
    takes_back = any(m.kind == "retraction" and m.start == first for m in here)
    if (
        "command" in leads
        and not clinician
        and not takes_back
        and not _under_plan(tokens, line_start, here)
        and not _repeated_alone(tokens, first, j)
        and not any(m.kind == "concept" and m.start == first and parts.get(m.id) == "plan" for m in here)
        and not _is_heading_or_finding(tokens, first, j, here, numbers, parts)
    ):
        return "command"
    if "teaching" in by or _generic(tokens, first, j, here, numbers):
        return "teaching"
    thought = any(c.id == "patient" and tokens[c.start].text == "i" and tokens[c.start + 1].text in THINKS for c in inside)
    tested_by_me = (
        any(parts.get(m.id) == "special_tests" for m in terms) and any(m.kind == "status" and i <= m.start < j for m in here)
    ) or (thought and any(parts.get(m.id) in {"special_tests", "impression"} for m in terms))
    if not tested_by_me and _patient_speaks(tokens, i, j, line_start, inside, clinician):
        return "patient"
    if "history" in by and not (context and all(parts.get(m.id) != "plan" for m in terms)):
        return "history"
    if "dated" in by and not planned and not context:
        return "history"
    if i > line_start and tokens[i].text in {"was", "were"} and any(n.start in {i + 1, i + 2} and n.end <= j for n in numbers):
        return "history"  # "extension lag 15 degrees, was 40"
    if "family" in by and not context and not planned:
        return "family"
    if "other_body" in by and not planned and not context:
        return "other_body"
    return None


def _under_plan(tokens: Sequence[Token], start: int, here: Sequence[Mention]) -> bool:
    """ "Plan: open carpal tunnel release": under the heading nothing is asked of the patient now."""
    return any(m.kind == "part" and m.id == "plan" and m.start == start and tokens[m.end - 1].stop == ":" for m in here)


def _turns_to(tokens: Sequence[Token], i: int, j: int, here: Sequence[Mention]) -> bool:
    """ "Let's look at the right hand first": where the examiner turns; a heading, though it begins like a command."""
    words = [t.text for t in tokens[i:j]]
    whole = any(m.kind == "side" and i <= m.start < j for m in here) and not {"your", "you", "me", "my", "if"} & set(words)
    terms = any(m.kind in {"concept", "structure", "digit", "status", "negation"} and i <= m.start < j for m in here)
    return whole and not terms and bool(TURNING & set(words)) and bool({"us", "i", "we", "now"} & set(words))


def _repeated_alone(tokens: Sequence[Token], first: int, j: int) -> bool:
    """ "right again, …": the word is a command only with a verb, or where it stands alone."""
    return tokens[first].text == "again" and first > 0 and not tokens[first - 1].stop and j - first == 1


def _generic(tokens: Sequence[Token], first: int, j: int, here: Sequence[Mention], numbers: Sequence[Reading]) -> bool:
    """ "A positive Tinel's …" and "normal two-point discrimination is under six" speak of no patient in particular."""
    words = [t.text for t in tokens[first : first + 2]]
    if words and words[0] == "a" and words[-1] in {"positive", "negative"}:
        return not any(m.kind in {"side", "digit"} for m in here)
    words = words[1:] if words[0] in {"a", "the"} else words
    inside = tokens[first:j]
    return (
        bool(words)
        and words[0] == "normal"
        and not any(m.kind == "concept" and m.end == first and not tokens[first - 1].stop for m in here)
        and any(t.text == "is" for t in inside)
        and any(first <= n.start < j for n in numbers)
    )


def _patient_speaks(
    tokens: Sequence[Token], i: int, j: int, line_start: int, inside: Sequence[Mention], clinician: Sequence[Mention]
) -> bool:
    for cue in inside:
        if cue.id != "patient" or any(c.start <= cue.start and cue.end <= c.end for c in clinician):
            continue
        answer = tokens[cue.start].text in {"yes", "yeah", "yep", "nope", "ouch", "ooh", "ow"}
        filler = answer and i > line_start and j - i == 1  # "Garrod's pads, yes, over the index" is one voice
        if not filler and (not answer or cue.start == i):
            return True
    return False


def _is_heading_or_finding(
    tokens: Sequence[Token], first: int, j: int, here: Sequence[Mention], numbers: Sequence[Reading], parts: dict[str, str]
) -> bool:
    """ "Grip forty two pounds" and "Look:" begin like commands and are none."""
    headed = tokens[j - 1].stop == ":" and any(m.kind == "concept" and m.start == first for m in here)
    if tokens[first].stop in {":", "."} or headed:
        return True
    if first and any(m.end == first and m.kind in {"digit", "region"} and m.plural for m in here):
        return True
    if any(m.kind == "general_normal" and m.start == first for m in here):
        return True
    heads = [m.end for m in here if m.kind == "part" and m.start == first]
    if any(m.start in heads and m.kind in {"concept", "negation", "severity", "status"} for m in here):
        return True
    if any(tokens[k].text in {"you", "your", "me", "my"} for k in range(first, j)):
        return False
    for m in here:
        if m.start == first and m.kind in {"concept", "movement", "structure", "joint", "digit"}:
            if any(m.end <= n.start < j for n in numbers):
                return True
            if any(s.kind in {"status", "side"} and m.end <= s.start < j for s in here):
                return True
            if m.kind == "concept" and m.end - m.start > 1 and parts.get(m.id) in {"power", "special_tests"}:
                return True
            noun = tokens[m.start + 1].text not in {"the", "a", "your"} if m.end - m.start > 1 else False
            if m.kind == "concept" and noun and parts.get(m.id) in {"look", "feel"}:  # "open wound", "point tenderness"
                return True
    return False


def _stands_alone(
    tokens: Sequence[Token], i: int, j: int, here: Sequence[Mention], numbers: Sequence[Reading], line_reason: str, loose: bool
) -> bool:
    """Whether a clause after a command or question is a statement of its own."""
    inside = [m for m in here if i <= m.start and m.end <= j]
    concept = any(m.kind == "concept" for m in inside)
    there_is = (tokens[i].text, tokens[min(i + 1, j - 1)].text) in {("there", "is"), ("there", "are")}
    said = any(m.kind in {"negation", "status"} for m in inside) or any(i <= n.start < j for n in numbers)
    if loose and line_reason == "question":
        return concept and said
    said = said or there_is
    if line_reason in {"other_body", "conditional", "question", "family", "history"}:
        placed = any(m.kind in {"side", "digit", "joint", "structure"} for m in inside)
        return concept and placed and line_reason in {"other_body", "history"}
    return concept and said


def _next_is(tokens: Sequence[Token], i: int, text: str) -> bool:
    return i < len(tokens) and tokens[i].text == text
