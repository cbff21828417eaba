"""What became of every word: nothing clinical vanishes.

What goes in: the tokens, the fields made, and what became of the other stretches. What comes out: the stretches that are
in no field, each token once, with their fate; and those of them that are shown as unplaced, because they name a term, a
side with a part of the body, or a number with its unit. A heading counts as used once a field took something from it.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from operator import attrgetter

from dictation.extraction.made import Made
from dictation.extraction.matching import Mention
from dictation.extraction.numbers import Reading
from dictation.extraction.reasons import Fate, Outcome
from dictation.extraction.speech import REASONS
from dictation.extraction.statement import GENERIC, KNOWN
from dictation.extraction.tokens import Token
from dictation.extraction.values import UNIT_WORDS

BODY = {"joint", "structure", "digit", "region"}
TERMS = {"concept", *BODY}
NEAR = 4
"""How many words around a term are shown with it, and how far a side may stand from its part of the body; chosen by us."""
LONGEST_FORM = 12
"""Words in the longest form of a term, and some more."""
DENIED = "something denied that is not understood"
DENYING = {"no", "nil", "without", "denies"}
SHOWN = {Fate.NOT_A_STATEMENT, Fate.LOST, Fate.TAKEN_BACK}
_start = attrgetter("start")
COMPLAINTS = frozenset({"pain", "pains", "painful", "hurts", "hurt", "sore", "ache", "aches", "discomfort"})


class Account:
    """The words of one dictation, once everything is made."""

    def __init__(
        self, tokens: Sequence[Token], mentions: Sequence[Mention], numbers: Sequence[Reading], made: Sequence[Made],
        outcomes: Iterable[Outcome],
    ) -> None:  # fmt: skip
        self.tokens, self.mentions = tokens, mentions
        self.numbers = [n for n in numbers if n.unit in UNIT_WORDS]
        self.outcomes = sorted((o for o in outcomes if o.span[1] > o.span[0]), key=lambda o: o.span)
        self.covered = [False] * (len(tokens) + 1)
        self.used = [False] * (len(tokens) + 1)
        self.said: dict[int, set[str]] = defaultdict(set)
        self._mark_headings(made)
        for o in self.outcomes:
            if o.fate is Fate.CORRECTION:
                self.used[slice(*o.span)] = [True] * (o.span[1] - o.span[0])
        for one in made:
            for a, b in (one.span, *one.more_spans, *one.retraction_spans):
                self.covered[a:b] = [True] * (b - a)
                for k in range(a, b):
                    self.said[k].add(one.concept.id)
            for reason in one.why:
                if reason.span is not None:
                    a, b = reason.span
                    self.used[a:b] = [True] * (b - a)

    def _mark_headings(self, made: Sequence[Made]) -> None:
        """A heading is borne out where a field before the next one is of its side, also if it says that side itself.

        Not where its sentence complains: "pain when the left index is straightened" heads what follows, and is shown; nor where
        it ends what was not understood, as in "cannot cross the middle over the index on the left". Nor by what is said of the
        patient under no heading: "left hand dominant".
        """
        headings = [o for o in self.outcomes if o.fate is Fate.HEADING and not self._complains(*o.span)]
        headings = [o for o in headings if not self._ends_what_is_shown(o.span[0])]
        starts = [o.span[0] for o in headings]
        for one in made:
            k = bisect_left(starts, one.span[1]) - 1
            if one.concept.kind != "context" and k >= 0 and str(one.keys["side"]) in headings[k].detail:
                self.used[slice(*headings[k].span)] = [True] * (headings[k].span[1] - headings[k].span[0])

    def _ends_what_is_shown(self, start: int) -> bool:
        return start > 0 and not self.tokens[start - 1].stop and any(
            o.fate in SHOWN and o.span[0] < start <= o.span[1] for o in self.outcomes
        )

    def _complains(self, start: int, end: int) -> bool:
        while start > 0 and not self.tokens[start - 1].stop:
            start -= 1
        return any(self.tokens[k].text in COMPLAINTS and not self.covered[k] for k in range(start, end))

    def unplaced(self) -> list[tuple[int, int, str]]:
        """Return the stretches to show, in order, each with its reason."""
        out = []
        shown = [False] * len(self.covered)
        for o in self.outcomes:
            whole = o.fate is Fate.TAKEN_BACK or not all(self.covered[slice(*o.span)])
            if o.fate in SHOWN and whole and (o.fate is not Fate.NOT_A_STATEMENT or self._clinical(*o.span)):
                out.append((*o.span, o.fate.sentence.format(detail=o.detail)))
                shown[slice(*o.span)] = [True] * (o.span[1] - o.span[0])
        for a, b, reason in self._left_over():
            before = next((k for k, (_, end, _) in enumerate(out) if a <= end <= b), None) if reason == DENIED else None
            if before is not None and not self.tokens[max(0, out[before][1] - 1)].stop:
                out[before] = (out[before][0], b, out[before][2])  # "X-rays show" and "no fracture" are one thing said
                shown[a:b] = [True] * (b - a)
            elif not any(shown[a:b]) and not any(self.used[a:b]):
                a, b = self._around(a, b, shown)
                out.append((a, b, reason))
                shown[a:b] = [True] * (b - a)
        return sorted(out)

    def _left_over(self) -> Iterator[tuple[int, int, str]]:
        """What is clinical: terms first, so that a number or place beside one is shown with it."""
        for m in self.mentions:
            if m.kind == "concept" and not m.observed:
                if not any(self.covered[m.start : m.end]):
                    yield m.start, m.end, "named without a result"
                elif m.id not in GENERIC and m.id not in self.said[m.start] and self._read_as_concept(m):
                    yield m.start, m.end, "named among words that made other fields, and not taken up"
        for a, b in self._sided_places(0, len(self.tokens)):
            if not any(self.covered[a:b]):
                yield a, b, "a side and a part of the body with nothing said of it"
        yield from self._denials()
        for n in self.numbers:
            if not any(self.covered[n.start : n.end]):
                yield n.start, n.end, "a number with nothing it measures"

    def _denials(self) -> Iterator[tuple[int, int, str]]:
        """ "No recurrence": a "no" of what the lexicon does not know, with its words, outside talk that is no statement."""
        talk = [o.span for o in self.outcomes if o.fate is Fate.NOT_A_STATEMENT and o.detail != REASONS["other_body"]]
        pseudo = {k for m in self.mentions if m.id == "pseudo" or m.kind == "ordinary" for k in range(m.start, m.end)}
        for m in self.mentions:
            plain = m.kind == "negation" and m.id == "before" and m.form.split()[0] in DENYING
            if not plain or self.tokens[m.end - 1].stop or m.start in pseudo or any(a <= m.start < b for a, b in talk):
                continue
            end = m.end
            while end < len(self.tokens) and end - m.end < NEAR and not self.covered[end]:
                end += 1
                if self.tokens[end - 1].stop:
                    break
            told = {t.text for t in self.tokens[m.end : end]} - KNOWN
            if told and not any(self.covered[m.start : end]):
                yield m.start, end, DENIED

    def _read_as_concept(self, m: Mention) -> bool:
        """Whether it is no part of a longer term, and can be read as nothing else."""
        over = bisect_left(self.mentions, m.start - LONGEST_FORM, key=_start)
        near = self.mentions[over : bisect_left(self.mentions, m.end, key=_start)]
        return not any(
            o is not m and o.kind not in {"cue", "part"} and o.start <= m.start and m.end <= o.end
            and (o.kind != "concept" or o.end - o.start > m.end - m.start)
            for o in near
        )  # fmt: skip

    def _around(self, start: int, end: int, shown: Sequence[bool]) -> tuple[int, int]:
        """The stretch with the words around it, up to the next stop or to what is accounted for."""
        a, b, last = start, end, len(self.tokens)
        among = self.covered[start]
        while a > 0 and start - a < NEAR and not self.tokens[a - 1].stop and self.covered[a - 1] == among and not shown[a - 1]:
            a -= 1
        while b < last and b - end < NEAR and not self.tokens[b - 1].stop and self.covered[b] == among and not shown[b]:
            b += 1
        return a, b

    def _inside(self, start: int, end: int) -> Sequence[Mention]:
        first, last = bisect_left(self.mentions, start, key=_start), bisect_left(self.mentions, end, key=_start)
        return [m for m in self.mentions[first:last] if m.end <= end]

    def _clinical(self, start: int, end: int) -> bool:
        """Whether a stretch names a term, a side with a part of the body, or a number with its unit."""
        inside = self._inside(start, end)
        sided = any(m.kind in TERMS for m in inside) and any(m.kind == "side" for m in inside)
        first = bisect_left(self.numbers, start, key=_start)
        measured = first < len(self.numbers) and self.numbers[first].end <= end
        return any(m.kind == "concept" for m in inside) or sided or measured

    def _sided_places(self, start: int, end: int) -> Iterator[tuple[int, int]]:
        """Sides with a part of the body near them, in one clause."""
        inside = self._inside(start, end)
        for k, m in enumerate(inside):
            if m.kind != "side":
                continue
            for other in (*inside[max(0, k - NEAR) : k], *inside[k + 1 : k + 1 + NEAR]):
                a, b = min(m.start, other.start), max(m.end, other.end)
                apart = b - a > NEAR or any(t.stop for t in self.tokens[a : b - 1])
                if other.kind in BODY and not apart:
                    yield a, b
                    break

    def stretches(self) -> list[Outcome]:
        """Return what became of every token that is in no field, in order, neighbours of one fate together."""
        best: list[Outcome | None] = [None] * len(self.tokens)
        for m in self.mentions:
            unused: Outcome | None = None
            if m.kind in TERMS or m.kind in {"side", "status", "negation"}:
                named = "negation" if m.kind == "negation" else m.id
                unused = Outcome(Fate.UNUSED, (m.start, m.end), f'"{m.form}" ({named})')
            elif m.kind == "part" and self.tokens[m.end - 1].stop:
                unused = Outcome(Fate.HEADING, (m.start, m.end), f"the part ({m.id})")
            if unused is not None:
                for k in range(m.start, m.end):
                    if best[k] is None:
                        best[k] = unused
        for o in self.outcomes:
            best[slice(*o.span)] = [o] * (o.span[1] - o.span[0])
        out: list[Outcome] = []
        for k, known in enumerate(best):
            if self.covered[k]:
                continue
            fate, detail = (known.fate, known.detail) if known else (Fate.UNKNOWN, "")
            last = out[-1] if out else None
            if last and last.span[1] == k and (last.fate, last.detail) == (fate, detail):
                out[-1] = Outcome(fate, (last.span[0], k + 1), detail)
            else:
                out.append(Outcome(fate, (k, k + 1), detail))
        return out
