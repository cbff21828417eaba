"""Where the lexicon's terms stand in a dictation: the only file that meets a spaCy object.

What goes in: tokens. What comes out: mentions, plain values with the span of tokens they cover. Patterns and dictations
are made into words by the same tokeniser and handed over as ``Doc(words=...)``; a PhraseMatcher holds them all.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from spacy.matcher import PhraseMatcher
from spacy.tokens import Doc
from spacy.vocab import Vocab

from dictation.extraction.tokens import Token, form_tokens, normalise
from dictation.lexicon.entries import Lexicon

NOT_MATCHED = {
    "variants",
    "plain_reading",
    "power_of",
    "offered_as",
    "reported_as",
    "both_ways",
    "narrower",
    "site",
    "measured_as",
    "expands",
    "never_copied",
    "felt",
    "result_of",
    "test_of",
    "shown_by",
    "not_a_side",
    "comparator",
    "about",
    "unit",
    "short_name",
}


@dataclass(frozen=True, slots=True)
class Mention:
    """A term found in tokens[start:end]. kind: concept, digit, joint, structure, aspect, or a class of language.yaml.

    id: the entry's id, or the meaning within the class. sets: field keys the form carries. form: as the lexicon writes it.
    """

    kind: str
    id: str
    start: int
    end: int
    sets: Mapping[str, str] = field(default_factory=dict)
    observed: bool = False
    plural: bool = False
    form: str = ""


HEADED = {"concept", "structure"}
"""Kinds of term whose first word may stand for the whole in a list: "radial and ulnar pulses"."""
TERMS = {"concept", "structure", "joint"}
SMALL = {"the", "a", "an", "his", "her", "their", "its"}
"""Words that may stand between the words of a term, or be left out of it."""
LINKING = frozenset("in on to for at of up with from by over under".split())
"""Words that make no term of what is left beside them: "see him in" is not "see in"."""
UNKNOWN = "_"
"""Stands for a word of no form: spaCy keeps every word it meets for as long as the process lives. No token is this."""
VERBS = {"command", "teaching"}
"""Cues that are verbs: "makes a fist" is told of the patient, "make a fist" is said to the patient."""


def _plural(text: str) -> bool:
    return bool(parts := normalise(text.split()[-1])) and parts[-1][1]


def _turned(words: tuple[str, ...], adjectives: set[tuple[str, ...]]) -> list[tuple[str, ...]]:
    """ "prominent ulnar head" said as "ulnar head is prominent", and without its "is"."""
    if len(words) < 2 or words[:1] not in adjectives:
        return []
    return [(*words[1:], *verb, words[0]) for verb in ((), ("is",), ("are",), ("look",), ("sit",), ("feel",))]


_Labels = dict[tuple[str, ...], list[tuple[str, str, Mapping[str, str], bool, str]]]


def compile_patterns(lexicon: Lexicon) -> str:
    """Return what a TermMatcher needs of a lexicon, as text: the patterns that begin with one word stand on one line."""
    variants = {form: canonical for canonical, forms in lexicon.language.get("variants", {}).items() for form in forms}
    labels: _Labels = defaultdict(list)
    for room, kind in (
        (lexicon.concepts, "concept"), (lexicon.digits, "digit"), (lexicon.joints, "joint"),
        (lexicon.structures, "structure"), (lexicon.aspects, "aspect"),
    ):  # fmt: skip
        for term in room.values():
            for form in term.spoken:
                words = form_tokens(form.text, variants)
                if words and not any((kind, term.id) == (k, i) for k, i, *_ in labels[words]):
                    labels[words].append((kind, term.id, form.sets, form.observed, form.text))
    spelled = {w[0] for w in labels if len(w) == 1 and 2 <= len(w[0]) <= 6}
    spelled |= {t for w in labels for t in w if len(t) == 2 and t[0].isalpha() and t[1].isdigit()}
    for name, meanings in lexicon.language.items():
        if name in NOT_MATCHED:
            continue
        for meaning, forms in meanings.items():
            for text in forms:
                words = form_tokens(text, variants)
                sets = {"plural": "yes" if _plural(text) else "no"} if name in {"cue", "status", "part"} else {}
                if words and not any((name, meaning) == (k, i) for k, i, *_ in labels[words]):
                    labels[words].append((name, meaning, sets, False, text))
    adjectives = {form_tokens(w, variants) for w in lexicon.language.get("adjective", {}).get("word", ())}
    for words, entries in list(labels.items()):
        for turned in _turned(words, adjectives):
            concepts = [e for e in entries if e[0] == "concept"]
            if concepts and turned not in labels:
                labels[turned] = concepts
    for words, entries in list(labels.items()):
        bare = tuple(w for w in words if w not in SMALL)
        if sum(w not in LINKING for w in bare) > 1 and len(bare) < len(words) and bare not in labels:
            terms = [e for e in entries if e[0] in TERMS]
            if terms:
                labels[bare] = terms
    by_first: dict[str, list[object]] = {}
    for words, found in labels.items():
        by_first.setdefault(words[0], []).append((words, found))
    lines = [f"{first}\t{_json(patterns)}" for first, patterns in by_first.items()]
    return "\n".join([_json([variants, sorted(spelled)]), *lines])


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))


class TermMatcher:
    """Finds every term of a lexicon; text: from compile_patterns.

    Of many thousands of patterns only those that begin with a word of some dictation are ever given to spaCy.
    """

    def __init__(self, lexicon: Lexicon, text: str | None = None) -> None:
        head, *lines = (compile_patterns(lexicon) if text is None else text).split("\n")
        self.variants, spelled = json.loads(head)
        self.spelled = frozenset(spelled)
        self._waiting = {first: patterns for first, _, patterns in (line.partition("\t") for line in lines)}
        self._findings = frozenset(c.id for c in lexicon.concepts.values() if c.kind == "finding")
        self._vocab = Vocab()
        self._labels: list[list[tuple[str, str, Mapping[str, str], bool, str]]] = []
        self._heads: dict[tuple[str, ...], list[tuple[str, str, Mapping[str, str], bool, str]]] = {}
        self._known: set[str] = set()
        self._matcher = PhraseMatcher(self._vocab)

    def _take(self, first: str) -> None:
        """Give spaCy the patterns that begin with a word."""
        for words, terms in json.loads(self._waiting.pop(first, "[]")):
            self._matcher.add(str(len(self._labels)), [Doc(self._vocab, words=words)])
            self._labels.append(terms)
            self._known.update(words)
            if len(words) > 1 and terms[0][0] in HEADED:
                self._heads[tuple(words)] = terms

    def _spans(self, tokens: Sequence[Token]) -> Iterator[tuple[int, int, int, str | None]]:
        """Matches in the words as they are; then without the small words between; then without a side between as well.

        A side is left out only after "the", "his" and the like: "the point of the left elbow", "lifts his left thumb".
        """
        plain = SMALL | {"right", "left"}
        words = [t.text if t.text in self._known or t.text in plain else UNKNOWN for t in tokens]
        yield from ((key, i, j, None) for key, i, j in self._matcher(Doc(self._vocab, words=words)))
        kept = [k for k, w in enumerate(words) if w not in SMALL]
        sided = {k for k, w in enumerate(words) if w in {"right", "left"} and k and words[k - 1] in SMALL}
        for rest in (kept, [k for k in kept if k not in sided]):
            if len(rest) in {0, len(words)} or (rest is not kept and not sided):
                continue
            for key, i, j in self._matcher(Doc(self._vocab, words=[words[k] for k in rest])):
                start, end = rest[i], rest[j - 1] + 1
                sides = [words[k] for k in range(start, end) if k in sided]
                if end - start == j - i or j - i < 2 or (rest is not kept and (len(sides) != 1 or j - i < 3)):
                    continue
                yield key, start, end, sides[0] if sides and rest is not kept else None

    def find(self, tokens: Sequence[Token]) -> list[Mention]:
        """Return all mentions, overlapping ones included, ordered by start then by length, longest first."""
        if not tokens:
            return []
        for token in tokens:
            self._take(token.text)
        out = []
        found = set()
        for key, start, end, side in self._spans(tokens):
            if any(t.stop for t in tokens[start : end - 1] if t.stop in ".?!;:,"):
                continue
            verb = "yes" if tokens[end - 1].plural else "no"
            for kind, term, sets, observed, form in self._labels[int(self._vocab.strings[key])]:
                placed = kind != "concept" or term not in self._findings or "structure" in sets
                if (kind, term, start, end) in found or (side is not None and not (kind in TERMS and placed)):
                    continue
                found.add((kind, term, start, end))
                if kind == "cue" and term in VERBS and end - start == 1 and sets.get("plural") != verb:
                    continue
                if term == "reported" and end - start == 1 and sets.get("plural") == "yes" and verb == "no":
                    continue
                if kind == "status" and end - start == 1 and sets.get("plural") == "yes" and verb == "no":
                    continue
                carried = sets if side is None else {**sets, "side": side}
                out.append(Mention(kind, term, start, end, carried, observed, tokens[end - 1].plural, form))
        out += self._sharing_a_start(tokens, out)
        shared = self._sharing_a_head(tokens, out)
        # In "AIN, PIN and ulnar motor" the first two name what is tested, not where something is.
        tested = {(m.start, m.end) for m in shared if m.kind == "concept"}
        out = [m for m in out if m.kind != "structure" or (m.start, m.end) not in tested] + shared
        return sorted(out, key=lambda m: (m.start, -m.end))

    def _sharing_a_start(self, tokens: Sequence[Token], found: Sequence[Mention]) -> list[Mention]:
        """ "LT shear and ballottement" names two tests: a word after "and" that makes a term with the first word before it."""
        known = {k for m in found if m.kind in HEADED | {"movement", "joint", "digit"} for k in range(m.start, m.end)}
        out = []
        for m in found:
            at = m.end + 1
            joined = at < len(tokens) and tokens[m.end].text in {"and", "or"} and not tokens[m.end - 1].stop
            if m.kind != "concept" or m.end - m.start < 2 or not joined or at in known:
                continue
            for kind, term, sets, observed, form in self._heads.get((tokens[m.start].text, tokens[at].text), ()):
                if kind == m.kind and term != m.id:
                    out.append(Mention(kind, term, at, at + 1, sets, observed, False, form))
        return out

    def _sharing_a_head(self, tokens: Sequence[Token], found: Sequence[Mention]) -> list[Mention]:
        """ "second and fourth extensor compartments" names two: each earlier word that makes a term with the same head."""
        long = {k for m in found if m.kind in HEADED and m.end - m.start > 1 for k in range(m.start, m.end)}
        known = {(m.id, m.start) for m in found}
        out: dict[tuple[str, str, int], Mention] = {}
        for m in sorted(found, key=lambda m: m.start - m.end):
            if m.kind not in HEADED or m.end - m.start < 2:
                continue
            head = tuple(t.text for t in tokens[m.start + 1 : m.end])
            k = m.start
            while k >= 1:
                at = k - 1 if tokens[k - 1].stop == "," else k - 2
                joined = at == k - 1 or (tokens[k - 1].text in {"and", "or"} and tokens[at].stop in {"", ","})
                terms = self._heads.get((tokens[at].text, *head), ()) if at >= 0 and joined and at not in long else ()
                if not terms:
                    break
                for kind, term, sets, observed, form in terms:
                    if kind == m.kind and (term, form) != (m.id, m.form) and (term, at) not in known:
                        out.setdefault((kind, term, at), Mention(kind, term, at, at + 1, sets, observed, False, form))
                k = at
        return list(out.values())
