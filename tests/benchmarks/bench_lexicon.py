"""How long compiling the lexicon takes: each use, cold and from the cache folder; and a clinic's own file of many terms.

``python -m tests.benchmarks.bench_lexicon``. Processor time; medians over fresh processes, so that nothing is in memory.
Importing the program and its libraries is not counted: every command pays it, whatever the lexicon.
"""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROUNDS = 5
OWN_TERMS = 10_000
OURS = "lexicon, read and checked"
BARS = {"cold": 3000.0, "cached": 50.0}


def own_terms(count: int) -> str:
    """Return a clinic's own file of so many invented tests, each with a name of its own."""
    first, second = ("ba", "do", "fe", "gi", "ku", "la", "me", "no", "pi", "ru"), ("ston", "well", "mer", "ling", "by", "ford")
    entries = []
    for n in range(count):
        digits = [int(c) for c in f"{n:05d}"]
        name = "".join(first[d] for d in digits[:4]) + second[n % 6] + first[digits[4]]
        entries.append(
            f'  - id: own_{n}\n    preferred: "{name.capitalize()} test"\n    kind: test\n    part: special_tests\n'
            "    takes: [side, status]\n    statuses: [positive, negative, not_assessed]\n"
        )
    return "concepts:\n" + "".join(entries)


def measure(cache: Path, own: Path | None) -> dict[str, float]:
    """Return use -> milliseconds of processor time in this process."""
    import dictation.correction.correct as correction
    import dictation.extraction.extract as extraction
    from dictation.completeness.not_mentioned import complete_examination
    from dictation.lexicon.bias import bias_words
    from dictation.lexicon.loading import load_lexicon
    from dictation.lexicon.vocabulary import compile_vocabulary
    from dictation.note.wording import note_wording
    from dictation.recognition.stock import stock
    from dictation.sounds import Sounds

    took: dict[str, float] = {}

    def timed(use: str, work: object) -> object:
        began = time.process_time()
        value = work()  # type: ignore[operator]
        took[use] = 1000 * (time.process_time() - began)
        return value

    lexicon = timed(OURS, lambda: load_lexicon(own, cache=cache))
    timed("recogniser dictionary and model", lambda: compile_vocabulary(lexicon, Sounds(lexicon).pronounce, stock()))
    timed("bias words", lambda: bias_words(lexicon))
    timed("phonetic index", lambda: correction.corrector_for(lexicon))
    timed("spaCy matchers", lambda: extraction.readers(lexicon))
    timed("note wording", lambda: note_wording(lexicon))
    timed("complete examination", lambda: complete_examination(lexicon))
    took["all"] = sum(took.values())
    from dictation.pipeline import draft

    draft_text(draft, lexicon, took)
    return took


def draft_text(draft: object, lexicon: object, took: dict[str, float]) -> None:
    """Time the first draft, which reads what the compiled uses leave until it is asked for."""
    from dictation.pipeline import _source
    from dictation.transcript import read_text

    text = (Path(__file__).parents[2] / "samples" / "carpal_tunnel.txt").read_text(encoding="utf-8")
    began = time.process_time()
    draft(read_text(text), _source(lexicon, "text", "0" * 64, None, "text", None), lexicon)  # type: ignore
    took["a first draft from text"] = 1000 * (time.process_time() - began)


def fresh(cache: Path, own: Path | None) -> dict[str, float]:
    arguments = [sys.executable, "-m", "tests.benchmarks.bench_lexicon", str(cache), *([str(own)] if own else [])]
    found: dict[str, float] = json.loads(subprocess.run(arguments, capture_output=True, check=True, text=True).stdout)
    return found


def show(name: str, own: Path | None, rounds: int, folder: Path, *, judged: bool) -> None:
    runs: dict[str, list[dict[str, float]]] = {"cold": [], "cached": []}
    for n in range(rounds):
        cache = folder / f"{name.split()[0]}-{n}"
        runs["cold"].append(fresh(cache, own))
        runs["cached"].append(fresh(cache, own))
    print(f"{name}, medians of {rounds}, milliseconds of processor time{'cold':>12}{'cached':>10}")
    for use in runs["cold"][0]:
        cold, cached = (statistics.median(run[use] for run in runs[kind]) for kind in runs)
        bar = f"   (to be under {BARS['cold']:.0f} and {BARS['cached']:.0f})" if judged and use == "all" else ""
        print(f"  {use:60}{cold:12.1f}{cached:10.1f}{bar}")


def main() -> None:
    if len(sys.argv) > 1:
        print(json.dumps(measure(Path(sys.argv[1]), Path(sys.argv[2]) if len(sys.argv) > 2 else None)))
        return
    with tempfile.TemporaryDirectory() as folder:
        show("The shipped lexicon", None, ROUNDS, Path(folder), judged=True)
        own = Path(folder) / "own.yaml"
        own.write_text(own_terms(OWN_TERMS), encoding="utf-8")
        show(f"With {OWN_TERMS} terms of a clinic's own", own, 1, Path(folder), judged=False)


if __name__ == "__main__":
    main()
