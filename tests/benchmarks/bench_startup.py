"""How long a person waits: ``--help`` against a bare ``import click``, and a draft from text once loaded.

``python -m tests.benchmarks.bench_startup``. Medians; fresh processes taken in turn, so that a busy machine
slows all alike.
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import time
from pathlib import Path

from tests.scoring import read_cases

SAMPLES = Path(__file__).parents[2] / "samples"
ROUNDS = 15
PROCESSES = {
    "bare Python": ["-c", "pass"],
    "import click": ["-c", "import click"],
    "dictation --help": ["-m", "dictation", "--help"],
}


def processor_ms(arguments: list[str]) -> float:
    """Return the processor time of one fresh process, in milliseconds: steadier than the clock."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, *arguments], stdout=subprocess.DEVNULL, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return 1000 * (after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)


def main() -> None:
    rounds = [{name: processor_ms(arguments) for name, arguments in PROCESSES.items()} for _ in range(ROUNDS)]
    medians = {name: statistics.median(r[name] for r in rounds) for name in PROCESSES}
    for name, median in medians.items():
        print(f"{name:28} {median:6.0f} ms of processor time, median of {ROUNDS}")
    ratio = medians["dictation --help"] / medians["import click"]
    print(f"{'--help : import click':28} {ratio:6.2f} (must be under 3)")

    began = time.process_time()
    from dictation import draft_from_text

    texts = [case["text"] for case in read_cases(SAMPLES / "expected.jsonl")]
    draft_from_text(texts[0])
    print(f"{'first draft, loading all':28} {1000 * (time.process_time() - began):6.0f} ms")
    took = []
    for text in texts * 5:
        began = time.process_time()
        draft_from_text(text)
        took.append(1000 * (time.process_time() - began))
    words = statistics.mean(len(text.split()) for text in texts)
    print(
        f"{'draft from text, loaded':28} {statistics.median(took):6.1f} ms median, {max(took):.1f} longest; "
        f"{words:.0f} words on average (must be under 50 ms)"
    )


if __name__ == "__main__":
    main()
