"""How fast a store of 10,000 encounters lists, opens and keeps a decision, and a record of 2,000 fields is decided and signed:
`python -m tests.benchmarks.bench_store`.

Invented encounters with one draft each, made in a temporary folder. Bounds asked for: the list in under 0.2 s, one encounter
opened in under 0.1 s; wall time, median and slowest of nine. Every decision is forced to disk, which the figures include.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import tempfile
import time
import uuid
from collections.abc import Callable
from pathlib import Path

from sqlalchemy import insert

sys.path.insert(0, str(Path(__file__).parents[1]))

from scripted import ENDING, LEXICON, WHEN, WHO, Script, again, invented_examination, word

from dictation.review.opening import open_review
from dictation.review.rules import Review
from dictation.store import schema
from dictation.store.engine import writing
from dictation.store.facts import OPENED, TAKEN
from dictation.store.journal import FIRST, Step, digest, write_lines
from dictation.store.store import Store, add_encounter, add_lines, count_up, open_store

BOUNDS_S = {"list": 0.2, "open": 0.1}


def fill(store: Store, count: int) -> None:
    """Put so many encounters into a store, in one transaction."""
    content = invented_examination().draft().model_dump_json().encode()
    sha256 = digest(content.decode())
    taken = Step(TAKEN, after={"draft": sha256, "recording": "0" * 64, "name": "a.wav", "spoken": False})
    with writing(store.engine, store.name) as connection:
        for number in range(count):
            id_, reference = uuid.uuid4().hex, f"H-{number:06}"
            opened = Step(OPENED, after={"encounter": id_, "reference": reference, "details": {}})
            lines = write_lines([opened, taken], WHO, WHEN, FIRST)
            add_encounter(connection, id_, reference, lines[:1], WHO, WHEN)
            add_lines(connection, id_, lines[1:], 1)
            connection.execute(insert(schema.draft).values(encounter=id_, sha256=sha256, content=content))
            count_up(connection, id_, [taken], WHEN)


def timed(act: Callable[[], object], times: int = 9) -> list[float]:
    """Return the seconds that an act takes, each time."""
    found = []
    for _ in range(times):
        start = time.perf_counter()
        act()
        found.append(time.perf_counter() - start)
    return found


def many_fields(count: int) -> None:
    """Decide each field of a large record singly, sign it and open it again; print how long each took."""
    script = Script()
    for number in range(count):
        script.say("wrist_extension", "said", side="right", value=float(number % 80), unit="deg", occasion=f"visit {number}")
    with tempfile.TemporaryDirectory() as folder:
        store = open_store(Path(folder))
        review = script.take(store)
        names = review.state.pending
        each = [timed(lambda name=name: review.confirm(name, WHO, WHEN), 1)[0] for name in names]  # type: ignore[misc]
        signed = timed(lambda: review.sign(WHO, "Hand surgeon", WHEN, ending=ENDING), 1)[0]
        opened = timed(lambda: again(review), 1)[0]
        store.close()
    first, last = (statistics.median(part) for part in (each[:100], each[-100:]))
    print(f"{count} fields: a decision {first:.4f} s among the first hundred, {last:.4f} s among the last")
    print(f"{count} fields: all decided in {sum(each):.1f} s, signed in {signed:.2f} s, opened again in {opened:.2f} s")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--encounters", type=int, default=10_000)
    parser.add_argument("--fields", type=int, default=2_000)
    asked = parser.parse_args()
    count = asked.encounters
    many_fields(asked.fields)
    with tempfile.TemporaryDirectory() as folder:
        start = time.perf_counter()
        store = open_store(Path(folder))
        fill(store, count)
        print(f"{count} encounters made in {time.perf_counter() - start:.1f} s, {size_mb(Path(folder)):.0f} MB")
        store.encounters()

        def opened() -> Review:
            encounter = store.encounter(f"H-{count // 2:06}")
            return open_review(encounter, next(iter(encounter.facts.drafts)), LEXICON, word)

        review = opened()

        def decide() -> None:
            review.confirm("f2", WHO, WHEN)
            review.undo(WHO, WHEN)

        figures = {"list": timed(store.encounters), "open": timed(opened), "two decisions": timed(decide)}
        store.close()
    missed = 0
    for name, seconds in figures.items():
        bound = BOUNDS_S.get(name)
        late = bound is not None and statistics.median(seconds) > bound
        missed += late
        asked = f"  (asked for: {bound} s{', MISSED' if late else ''})" if bound else ""
        print(f"{name:<14} median {statistics.median(seconds):.3f} s, slowest {max(seconds):.3f} s{asked}")
    return 1 if missed else 0


def size_mb(folder: Path) -> float:
    """Return the megabytes in a folder."""
    return sum(path.stat().st_size for path in folder.rglob("*") if path.is_file()) / 1e6


if __name__ == "__main__":
    sys.exit(main())
