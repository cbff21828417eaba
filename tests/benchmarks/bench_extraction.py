"""How long a draft of typed words takes once loaded, and how that grows: ``python -m tests.benchmarks.bench_extraction``.

Words are those of the tuning phrases, the same ones again and again, with punctuation and bare. Growth is time a word at the
longest against the shortest: 1.0 is linear. Odd text (one word repeated, no words, letters of other scripts) is timed at two
lengths in the same way. ``--longest N`` sets the most words, for a slow machine. Processor time, medians.
"""

from __future__ import annotations

import argparse
import statistics
import time
from pathlib import Path

from dictation import draft_from_text
from tests.benchmarks.bench_text import bare
from tests.scoring import read_cases

TABLE = Path(__file__).parents[1] / "cases" / "phrases_tuning.jsonl"
LENGTHS = (200, 2_000, 20_000)
TO_REACH_MS, GROWTH = 20, 2.5
"""For 200 words; and the growth of odd text that a busy machine may show: where time went with the square, it would be 8."""
ODD = {
    "one side": "left ", "one denial": "no ", "digits": "5 ", "links": "to ", "spelled": "m c p ", "grades": "4+/5 ",
    "headings": "left: ", "copies": "same on the right. ", "taken back": "scratch that ", "one sentence": "no swelling or ",
    "commas": "left wrist tender, ", "other scripts": "한글 三 ", "signs": "… ", "hyphens": "- ", "over the": "over the ",
}  # fmt: skip


def sentences() -> list[str]:
    """Return the words of the tuning phrases, each phrase a sentence."""
    texts = [case["text"].rstrip() for case in read_cases(TABLE)]
    return " ".join(text if text[-1] in ".?!" else f"{text}." for text in texts).split()


def seconds(text: str, times: int) -> float:
    """Return the median processor time of a draft."""
    took = []
    for _ in range(times):
        start = time.process_time()
        draft_from_text(text)
        took.append(time.process_time() - start)
    return statistics.median(took)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--longest", type=int, default=LENGTHS[-1], metavar="N")
    longest = parser.parse_args().longest
    lengths = [n for n in LENGTHS if n < longest] + [longest]
    words = sentences()[: LENGTHS[1]]
    draft_from_text(" ".join(words))  # what is compiled once
    for name, plain in (("with punctuation", False), ("bare", True)):
        took = {}
        for count in lengths:
            text = " ".join((words * (count // len(words) + 1))[:count])
            took[count] = seconds(bare(text) if plain else text, times=25 if count < 1_000 else 3)
        growth = took[longest] / took[lengths[0]] / (longest / lengths[0])
        first = 1000 * took[lengths[0]]
        print(f"{name:18}", "  ".join(f"{n} words {1000 * s:8.1f} ms" for n, s in took.items()), f"  growth {growth:.2f}")
        print(f"{'':18} {lengths[0]} words {'reach' if first < TO_REACH_MS else 'do not reach'} {TO_REACH_MS} ms")
    for name, said in ODD.items():
        short, long = (said * (n // len(said)) for n in (5_000, 40_000))
        growth = seconds(long, 1) / max(seconds(short, 3), 1e-4) / (len(long) / len(short))
        print(
            f"{name:18} {len(long)} characters  growth {growth:.2f}{'' if growth < GROWTH else '  MORE THAN LINEAR'}",
            flush=True,
        )


if __name__ == "__main__":
    main()
