"""Recordings in bulk: two workers against one, what each file costs besides its drafting, memory over a thousand files, resume.

    python -m tests.benchmarks.bench_bulk [--sounds N] [--texts N]

The gain of two workers is given twice. By the clock, which holds on a machine with nothing else to do; and by processor time:
all that one worker used, over what the busier of two used, which is what the clock would show there. Linux: reads /proc.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, replace
from pathlib import Path

from dictation.bulk import workers
from dictation.bulk.keeping import Keeping
from dictation.bulk.recordings import find_recordings
from dictation.bulk.run import Report, draft_all, find_todo
from dictation.bulk.work import How, Job, Outcome, checksum, draft_job, how_to_draft
from dictation.bulk.workers import Event, LocalWorkers
from dictation.settings import Settings, read_settings

ROOT = Path(__file__).parents[2]
TICKS = os.sysconf("SC_CLK_TCK")
TEXT = "Right wrist. No swelling, no redness. Extension {}. Phalen's test positive, Tinel's negative. Left hand normal."


def used_s(pid: int) -> float:
    """Return the processor time of a process."""
    found = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()
    return (int(found[11]) + int(found[12])) / TICKS


def held_mb(pid: int) -> float:
    """Return the memory that a process holds now."""
    return int(Path(f"/proc/{pid}/statm").read_text(encoding="ascii").split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6


@dataclass
class Run:
    """What one run took. workers_s: processor time of each worker, its loading included."""

    clock_s: float
    workers_s: list[float]
    texts: dict[str, str | None]


def drafted(jobs: list[Job], how: How, count: int) -> Run:
    """Draft all with so many workers."""
    began = time.perf_counter()
    texts = {}
    with LocalWorkers(how, count) as pool:
        for event in pool.run(jobs):
            if isinstance(event, Outcome):
                texts[event.name] = event.text
        used = [used_s(worker.process.pid or 0) for worker in pool._workers]
        return Run(time.perf_counter() - began, used, texts)


def gain(how: How, count: int) -> None:
    """Two workers against one, over the samples' sound; the first run of each is not counted, as it fills the caches."""
    paths = sorted((ROOT / "samples").glob("*.opus"))[:count]
    jobs = [Job(path.name, path, checksum(path)) for path in paths]
    drafted(jobs[:1], how, 1)
    load = os.getloadavg()[0]
    one, two = drafted(jobs, how, 1), drafted(jobs, how, 2)
    sound_s = sum(json.loads(text or "{}")["source"]["duration_s"] for text in one.texts.values())
    print(f"{len(jobs)} recordings, {sound_s / 60:.1f} minutes of sound, load average {load:.1f} before")
    print(f"  one worker   {one.clock_s:6.1f} s by the clock, {sum(one.workers_s):6.1f} s of processor time")
    parts = " + ".join(f"{used:.1f}" for used in two.workers_s)
    print(f"  two workers  {two.clock_s:6.1f} s by the clock, {parts} s of processor time")
    by_processor = sum(one.workers_s) / max(two.workers_s)
    print(f"  gain         {one.clock_s / two.clock_s:.2f} by the clock, {by_processor:.2f} by processor time")
    print(f"  the same drafts byte for byte: {one.texts == two.texts}")
    print(f"  sound a core-hour: {sound_s / sum(one.workers_s):.1f} hours")


def short_sound(how: How, folder: Path) -> None:
    """What a recording costs in a loaded worker beside its length: four seconds of one, against stretches of twelve."""
    from dictation.audio import read_audio
    from dictation.splitting.cutting import cut_apart, part_names
    from dictation.splitting.marks import Stretch

    source = ROOT / "samples" / "carpal_tunnel.opus"
    length_s = read_audio(source).duration_s
    stretches = [Stretch(0.0, 4.0), *(Stretch(at, at + 12.0) for at in range(4, int(length_s) - 12, 12))]
    cut_apart(source, stretches, folder)
    costs = []
    for name, stretch in zip(part_names(stretches), stretches, strict=True):
        job = Job(name, folder / name, checksum(folder / name))
        draft_job(job, how)
        began = time.process_time()
        draft_job(job, how)
        costs.append((stretch.end_s - stretch.start_s, time.process_time() - began))
    a_second = sum(cost for length, cost in costs[1:]) / sum(length for length, _ in costs[1:])
    length, cost = costs[0]
    print(f"a recording of {length:.0f} s in a loaded worker: {cost:.2f} s; of longer ones {a_second:.2f} s a second of sound")
    print(f"  so at most {max(0.0, cost - a_second * length):.2f} s beside its length")


def write_texts(folder: Path, count: int) -> None:
    """Write so many short dictations."""
    folder.mkdir()
    for number in range(count):
        (folder / f"{number:05}.txt").write_text(TEXT.format(number % 80), encoding="utf-8")


def many(how: How, settings: Settings, folder: Path, count: int) -> None:
    """A run over many short files in one worker that is not replaced: what each costs, and what memory does."""
    write_texts(folder / "in", count)
    workers.MOST_FILES = count + 1
    plain = [Job(path.name, path, checksum(path)) for path in sorted((folder / "in").iterdir())]
    draft_job(plain[0], how)
    began = time.process_time()
    for job in plain[:200]:
        draft_job(job, how)
    drafting_s = (time.process_time() - began) / 200
    report, memory = Report(), {}
    began = time.process_time()
    found = find_recordings([folder / "in"], folder / "out", ["*.txt"])
    with Keeping(folder / "out", settings) as keeping, LocalWorkers(how, 1) as pool:

        def tell(event: Event) -> None:
            done = len(report.rows)
            if isinstance(event, Outcome) and done in {count // 5, count}:
                pid = pool._workers[0].process.pid or 0
                memory[done] = (held_mb(pid), held_mb(os.getpid()), used_s(pid))

        draft_all(find_todo(found, how, keeping, report), pool, keeping, report, tell)
    ours_s = (time.process_time() - began) / count
    (first, last) = sorted(memory)
    worker_s = (memory[last][2] - memory[first][2]) / (last - first)
    besides_s = worker_s - drafting_s + ours_s
    print(f"{count} short files in one worker")
    print(f"  each: {1e3 * drafting_s:.1f} ms to draft, {1e3 * besides_s:.1f} ms besides (processor time)")
    for number in (first, last):
        print(f"  after {number:5}: worker {memory[number][0]:.0f} MB, program {memory[number][1]:.0f} MB")


def taken_in(how: How, settings: Settings, folder: Path) -> None:
    """What the store costs a draft: the same files taken in, by the clock, since what takes time is the disk."""
    found = find_recordings([folder / "in"], folder / "out", ["*.txt"])
    found.found[:] = found.found[:200]
    began = time.perf_counter()
    with Keeping(folder / "out", settings, "Dr A. Invented") as keeping:
        left = find_todo(found, how, keeping, report := Report())
    each_ms = 1e3 * (time.perf_counter() - began) / len(found.found)
    print(f"taken into the store: {len(report.skipped)} drafts, {each_ms:.1f} ms each by the clock ({len(left)} left)")


def resumed(folder: Path, count: int) -> None:
    """kill -9 in the middle of a run, then another run: how many recordings were drafted twice."""
    write_texts(folder / "in", count)
    command = [sys.executable, "-m", "dictation", "bulk", "in", "--out-dir", "out", "--pattern", "*.txt", "--workers", "2"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "XDG_DATA_HOME": str(folder)}
    child = subprocess.Popen(command, cwd=folder, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    out = folder / "out"
    while len(list(out.glob("*.json")) if out.exists() else []) < count // 3:
        time.sleep(0.005)
    child.kill()
    child.communicate()
    before = {path.name: path.stat().st_mtime_ns for path in out.glob("*.json")}
    subprocess.run(command, cwd=folder, env=environment, check=True, capture_output=True)
    again = [name for name, made in before.items() if (out / name).stat().st_mtime_ns != made]
    whole = len(list(out.glob("*.json")))
    print(f"kill -9 after {len(before)} of {count}: {len(again)} kept drafts made again, {whole} in the end")


def main() -> None:
    """Print all of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sounds", type=int, default=10)
    parser.add_argument("--texts", type=int, default=1000)
    args = parser.parse_args()
    settings = replace(read_settings(), personal_lexicon=None, whisper_model=None)
    how = how_to_draft("embedded", settings)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for part in ("many", "resumed"):
            (folder / part).mkdir()
        own = replace(settings, store_folder=folder / "store")
        many(how, own, folder / "many", args.texts)
        taken_in(how, own, folder / "many")
        resumed(folder / "resumed", 60)
        if args.sounds:
            short_sound(how, folder / "sound")
    if args.sounds:
        gain(how, args.sounds)


if __name__ == "__main__":
    main()
