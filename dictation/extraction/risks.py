"""Talk of risks and of consent to treatment: what may happen is nothing found.

"Risks of digital nerve injury, stiffness and recurrence discussed, consent signed." What goes in: the tokens and mentions
of a line. What comes out: the tokens of such talk, up to where a clause of its own says something again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from dictation.extraction.matching import Mention
from dictation.extraction.tokens import Token

TALK = frozenset("discussed discuss explained explain accepted understood outlined counselled counseled consented".split())
"""Words of the talk itself; the list of risks ends with one of them, or with its "and"."""
JOINED = frozenset({"and", "or"})
OF_TREATMENT = frozenset({"signed", "form"})
"""With "consent": one that is signed is for an operation; nobody signs to be examined."""
LONGEST = 20
"""Words from a word of risk to the word of its talk, in words without punctuation; chosen by us, no source."""
LONGEST_LEAD = 6
"""Words before a word of risk that may only lead to it; chosen by us, no source."""
SAYING = frozenset({"side", "digit", "status", "negation"})


def risk_talk(
    tokens: Sequence[Token], span: tuple[int, int], here: Sequence[Mention], parts: Mapping[str, str]
) -> list[tuple[int, int]]:
    """Return the stretches of one line that speak of risks or of consent to treatment, in order. parts: of each concept."""
    start, end = span
    found: list[tuple[int, int]] = []
    for m in here:
        if m.kind == "cue" and m.id == "risk" and not (found and m.start < found[-1][1]) and _of_harm(tokens, m, end):
            found.append((_begins(tokens, m.start, start, here), _ends(tokens, m.start, end, here, parts)))
        elif m.kind == "concept" and m.id == "consent" and not (found and m.start < found[-1][1]):
            a, b = _clause(tokens, m.start, start, end)
            term = max(o.end for o in here if o.kind == "concept" and o.start == m.start)  # "consent form" is a plan's own term
            if OF_TREATMENT & {t.text for t in (*tokens[a : m.start], *tokens[term:b])}:
                found.append((m.start, b))
    return found


def talks(tokens: Sequence[Token], here: Sequence[Mention], parts: Mapping[str, str]) -> list[tuple[int, int]]:
    """Return where, in words without punctuation, no mark belongs: from a word of risk to the word of its talk."""
    whole = risk_talk(tokens, (0, len(tokens)), here, parts)
    last = [(a, max((k for k in range(a, b) if tokens[k].text in TALK), default=a)) for a, b in whole]
    return [(a, k) for a, k in last if k - a < LONGEST]


def _of_harm(tokens: Sequence[Token], m: Mention, end: int) -> bool:
    """Not "the flap is at risk", "risk factors", nor "healed without complications"."""
    after = tokens[m.end].text if m.end < end and not tokens[m.end - 1].stop else ""
    if m.form == "risk":
        return after != "factor" and not (m.start and tokens[m.start - 1].text == "at")
    return m.form != "complication" or bool(TALK & {t.text for t in tokens[m.start : end]})


def _clause(tokens: Sequence[Token], at: int, start: int, end: int) -> tuple[int, int]:
    a, b = at, at + 1
    while a > start and not tokens[a - 1].stop:
        a -= 1
    while b < end and not tokens[b - 1].stop:
        b += 1
    return a, b


def _begins(tokens: Sequence[Token], at: int, start: int, here: Sequence[Mention]) -> int:
    """ "She was warned about": with the words that lead to it, where they name nothing."""
    a = at
    while a > start and not tokens[a - 1].stop:
        a -= 1
    named = any(a <= m.start < at and m.kind in {"side", "concept", "part", "procedure", "status"} for m in here)
    return at if named or at - a > LONGEST_LEAD else a


def _ends(tokens: Sequence[Token], start: int, end: int, here: Sequence[Mention], parts: Mapping[str, str]) -> int:
    """Where the talk that begins at a token ends: after its list, before the first clause that says something else."""
    a, listed = start, False
    while a < end:
        _, b = _clause(tokens, a, a, end)
        listed = listed or (a > start and not {t.text for t in tokens[a:end]} & (TALK | JOINED))
        talk = next((k for k in range(a, b) if tokens[k].text in TALK and k > start), None)
        if listed and talk is None and _says(a, b, here, parts):
            return a
        if talk is not None:
            after = talk + 1
            while after < b and tokens[after].text in TALK | {"and", "with", "him", "her", "them", "the", "patient"}:
                after += 1
            if after < b and any(m.kind in {"side", "concept"} and after <= m.start < b for m in here):
                return after
        listed = listed or talk is not None or any(t.text in JOINED for t in tokens[a:b])
        a = b
    return end


def _says(a: int, b: int, here: Sequence[Mention], parts: Mapping[str, str]) -> bool:
    inside = [m for m in here if a <= m.start and m.end <= b]
    named = {m.id for m in inside if m.kind == "concept"} - {"consent"}
    planned = any(parts.get(i) == "plan" for i in named)
    return planned or (bool(named) and any(m.kind in SAYING for m in inside))
