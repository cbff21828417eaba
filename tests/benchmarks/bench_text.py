"""Typed dictations drafted and scored: ``python -m tests.benchmarks.bench_text [--faults N] [--bare]``.

Prints a line for the samples and for each file of tests/cases; with --bare a second table of the same texts without
punctuation and capitals, as the embedded recogniser writes them. The blind files are for the figure
alone: nobody looks at their faults while changing the lexicon or the extraction. The blind ones were written by
someone who had read the contract and not the program.
"""

from __future__ import annotations

import argparse
import json
import re
from pathlib import Path

from dictation import __version__, draft_from_text
from tests.scoring import Score, read_cases, score

ROOT = Path(__file__).parents[2]
CASES = ROOT / "tests" / "cases"
FILES = [ROOT / "samples" / "expected.jsonl", *sorted([*CASES.glob("dictations_*.jsonl"), *CASES.glob("phrases_*.jsonl")])]
UNSEEN = ("blind",)
"""How the names of the files end whose faults are never printed."""
HEAD = (
    f"{'':32} {'texts':>5} {'fields':>6} {'F1':>6} {'silent':>6} {'/100':>6}  side polarity number invented  "
    f"{'checked':>7} {'lost':>6}"
)


def line(name: str, texts: int, total: Score) -> str:
    """Return one line of the table. checked: of right fields, with a check flag. lost: see DEVELOPERS.md."""
    n = total.counts
    return (
        f"{name:32} {texts:5} {n['expected']:6} {total.f1:6.3f} {n['silent']:6} {total.silent_per_100:6.2f}  "
        f"{n['silent_side']:4} {n['silent_polarity']:8} {n['silent_number']:6} {n['silent_invented']:8}  "
        f"{share(total.right_checked_share):>7} {share(total.lost_share):>6}"
    )


def share(value: float | None) -> str:
    """Return a share in per cent, "-" where there was nothing to count."""
    return "-" if value is None else f"{100 * value:.1f}%"


def bare(text: str) -> str:
    """Return the words without punctuation and capitals; points and signs inside numbers stay.

    >>> bare("Tinel's positive: 4+/5, 2.5 cm.")
    "tinel's positive 4+/5 2.5 cm"
    """
    plain = re.sub(r"[.,;:?!]+(?=\s|$)|[\u2014\u2013()\"]|\s-\s", " ", text)
    return " ".join(plain.lower().split())


def table(*, stripped: bool) -> Score:
    """Print a line for each file and return what may be shown of the faults."""
    shown = Score()
    for file in FILES:
        name = "samples" if file.stem == "expected" else file.stem.replace("_", ", ")
        cases = read_cases(file)
        total = Score()
        for case in cases:
            text = bare(case["text"]) if stripped else case["text"]
            total += score(case, json.loads(draft_from_text(text).model_dump_json()))
        print(line(name, len(cases), total), flush=True)
        if not name.endswith(UNSEEN):
            shown.faults += total.faults
    return shown


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--faults", type=int, default=0, metavar="N", help="print N faults, none blind")
    parser.add_argument("--bare", action="store_true", help="a second table, without punctuation and capitals")
    given = parser.parse_args()
    print(f"Typed text, program {__version__}.")
    print(HEAD)
    faults = table(stripped=False).faults
    if given.bare:
        print("The same words without punctuation and capitals.")
        faults = table(stripped=True).faults
    for fault in faults[: given.faults]:
        print(fault)


if __name__ == "__main__":
    main()
