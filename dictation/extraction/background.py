"""What is told of the patient before the examination: operations in the past, and the work they do.

"after a fasciectomy", "had his carpal tunnel released in two thousand and eleven" and "thirty year old roofer" name no
term of their own; the words before and after make the context. What goes in: tokens and mentions. What comes out:
further mentions.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from dictation.extraction.matching import Mention
from dictation.extraction.tokens import Token

PAST = frozenset("after following since post previous prior old underwent had s/p".split())
BETWEEN = frozenset("a an the his her their open endoscopic revision primary urgent right left of".split())
SORTS = frozenset("limited partial segmental radical total regional open endoscopic percutaneous revision".split())
"""What an operation may be said to be, as part of its name."""
ANAESTHESIA = frozenset(
    "a an local regional general spinal axillary brachial plexus wrist ring digital nerve block anaesthetic anaesthesia "
    "anesthetic anesthesia sedation la ga awake wide".split()
)
"""After "under": how an operation is done, and no block given already."""
AGO = frozenset("ago previously before".split())
WEIGHED = frozenset("discuss discussed consider considered offer offered option may might about of after post from for".split())
"""Before an operation, words that say it is weighed or named for something else, not planned."""
PERSONS = frozenset(
    "man woman lady gentleman male female boy girl patient child infant baby teenager lad person guy adult student "
    "schoolboy schoolgirl toddler".split()
)
BEFORE_WORK = frozenset("right left handed hand dominant retired keen former male female and semi part full time".split())
AFTER_WORK = frozenset(
    "with who presents presented complains complaining comes came has had is was seen in and here reports fell attends "
    "attending referred right left both".split()
)
VISITS = frozenset({"review", "clinic"})
FOLLOW_UP = "follow_up"
CAME = frozenset({"this", "here", "seen", "attends", "attended", "seeing", "came", "comes", "reviewed", "for"})
SINCE = frozenset({"after", "post", "following", "since", "from", "s/p"})
INTERVALS = frozenset("day days week weeks month months year years time clinic".split())
OPENING = 25
"""Words from the start in which a dictation says why the patient came; chosen by us, no source."""
LONGEST_VISIT = 4
LONGEST_LEAD = 6
"""Words from "plan" to the operation it heads; chosen by us, no source."""
INTRODUCING = frozenset("this a an retired is was old as former".split())


def background(tokens: Sequence[Token], mentions: Sequence[Mention]) -> list[Mention]:
    """Return the mentions of past operations and of occupations that the words around them make."""
    out = []
    for m in mentions:
        if m.kind == "procedure" and _past(tokens, m):
            out.append(_operation("previous_surgery", tokens, m))
        elif m.kind == "procedure" and _planned(tokens, m, mentions):
            out.append(_operation("surgery_listing", tokens, m))
        if m.kind == "occupation" and _introduced(tokens, m.start):
            out.append(_work(tokens, m.start, m.end))
    for i in range(1, len(tokens) - 1):
        if tokens[i].text == "old" and tokens[i - 1].text == "year" and not tokens[i].stop:
            work = _work_after_age(tokens, i + 1, mentions)
            if work is not None and work not in out:
                out.append(work)
    return out


def without_visits(tokens: Sequence[Token], mentions: Sequence[Mention], concluded: frozenset[str]) -> list[Mention]:
    """The mentions without those that only name the visit at the start of a sentence: "Dupuytren's review, left hand."

    concluded: diagnoses and plans.
    """
    told = {"side", "digit", "joint", "status", "negation"}
    said = {k for m in mentions if m.kind in told for k in range(m.start, m.end)}
    visits: set[int] = set()
    for start in (0, *(i + 1 for i, t in enumerate(tokens) if t.stop == ".")):
        near = tokens[start : start + LONGEST_VISIT]
        length = next((k + 1 for k, t in enumerate(near) if k and t.text in VISITS and t.stop in {",", "."}), 0)
        whole = range(start, start + length)
        if length and not any(tokens[k].stop for k in whole[:-1]) and said.isdisjoint(whole):
            visits.update(whole)
    named = [m for m in mentions if m.id == FOLLOW_UP and _names_the_visit(tokens, m, mentions)]
    visits.update(m.start for m in named)
    within = {k for m in named for k in range(m.start, m.end)}  # the wound of a "wound check" is no finding
    kept = (m for m in mentions if m.id not in concluded or m.start not in visits)
    return [m for m in kept if m.kind != "concept" or not within.issuperset(range(m.start, m.end))]


def _names_the_visit(tokens: Sequence[Token], m: Mention, mentions: Sequence[Mention]) -> bool:
    """ "This is a review of the left wrist", "here for follow-up", "review six weeks after a fracture": why the patient came.

    Only while a dictation opens; under the heading of a plan, and "review in six weeks", it is what comes next.
    """
    planned = (p for p in mentions if p.kind == "part" and p.id == "plan" and p.start < m.end)
    if m.start > OPENING or any(tokens[p.start].text != "for" for p in planned):
        return False
    before = {t.text for t in tokens[max(0, m.start - 3) : m.start]}
    end = m.end
    while end < min(len(tokens), m.end + LONGEST_LEAD) and not tokens[end - 1].stop:
        end += 1
    after = [t.text for t in tokens[m.end : end]]
    said = [t.text for t in tokens[m.start : end]]
    if "in" in said and INTERVALS & set(said[said.index("in") :]):
        return False
    return bool(before & CAME or after[:1] == ["of"] or set(after) & SINCE)


def _operation(concept: str, tokens: Sequence[Token], m: Mention) -> Mention:
    """The operation with the words of what kind it is and how it is done: "limited fasciectomy under regional block"."""
    start = m.start
    while start > 0 and tokens[start - 1].text in SORTS and not tokens[start - 1].stop:
        start -= 1
    end = m.end
    if end < len(tokens) and tokens[end].text == "under" and not tokens[end - 1].stop:
        led = end + 1
        while led < len(tokens) and tokens[led].text in ANAESTHESIA and not tokens[led - 1].stop:
            led += 1
        end = led if led > end + 1 else end
    words = " ".join(t.written or t.text for t in tokens[start:end])
    return Mention("concept", concept, start, end, {"qualifier": words})


def _planned(tokens: Sequence[Token], m: Mention, mentions: Sequence[Mention]) -> bool:
    """ "Plan: left ring fasciectomy": an operation named bare under the heading is one to be done, if it is not weighed."""
    start = m.start
    while start > 0 and tokens[start - 1].stop not in {".", "?", "!", ";"}:
        start -= 1
    plans = [p for p in mentions if p.kind == "part" and p.id == "plan" and p.start == start]
    headed = any(tokens[p.end - 1].stop == ":" or "is" in {tokens[p.end - 1].text, tokens[p.end].text} for p in plans)
    headed = headed or _right_after_plan(tokens, m.start)
    clause = m.start
    while clause > start and not tokens[clause - 1].stop:
        clause -= 1
    listed = any(p.id == "surgery_listing" and clause <= p.start <= m.end and p.kind == "concept" for p in mentions)
    inside = any(p.kind == "concept" and p.start <= m.start and m.end <= p.end for p in mentions)
    return headed and not listed and not inside and not WEIGHED & {t.text for t in tokens[clause : m.start]}


def _right_after_plan(tokens: Sequence[Token], i: int) -> bool:
    """ "Plan left ring finger fasciectomy": with a place at most between, also where no full stop stands before it."""
    before = tokens[max(0, i - LONGEST_LEAD) : i]
    at = next((k for k in range(len(before) - 1, -1, -1) if before[k].text == "plan"), None)
    return at is not None and not any(t.stop for t in before[at:])


def _past(tokens: Sequence[Token], m: Mention) -> bool:
    k = m.start - 1
    while k >= 0 and m.start - k < 5 and tokens[k].text in BETWEEN and not tokens[k].stop:
        k -= 1
    if k >= 0 and tokens[k].text in PAST and not tokens[k].stop:
        return True
    after = []
    for t in tokens[m.end : m.end + 9]:
        after.append(t.text)
        if t.stop in {".", "?", "!", ";"}:
            break
    return bool(AGO & set(after)) or any(
        a == "in" and b in {"two", "nineteen", "twenty", "childhood"} for a, b in itertools.pairwise(after)
    )


def _introduced(tokens: Sequence[Token], i: int) -> bool:
    k = i - 1
    while k >= 0 and tokens[k].text in BEFORE_WORK - {"retired"} and i - k < 6:
        k -= 1
    return k >= 0 and tokens[k].text in INTRODUCING and not tokens[k].stop


def _work(tokens: Sequence[Token], start: int, end: int) -> Mention:
    words = " ".join(t.written or t.text for t in tokens[start:end])
    return Mention("concept", "occupation", start, end, {"qualifier": words})


def _work_after_age(tokens: Sequence[Token], i: int, mentions: Sequence[Mention]) -> Mention | None:
    """The noun after "fifty year old", where it is no word for a person and no term."""
    while i < len(tokens) and tokens[i].text in BEFORE_WORK and not tokens[i].stop:
        i += 1
    end = i
    while end < len(tokens) and end - i < 3 and tokens[end].text not in AFTER_WORK:
        end += 1
        if tokens[end - 1].stop:
            break
    ended = (end < len(tokens) and (tokens[end].text in AFTER_WORK or bool(tokens[end - 1].stop))) or end == len(tokens)
    person = end > i and (tokens[end - 1].text in PERSONS or tokens[i].text in PERSONS)
    if end == i or not ended or person or _known(i, end, mentions):
        return None
    return _work(tokens, i, end)


def _known(start: int, end: int, mentions: Sequence[Mention]) -> bool:
    return any(
        m.start < end and start < m.end and m.kind in {"concept", "structure", "joint", "digit", "side"} for m in mentions
    )
