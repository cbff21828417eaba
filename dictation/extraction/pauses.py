"""Likely marks in words that have none: where a comma, a colon or a full stop would most likely have been written.

A recogniser, and many a typist, gives words without punctuation. What stands on each side of a gap (a term's sort, a side,
a result, a small word), and what was said since the last mark, tell how likely each mark is there: a logistic model whose
weights, pauses.tsv, are fitted to punctuated dictations by ``python -m tests.benchmarks.fit_pauses``. What goes in: tokens,
mentions and numbers. What comes out: the same tokens with marks. Words with a mark anywhere are left as they are.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import exp
from pathlib import Path

from dictation.extraction.matching import Mention
from dictation.extraction.numbers import Reading
from dictation.extraction.tokens import Token

MARKS = (",", ":", ".")
"""In the order of the weights in pauses.tsv; no mark weighs nothing."""
LIKELY = 0.5
"""A mark is put where some mark is at least this likely; tried on our own cases."""
SURE = 0.9
"""Where some mark is less likely than this, and no mark is too, which of the two is in doubt; tried on our own cases."""
NO_TERM = frozenset({"cue", "part", "procedure", "occupation", "ordinary", "preposition", "adjective"})
ORDER = (
    "retraction", "general_normal", "copy", "reset", "negation", "contrast", "comparison", "concept", "movement", "status",
    "severity", "certainty", "mode", "side", "region", "digit", "joint", "structure", "aspect", "nerve_name",
)  # fmt: skip
"""Which reading of one span stands for it, the first that there is."""
LENGTHS = (1, 2, 3, 4, 6, 9, 14, 24)
OUTSIDE = "^"
GRADED = frozenset({"look", "feel", "move"})
"""Parts of the examination whose findings have a severity before them."""
BEFORE_GRADED = frozenset({"=is", "=are", "=a", "=some", "=with"})
LEADS = frozenset({"=on", "=in", "=at", "=of", "=to", "=the"})
SIDES = frozenset({"side one", "side other", "side same"})


@dataclass(frozen=True, slots=True)
class Stretch:
    """tokens[start:end] that no mark parts, and what sort of thing they are."""

    start: int
    end: int
    sort: str


def likely_marks(
    tokens: Sequence[Token], mentions: Sequence[Mention], numbers: Sequence[Reading], parts: dict[str, str]
) -> tuple[list[Token], list[int]]:
    """Return the tokens with the marks that most likely belong there, and before which tokens it is in doubt whose a side is.

    parts: concept -> part of the examination.
    """
    weights, found = _weights(), stretches(tokens, mentions, numbers, parts)
    cues = leading_cues(mentions)
    out, so_far, doubtful = list(tokens), Since(), []
    for k in range(1, len(found)):
        so_far.say(found[k - 1].sort)
        at = found[k].start
        if tokens[at].pause:
            so_far = Since()
            continue
        scores = [0.0, 0.0, 0.0]
        for feature in features(found, k, so_far, tokens, cues):
            for n, weight in enumerate(weights.get(feature, ())):
                scores[n] += weight
        powers = [exp(min(s, 30.0)) for s in scores]
        likely = sum(powers) / (1 + sum(powers))
        if 1 - SURE < likely < SURE and _beside_a_side(found, k):
            doubtful.append(at)
        if likely >= LIKELY and not _goes_on(found, k, so_far):
            mark = MARKS[max(range(3), key=powers.__getitem__)]
            out[at - 1] = replace(tokens[at - 1], stop=mark)
            so_far.mark(mark)
    return out, doubtful


def _goes_on(found: Sequence[Stretch], k: int, so_far: Since) -> bool:
    """Whether what stands before found[k] says nothing without it, however likely a mark is there."""
    before, after = found[k - 1].sort, found[k].sort
    unsaid = not (so_far.named or so_far.told)
    if before == "nerve_name" and after == "sensation":
        return unsaid  # "right median, ulnar and radial nerve sensation"
    if before == "severity" and after.rstrip("@") in GRADED:
        led = found[k - 2].sort if k > 1 else OUTSIDE
        return led == "=and" or (unsaid and led in BEFORE_GRADED)  # "no scar and mild swelling", "there is mild swelling"
    return after == "side one" and before[0] == "#" and _sides_follow(found, k)


def _sides_follow(found: Sequence[Stretch], k: int) -> bool:
    """ "Pronation 70 right, 80 left": the number before had its side after it, and so has the one before found[k]."""
    i = k - 3 if found[k - 2].sort == "=and" else k - 2
    if i < 1 or found[i].sort != "side one" or found[i - 1].sort[0] != "#":
        return False
    while i > 0 and (found[i - 1].sort[0] == "#" or found[i - 1].sort == "=and"):
        i -= 1
    return i == 0 or found[i - 1].sort != "side one"


def _beside_a_side(found: Sequence[Stretch], k: int) -> bool:
    """Whether a side, with its "on the" or its hand, ends or begins at found[k]."""
    i = k
    while i < len(found) - 1 and found[i].sort in LEADS:
        i += 1
    j = k - 1
    while j > 0 and found[j].sort in {"region", "joint"}:
        j -= 1
    return found[i].sort in SIDES or found[j].sort in SIDES


def stretches(
    tokens: Sequence[Token], mentions: Sequence[Mention], numbers: Sequence[Reading], parts: dict[str, str]
) -> list[Stretch]:
    """Return the tokens as terms, numbers and single words, from the left, the longest term first."""
    sorts: dict[int, tuple[int, dict[str, Mention]]] = {}
    for m in mentions:
        if m.kind in NO_TERM:
            continue
        end, readings = sorts.get(m.start, (0, {}))
        if m.end > end:
            sorts[m.start] = m.end, {m.kind: m}
        elif m.end == end:
            readings.setdefault(m.kind, m)
    said = {n.start: n for n in numbers}
    out: list[Stretch] = []
    i = 0
    while i < len(tokens):
        number, (end, readings) = said.get(i), sorts.get(i, (i, {}))
        if number is not None and number.end >= end:
            scaled = number.out_of is not None or number.sign is not None
            out.append(Stretch(i, number.end, "#/" if scaled else f"#{number.unit or ''}"))
        elif readings:
            out.append(Stretch(i, end, _sort(readings, parts)))
        else:
            out.append(Stretch(i, i + 1, f"={tokens[i].text}"))
        i = out[-1].end
    return out


def _sort(readings: dict[str, Mention], parts: dict[str, str]) -> str:
    kind = next((k for k in ORDER if k in readings), next(iter(readings)))
    m = readings[kind]
    if kind == "concept":
        told = "!" if "status" in m.sets else ""
        placed = "@" if {"structure", "joint", "digit"} & set(readings) else ""
        return f"{parts.get(m.id, kind)}{told}{placed}"
    if kind in {"status", "negation", "side"}:
        named = {"right": "one", "left": "one"}.get(m.id, m.id)
        return f"{kind} {named}"
    return kind


def leading_cues(mentions: Sequence[Mention]) -> dict[int, set[str]]:
    """Where a cue or a heading word starts, and which."""
    out: dict[int, set[str]] = {}
    for m in mentions:
        if m.kind in {"cue", "part"}:
            out.setdefault(m.start, set()).add(f"{m.kind} {m.id}")
    return out


class Since:
    """What was said since the last mark, and how long ago the last full stop was."""

    def __init__(self) -> None:
        self.first = self.last = ""
        self.named = self.told = self.sided = False
        self.length = self.sentence = 0

    def say(self, sort: str) -> None:
        """Take in one more stretch."""
        self.first = self.first or sort
        self.last = sort
        self.length += 1
        self.sentence += 1
        kind = sort.split(" ")[0]
        self.told = self.told or sort[0] == "#" or kind == "status" or "!" in sort
        self.sided = self.sided or kind == "side"
        self.named = self.named or (sort[0] not in "#=" and kind not in ORDER) or kind == "movement"

    def mark(self, mark: str) -> None:
        """Start anew after a mark."""
        sentence = 0 if mark == "." else self.sentence
        self.__init__()  # type: ignore[misc]
        self.sentence = sentence

    def state(self) -> str:
        """Named, told and sided, one letter each."""
        return "".join(letter for letter, said in zip("nts", (self.named, self.told, self.sided), strict=True) if said)


def features(
    found: Sequence[Stretch], k: int, so_far: Since, tokens: Sequence[Token], cues: dict[int, set[str]]
) -> Iterator[str]:
    """Yield what speaks for or against a mark before found[k]."""
    before2, before = found[k - 2].sort if k > 1 else OUTSIDE, found[k - 1].sort
    after = found[k].sort
    after2 = found[k + 1].sort if k + 1 < len(found) else OUTSIDE
    after3 = found[k + 2].sort if k + 2 < len(found) else OUTSIDE
    state = so_far.state()
    yield "always"
    yield f"< {before}"
    yield f"> {after}"
    yield f"<> {before} | {after}"
    yield f"<< {before2} | {before}"
    yield f">> {after} | {after2}"
    yield f"<>> {before} | {after} | {after2}"
    yield f"<<> {before2} | {before} | {after}"
    yield f">>> {after} | {after2} | {after3}"
    yield f"so far {state}"
    yield f"so far {state} > {after}"
    yield f"so far {state} < {before}"
    yield f"so far {state} >> {after} | {after2}"
    yield f"length {_step(so_far.length)}"
    yield f"length {_step(so_far.length)} {state}"
    yield f"sentence {_step(so_far.sentence)}"
    yield f"of {_step(len(found))}"
    yield f"of {_step(len(found))} {state}"
    if so_far.first == after:
        yield f"again {state}"
        yield f"again > {after}"
    for cue in sorted(cues.get(found[k].start, ())):
        yield f"{cue}"
        yield f"{cue} so far {state}"
    for cue in sorted(cues.get(found[k - 1].start, ())):
        yield f"after {cue}"


def _step(count: int) -> int:
    return next((n for n in LENGTHS if count <= n), LENGTHS[-1] + 1)


@lru_cache(maxsize=1)
def _weights() -> dict[str, tuple[float, ...]]:
    rows = (Path(__file__).parent / "pauses.tsv").read_text(encoding="utf-8").splitlines()
    return {name: tuple(map(float, rest)) for name, *rest in (row.split("\t") for row in rows if row[:1] != "#")}
