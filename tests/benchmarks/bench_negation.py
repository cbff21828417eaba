"""Negation side by side: ours and the ConText component of a general clinical library, on our phrases, in one run.

``python -m tests.benchmarks.bench_negation [--python PATH] [--bare]``. Every phrase of tests/cases that holds a word of denial
is read by both. Both are asked the same: is this term, here, denied? The terms are those our lexicon finds; the other side is
given them, ours must also make the field, and a field that it does not make counts as "not denied". Terms whose own form holds
the denial ("non-tender"), that only name what is looked at, or whose two labels could not be told apart are left out and
counted. Precision and recall are of "denied". Blind phrases give totals alone.

The other side lowers spaCy, so it lives in an environment of its own, with the extra "bench":
python3 -m venv .venv-bench && .venv-bench/bin/pip install -e '.[bench]'
Source: Harkema et al., ConText, J Biomed Inform 2009; 42: 839-851; the component is medspacy's.
"""

from __future__ import annotations

import argparse
import json
import re
import subprocess
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from dictation import draft_from_text
from dictation.correction.correct import correct
from dictation.extraction.extract import Words, readers
from dictation.extraction.tokens import tokenise
from dictation.lexicon.loading import load_lexicon
from dictation.transcript import read_text
from tests.benchmarks.bench_text import bare
from tests.scoring import read_cases

ROOT = Path(__file__).parents[2]
FILES = sorted((ROOT / "tests" / "cases").glob("phrases_*.jsonl"))
OTHER_SIDE = Path(__file__).with_name("context_side.py")
DENIAL = re.compile(
    r"\b(?:no|not|nil|non|none|nor|neither|never|without|den(?:y|ies|ied)|free|absent|absence|negative|nothing|cannot)\b|n't\b",
    re.IGNORECASE,
)
SET_UP = "python3 -m venv .venv-bench && .venv-bench/bin/pip install -e '.[bench]'"
DENIED = {"absent": True, "negative": True, "present": False, "positive": False}


@dataclass(slots=True)
class Target:
    """One term in one phrase: characters [start, end), whether its label says denied, and whether our draft does."""

    start: int
    end: int
    denied: bool
    ours: bool


@dataclass(slots=True)
class Phrase:
    text: str
    targets: list[Target] = field(default_factory=list)


@dataclass(slots=True)
class Counts:
    """Of "denied": right, wrongly said, missed."""

    right: int = 0
    wrong: int = 0
    missed: int = 0

    def add(self, denied: bool, said: bool) -> None:
        self.right += denied and said
        self.wrong += said and not denied
        self.missed += denied and not said

    def __str__(self) -> str:
        precision, recall = self.right / max(1, self.right + self.wrong), self.right / max(1, self.right + self.missed)
        return f"{precision:9.3f} {recall:7.3f} {self.right:6} {self.wrong:6} {self.missed:7}"


def polarities(fields: list[dict[str, object]]) -> dict[str, set[bool]]:
    """Concept to what is said of it: denied, not denied, or both at different places."""
    out: dict[str, set[bool]] = defaultdict(set)
    for one in fields:
        if one.get("status") in DENIED:
            out[str(one["concept"])].add(DENIED[str(one["status"])])
    return out


def terms(text: str) -> Iterator[tuple[str, int, int]]:
    """Yield each concept our lexicon finds in the words, with its characters."""
    lexicon = load_lexicon()
    matcher, _ = readers(lexicon)
    transcript = correct(read_text(text), lexicon)
    tokens = tokenise(transcript, matcher.variants, matcher.spelled)
    words, at = Words(transcript, tokens), [m.span() for m in re.finditer(r"\S+", text)]
    for m in matcher.find(tokens):
        if m.kind == "concept" and not m.observed and "status" not in m.sets:
            i, j = words.heard(m.start, m.end)
            yield m.id, at[i][0], at[i][0] + len(text[at[i][0] : at[j - 1][1]].rstrip(".,;:?!"))


def phrases(file: Path, *, stripped: bool) -> tuple[list[Phrase], int]:
    """Return the phrases of a file that hold a denial, with their targets, and how many labels were left out."""
    out, left_out = [], 0
    for case in read_cases(file):
        text = bare(case["text"]) if stripped else case["text"]
        if not DENIAL.search(text):
            continue
        phrase, labels = Phrase(text), polarities(case["fields"])
        drafted = json.loads(draft_from_text(text).model_dump_json())
        ours = polarities(drafted["fields"])
        found = {concept: (start, end) for concept, start, end in terms(text)}
        for concept, said in labels.items():
            if concept not in found or len(said) > 1:
                left_out += 1
                continue
            phrase.targets.append(Target(*found[concept], denied=True in said, ours=ours[concept] == {True}))
        out.append(phrase)
    return out, left_out


def other_side(python: Path, asked: list[Phrase]) -> list[list[bool]]:
    """Return what the component says of each target, worked out in its own environment."""
    given = [{"text": p.text, "targets": [(t.start, t.end) for t in p.targets]} for p in asked]
    run = subprocess.run([str(python), str(OTHER_SIDE)], input=json.dumps(given), capture_output=True, text=True, check=False)
    if run.returncode:
        reason = (run.stderr.strip().splitlines() or ["no reason given"])[-1]
        raise SystemExit(f"The other side stopped ({reason}); set up its environment anew: {SET_UP}.")
    answer: list[list[bool]] = json.loads(run.stdout[run.stdout.index("[") :])
    return answer


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--python", type=Path, default=ROOT / ".venv-bench" / "bin" / "python", metavar="PATH",
                        help="the interpreter of the environment with the extra bench")  # fmt: skip
    parser.add_argument("--bare", action="store_true", help="the words without punctuation and capitals")
    given = parser.parse_args()
    there = given.python.exists()
    if not there:
        print(f"The other side is left out: there is no {given.python}; set it up ({SET_UP}), or name its --python.")
    print(f"{'denied':24} {'side':8} {'precision':>9} {'recall':>7} {'right':>6} {'wrong':>6} {'missed':>7}")
    for file in FILES:
        asked, left_out = phrases(file, stripped=given.bare)
        ours, other = Counts(), Counts()
        answers = other_side(given.python, asked) if there else [[False] * len(p.targets) for p in asked]
        for phrase, said in zip(asked, answers, strict=True):
            for target, negated in zip(phrase.targets, said, strict=True):
                ours.add(target.denied, target.ours)
                other.add(target.denied, negated)
        targets = sum(len(p.targets) for p in asked)
        print(f"{file.stem:24} {'ours':8} {ours}   {len(asked)} phrases, {targets} terms, {left_out} left out")
        if there:
            print(f"{'':24} {'ConText':8} {other}")


if __name__ == "__main__":
    main()
