"""Workers: killed, they lose nothing; kill -9 of a whole run repeats at most what was in flight; two give what one gives."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest

from dictation.bulk import workers
from dictation.bulk.work import Job, Outcome, checksum, how_to_draft
from dictation.bulk.workers import Begun, LocalWorkers
from dictation.settings import read_settings

TEXT = "Right wrist. No swelling, no redness. Extension {}. Phalen's test positive, Tinel's negative. Left hand normal. "
ROOT = Path(__file__).parents[2]
SETTINGS = replace(read_settings({}), personal_lexicon=None, whisper_model=None)


def _jobs(folder: Path, count: int) -> list[Job]:
    folder.mkdir(exist_ok=True)
    for number in range(count):
        (folder / f"{number:02}.txt").write_text(TEXT.format(number), encoding="utf-8")
    return [Job(path.name, path, checksum(path)) for path in sorted(folder.iterdir())]


def _drafted(jobs: list[Job], count: int) -> dict[str, str | None]:
    with LocalWorkers(how_to_draft("auto", SETTINGS), count) as pool:
        return {event.name: event.text for event in pool.run(jobs) if isinstance(event, Outcome)}


@pytest.mark.slow
def test_a_worker_killed_over_a_recording_loses_nothing_and_one_that_kills_every_worker_is_named(tmp_path: Path) -> None:
    jobs = _jobs(tmp_path, 4)
    expected, begun = {job.name for job in jobs}, list[str]()
    outcomes: dict[str, Outcome] = {}
    with LocalWorkers(how_to_draft("auto", SETTINGS), 2) as pool:
        for event in pool.run(jobs):
            if isinstance(event, Begun):
                begun.append(event.name)
                once = event.name == "01.txt" and begun.count("01.txt") == 1
                if once or event.name == "00.txt":  # the worker still loads what it needs, so it dies over this recording
                    (worker,) = [one for one in pool._workers if one.job is not None and one.job.name == event.name]
                    assert worker.process.pid is not None
                    os.kill(worker.process.pid, signal.SIGKILL)
            elif isinstance(event, Outcome):
                outcomes[event.name] = event
        left = [worker.process for worker in pool._workers]
    assert set(outcomes) == expected
    assert [name for name, one in sorted(outcomes.items()) if one.error is not None] == ["00.txt"]
    assert "the worker died over it 2 times" in str(outcomes["00.txt"].error)
    assert begun.count("00.txt") == begun.count("01.txt") == workers.TRIES
    assert not any(process.is_alive() for process in left)


@pytest.mark.slow
def test_two_workers_give_byte_for_byte_what_one_gives_and_fresh_ones_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    jobs = _jobs(tmp_path, 12)
    sounds = sorted((ROOT / "samples").glob("*.opus"))[:2]
    jobs += [Job(path.name, path, checksum(path)) for path in sounds]
    one = _drafted(jobs, 1)
    assert len(one) == 14
    assert all(one.values())
    assert _drafted(jobs, 2) == one
    monkeypatch.setattr(workers, "MOST_FILES", 2)  # a worker is ended after two
    assert _drafted(jobs[6:], 2) == {name: text for name, text in one.items() if name not in {job.name for job in jobs[:6]}}


def _started(folder: Path, *more: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "dictation", "bulk", "in", "--out-dir", "out", "--pattern", "*.txt", "--workers", "2", *more],
        cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")]),
             "XDG_DATA_HOME": str(folder)},
    )  # fmt: skip


def _made(folder: Path) -> dict[str, int]:
    return {path.name: path.stat().st_mtime_ns for path in (folder / "out").glob("*.json")}


def _children(pid: int) -> list[int]:
    found = Path(f"/proc/{pid}/task/{pid}/children")
    return [int(one) for one in found.read_text().split()] if found.exists() else []


def test_after_kill_9_the_next_run_goes_on_where_it_stopped(tmp_path: Path) -> None:
    count = len(_jobs(tmp_path / "in", 40))
    child = _started(tmp_path)
    deadline = time.monotonic() + 60
    while len(_made(tmp_path)) < 3:
        assert child.poll() is None, child.communicate()
        assert time.monotonic() < deadline
        time.sleep(0.005)
    pool = _children(child.pid)
    child.kill()
    child.communicate()
    before = _made(tmp_path)
    assert 3 <= len(before) < count
    while any(Path(f"/proc/{pid}").exists() for pid in pool):  # workers whose program is gone end themselves
        assert time.monotonic() < deadline
        time.sleep(0.02)
    assert _made(tmp_path) == before
    again = _started(tmp_path)
    out, err = again.communicate(timeout=120)
    assert again.returncode == 0, err
    assert f"{count - len(before)} drafted, {len(before)} drafted before" in out  # nothing that was kept is repeated
    after = _made(tmp_path)
    assert len(after) == count
    assert {name: after[name] for name in before} == before


@pytest.mark.slow
def test_ctrl_c_ends_a_watched_folder_with_its_table(tmp_path: Path) -> None:
    _jobs(tmp_path / "in", 2)
    child = _started(tmp_path, "--watch")
    assert child.stderr is not None
    lines = []
    while not lines or not lines[-1].startswith("Watching"):
        lines.append(child.stderr.readline())
        assert lines[-1], lines
    child.send_signal(signal.SIGINT)
    out, err = child.communicate(timeout=30)
    assert child.returncode == 130
    assert "Traceback" not in err
    assert [line.split()[0] for line in out.splitlines()[:3]] == ["file", "00.txt", "01.txt"]
