"""How long the note and every export take, of a record of 200 invented fields.

``python -m tests.benchmarks.bench_exports``. Each format once, its libraries loaded with it, then the median of several;
processor time. ``--fields N`` for another size.
"""

from __future__ import annotations

import argparse
import itertools
import statistics
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from scripted import ENDING, SHIPPED, WHEN, Script, decide_all, in_memory

from dictation.exports.formats import FORMATS
from dictation.note.document import LENGTHS
from dictation.note.options import NoteOptions
from dictation.review.records import SignedRecord

ROUNDS = 7
ALL_BAR_MS, TEXT_BAR_MS = 1500.0, 20.0


def signed(fields: int) -> SignedRecord:
    """Return a signed record of so many fields over the whole lexicon: findings, tests, numbers, plans."""
    script = Script()
    for concept in itertools.cycle(SHIPPED.concepts.values()):
        number = len(script.fields)
        if number == fields:
            break
        side = {"side": ("right", "left")[number % 2]} if "side" in concept.takes else {}
        if concept.unit:
            value = float(concept.plausible[0] + 5) if concept.plausible else 3.0
            script.say(concept.id, "some words said", value=value, unit=concept.unit, **side)
        elif concept.statuses:
            script.say(concept.id, "some words said", status=concept.statuses[number % len(concept.statuses)], **side)
    review = in_memory(script, SHIPPED)
    decide_all(review)
    return review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING)


def milliseconds(name: str, record: SignedRecord, options: NoteOptions) -> float:
    """Return the processor time of one export."""
    began = time.process_time()
    FORMATS[name].write(record, SHIPPED, options)
    return 1000 * (time.process_time() - began)


def main() -> None:
    """Print first and median time of each format, and of the text of each length."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fields", type=int, default=200)
    record = signed(parser.parse_args().fields)
    options = NoteOptions()
    first = {name: milliseconds(name, record, options) for name in FORMATS}
    again = {
        name: statistics.median(milliseconds(name, record, options) for _ in range(ROUNDS)) for name in FORMATS
    }
    print(f"{len(record.complete.kept)} fields; ms of processor time")
    print(f"{'':<12}{'first':>8}{'median':>8}")
    for name in FORMATS:
        print(f"{name:<12}{first[name]:>8.0f}{again[name]:>8.0f}")
    print(f"{'all':<12}{sum(first.values()):>8.0f}{sum(again.values()):>8.0f}  (asked for: under {ALL_BAR_MS:.0f})")
    for length in LENGTHS:
        took = statistics.median(milliseconds("text", record, NoteOptions(length=length)) for _ in range(ROUNDS * 3))
        print(f"text, {length:<8} {took:>5.1f}  (asked for: under {TEXT_BAR_MS:.0f})")


if __name__ == "__main__":
    main()
