"""Misheard terms repaired, and correct text left alone, by our correction and by simpler methods side by side:
``python -m tests.benchmarks.bench_mishearings [--tuning]``.

What was misheard is kept in two files (make_mishearings.py says how they were made); figures are on the half that nothing
was tuned on unless --tuning is given. A term counts as right where a field names it, as silently wrong where some field
names another and carries no check flag. Probabilities of words are left out, so that only what correction itself doubts is
flagged. The simpler methods get the cut that does best on the tuning half within the bar for false corrections.
"""

from __future__ import annotations

import argparse
import json
import re
import time
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path
from typing import Any

from dictation.checks import check_fields
from dictation.correction.correct import correct
from dictation.extraction.extract import extract
from dictation.lexicon.entries import Lexicon
from dictation.lexicon.loading import load_lexicon
from dictation.lexicon.sound_index import key
from dictation.record import RecordField
from dictation.transcript import CorrectedTranscript, CorrectedWord, Transcript, Word, read_text
from tests.benchmarks.make_mishearings import HALVES

CASES = Path(__file__).parents[1] / "cases"
FRAMES_PER_S = 100
LONGEST_PHONE = 12  # frames; the loop's readings are kept by their starts alone
MOST_FALSE = 1.0  # per 1,000 words
Method = Callable[[Transcript], CorrectedTranscript]
Row = dict[str, Any]


def read_rows(half: str, *, talk: bool = False) -> list[Row]:
    """Return the lines of a half that speak of a term, or those of ordinary English."""
    rows = [json.loads(line) for line in HALVES[half].read_text(encoding="utf-8").splitlines()]
    return [row for row in rows if ("term" in row) != talk]


def transcript(row: Row, *, loop: bool) -> Transcript:
    """Return what was heard, with the loop's phones as second reading where asked for."""
    words = tuple(Word(said, start / FRAMES_PER_S, end / FRAMES_PER_S) for said, start, end, _ in row["heard"])
    starts = [(re.match("[A-Z]+", item), re.search(r"\d+", item)) for item in row["phones"].split()]
    phones = [(name[0], int(at[0])) for name, at in starts if name and at]
    ends = [*(at for _, at in phones[1:]), 10**9]
    second = tuple(
        Word(name, at / FRAMES_PER_S, min(end, at + LONGEST_PHONE) / FRAMES_PER_S)
        for (name, at), end in zip(phones, ends, strict=True)
    )
    return Transcript(words, frozenset({0}) if words else frozenset(), second if loop else ())


def misheard(row: Row) -> bool:
    """Tell whether the words heard lack the form as said."""
    heard, form = [key(word[0]) for word in row["heard"]], [key(word) for word in row["form"].split()]
    return not any(heard[i : i + len(form)] == form for i in range(len(heard)))


def fields(corrected: CorrectedTranscript, lexicon: Lexicon) -> list[RecordField]:
    """Return the fields of a corrected transcript, checked."""
    return list(check_fields(extract(corrected, lexicon).fields, corrected, lexicon))


def outcome(row: Row, found: Iterable[RecordField]) -> str:
    """Return right, silent (another term named, without a check flag), checked (another, flagged) or nothing."""
    place = "concept" if "concept" in row else "structure"
    named = [(getattr(f, place), any(flag.level == "check" for flag in f.flags)) for f in found]
    others = [flagged for name, flagged in named if name not in (row["term"], None)]
    if not all(others):
        return "silent"
    if any(name == row["term"] for name, _ in named):
        return "right"
    return "checked" if others else "nothing"


# -- the simpler methods ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class ByCode:
    """Writes a spoken form for each stretch of words whose code is as like its own as cut, 0 to 1."""

    forms: dict[str, tuple[str, ...]]  # code -> form
    exact: frozenset[tuple[str, ...]]
    code: Callable[[str], str]
    cut: float

    def __call__(self, heard: Transcript) -> CorrectedTranscript:
        words = [word.said for word in heard.words]
        hits: list[tuple[float, int, int, tuple[str, ...]]] = []
        for start in range(len(words)):
            for end in range(start + 1, min(len(words), start + 4) + 1):
                if tuple(map(key, words[start:end])) in self.exact:
                    hits.append((2.0, start, end, tuple(words[start:end])))
                    continue
                found = self._nearest(self.code(" ".join(words[start:end]).lower()))
                if found and found[1] >= self.cut:
                    hits.append((found[1], start, end, self.forms[found[0]]))
        taken: set[int] = set()
        changes: dict[int, tuple[int, tuple[str, ...], float]] = {}
        for likeness, start, end, form in sorted(hits, key=lambda hit: (-hit[0], hit[1] - hit[2])):
            if taken.isdisjoint(range(start, end)):
                taken.update(range(start, end))
                if likeness <= 1:
                    changes[start] = (end, form, 1 - likeness)
        out: list[CorrectedWord] = []
        at = 0
        while at < len(words):
            end, form, distance = changes.get(at, (at + 1, (), 0.0))
            out += [CorrectedWord(w, (at, end), "alike", distance) for w in form] or [CorrectedWord(words[at], (at, end))]
            at = end
        return CorrectedTranscript(heard, tuple(out))

    def _nearest(self, code: str) -> tuple[str, float] | None:
        return _nearest(self, code)


@cache
def _nearest(method: ByCode, code: str) -> tuple[str, float] | None:
    from rapidfuzz import process
    from rapidfuzz.distance import Levenshtein

    found = process.extractOne(code, method.forms.keys(), scorer=Levenshtein.normalized_similarity) if len(code) > 2 else None
    return (found[0], found[1]) if found else None


ByCode.__hash__ = object.__hash__  # type: ignore[method-assign]  # one memory for each method


def by_code(lexicon: Lexicon, code: Callable[[str], str], cut: float) -> ByCode:
    """Return the method that compares by a code: the letters themselves, or a phonetic one."""
    forms = {
        code(form.text.lower()): tuple(form.text.split())
        for term in lexicon.terms()
        for form in term.spoken
        if form.text.replace("'", "").replace(" ", "").isalpha()
    }
    exact = frozenset(tuple(map(key, form.text.split())) for term in lexicon.terms() for form in term.spoken)
    return ByCode(forms, exact, code, cut)


def phonetic(text: str) -> str:
    """Return the metaphone of a text, words joined."""
    import jellyfish

    return str(jellyfish.metaphone(text)).replace(" ", "")


# -- what is printed -------------------------------------------------------------------------------------------------


def ordinary(*, tuning: bool) -> list[str]:
    """Return lines of ordinary English."""
    if tuning:
        return [*load_lexicon().conversation, *(Path(__file__).parent / "talk_everyday.txt").read_text("utf-8").splitlines()]
    lines = (CASES / "ordinary_english.txt").read_text(encoding="utf-8").splitlines()
    return [line for line in lines if not line.startswith("#")]


def clinical(*, tuning: bool) -> list[str]:
    """Return correct dictations."""
    kinds = ("tuning", "more", "third", "fourth") if tuning else ("second",)
    return [
        json.loads(line)["text"]
        for name in (f"{what}_{kind}" for what in ("phrases", "dictations") for kind in kinds)
        for line in (CASES / f"{name}.jsonl").read_text(encoding="utf-8").splitlines()
    ]


def false_corrections(method: Method, lines: Sequence[str]) -> tuple[int, int, list[str]]:
    """Return stretches changed, words, and what became of them."""
    changed: list[str] = []
    words = 0
    for line in lines:
        result = method(read_text(line))
        words += len(result.heard.words)
        spans = {word.from_: word.text for word in result.corrected if word.reason}
        changed += [f"{' '.join(w.said for w in result.heard.words[a:b])} > {text}" for (a, b), text in spans.items()]
    return len(changed), words, changed


def written(row: Row, corrected: CorrectedTranscript, lexicon: Lexicon) -> bool:
    """Tell whether some form of the term stands in the corrected words."""
    words = [key(word.text) for word in corrected.corrected]
    term = next(term for term in lexicon.terms() if term.id == row["term"])
    forms = [[key(word) for word in form.text.split()] for form in term.spoken]
    return any(words[i : i + len(form)] == form for form in forms for i in range(len(words)))


def repaired(method: Method, rows: Sequence[Row], lexicon: Lexicon, *, loop: bool) -> Counter[str]:
    """Return how many misheard terms came out how; also by voice, as "voice outcome"."""
    out: Counter[str] = Counter()
    for row in rows:
        corrected = method(transcript(row, loop=loop))
        how = outcome(row, fields(corrected, lexicon))
        out["written"] += written(row, corrected, lexicon)
        out.update([how, f"{row['voice']} {how}", "all", f"{row['voice']} all"])
    return out


def best_cut(lexicon: Lexicon, code: Callable[[str], str], rows: Sequence[Row]) -> ByCode:
    """Return the method at the lowest cut that keeps within the bar for false corrections on the tuning texts."""
    lines = [*ordinary(tuning=True)[::4], *clinical(tuning=True)[::8]]
    tried = by_code(lexicon, code, 1.0)
    for cut in (0.95, 0.9, 0.85, 0.8, 0.75, 0.7):
        method = by_code(lexicon, code, cut)
        changed, words, _ = false_corrections(method, lines)
        if 1000 * changed / words > MOST_FALSE:
            break
        tried = method
    return tried


def milliseconds(words: int = 200) -> float:
    """Return the processor time to correct a dictation of so many words, loaded: the middle of nine."""
    text = " ".join(" ".join(clinical(tuning=True)).split()[:words])
    lexicon, times = load_lexicon(), []
    for _ in range(9):
        began = time.process_time()
        correct(read_text(text), lexicon)
        times.append(time.process_time() - began)
    return 1000 * sorted(times)[4]


def embedded_right(rows: Sequence[Row], which: int, lexicon: Lexicon) -> tuple[int, int]:
    """Return terms right and terms read by the embedded recogniser; which: 0 clean, 1 in fan noise."""
    read = [row for row in rows if "read" in row]
    ours = partial(correct, lexicon=lexicon)
    return sum(outcome(row, fields(ours(read_text(row["read"][which])), lexicon)) == "right" for row in read), len(read)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tuning", action="store_true", help="the half that was tuned on")
    parser.add_argument("--false", action="store_true", help="print false corrections (tuning texts alone)")
    parser.add_argument("--ours", action="store_true", help="leave out the simpler methods")
    asked = parser.parse_args()
    lexicon = load_lexicon()
    rows = read_rows("tuning" if asked.tuning else "unseen")
    wrong = [row for row in rows if misheard(row)]
    print(f"{len({row['term'] for row in rows})} terms, {len(rows)} sentences, {len(wrong)} with the term misheard.")
    ours = partial(correct, lexicon=lexicon)
    methods: list[tuple[str, Method, bool]] = [
        ("ours, with the loop", partial(ours, by_second_reading=True), True),
        ("ours, words alone", ours, False),
    ]
    if not asked.ours:
        tuned = [row for row in read_rows("tuning") if misheard(row)]
        methods += [
            ("letter distance", best_cut(lexicon, str, tuned), False),
            ("metaphone", best_cut(lexicon, phonetic, tuned), False),
            ("exact match", lambda heard: CorrectedTranscript(heard, correctless(heard)), False),
        ]
    heads = ("written", "right", "silent", "checked", "nothing")
    print(" " * 22 + "".join(f"{head:>9}" for head in heads) + f"{'false, ordinary':>18}{'false, clinical':>18}")
    for name, method, loop in methods:
        found = repaired(method, wrong, lexicon, loop=loop)
        shares = [100 * found[how] / found["all"] for how in heads]
        texts = [false_corrections(method, lines(tuning=asked.tuning)) for lines in (ordinary, clinical)]
        false = [f"{n} in {words}" for n, words, _ in texts]
        print(f"{name:22}" + "{:9.1f}{:9.1f}{:9.1f}{:9.1f}{:9.1f}".format(*shares) + "{:>18}{:>18}".format(*false), flush=True)
        voices = sorted({row["voice"] for row in wrong})
        print("    right by voice: " + ", ".join(f"{v} {found[f'{v} right']} of {found[f'{v} all']}" for v in voices))
        if asked.false and asked.tuning:
            print("\n".join(f"    {change}" for _, _, changes in texts for change in changes))
    if not asked.tuning:
        for which, name in enumerate(("clean", "fan noise at 10 dB")):
            right, read = embedded_right(rows, which, lexicon)
            print(f"embedded recogniser, {name}: {right} of {read} terms right.")
    print(f"correction of 200 words: {milliseconds():.1f} ms.")


def correctless(heard: Transcript) -> tuple[CorrectedWord, ...]:
    """Return the words as heard."""
    return tuple(CorrectedWord(word.said, (i, i + 1)) for i, word in enumerate(heard.words))


if __name__ == "__main__":
    main()
