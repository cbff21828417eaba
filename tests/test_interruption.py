"""Ctrl-C at any point of a run: exit code 130, one line, and every draft in the folder a whole one.

Real processes, a real signal, the real pipeline. Each run is stopped at another point: after so many files
and so many milliseconds more.
"""

from __future__ import annotations

import contextlib
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from running import one_sentence

from dictation.interruption import Interrupted, interruptible, stop_if_pressed

FILES = 40
TEXT = (
    "Right wrist. No swelling, no redness. Tender over the lunate. Extension forty five. "
    "Phalen's test positive, Tinel's negative. Left hand normal. "
) * 5


def _child(folder: Path) -> subprocess.Popen[str]:
    names = [f"{number:02}.txt" for number in range(FILES)]
    for name in names:
        (folder / name).write_text(TEXT, encoding="utf-8")
    root = str(Path(__file__).parents[1])
    return subprocess.Popen(
        [sys.executable, "-m", "dictation", "draft", "--out-dir", "drafts", *names],
        cwd=folder,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join([root, os.environ["PYTHONPATH"]])},
    )


def _is_stopped(child: subprocess.Popen[str], folder: Path, drafted: int) -> None:
    out, err = child.communicate(timeout=60)
    assert child.returncode == 130, err
    one_sentence(err)
    assert err.rstrip().endswith("Stopped; nothing half-written is left behind.")
    left = sorted(path.name for path in (folder / "drafts").iterdir())
    assert drafted <= len(left) < FILES
    assert left == [f"{number:02}.draft.json" for number in range(len(left))]
    for name in left:
        assert json.loads((folder / "drafts" / name).read_text(encoding="utf-8"))["schema_version"]
    assert drafted + len(out.splitlines()) <= len(left)


@pytest.mark.parametrize(("drafted", "wait_ms"), [(0, 0), (0, 300), (1, 2), (3, 11), (5, 23)])
def test_ctrl_c_while_drafting_leaves_whole_drafts_alone(tmp_path: Path, drafted: int, wait_ms: int) -> None:
    child = _child(tmp_path)
    assert child.stdout is not None
    assert child.stderr is not None
    begun = child.stderr.readline()  # the program runs, the pipeline is still to be loaded
    assert begun == "Drafting 00.txt …\n"
    for _ in range(drafted):
        assert child.stdout.readline()
    time.sleep(wait_ms / 1000)
    child.send_signal(signal.SIGINT)
    _is_stopped(child, tmp_path, drafted)


def test_leaning_on_ctrl_c_disturbs_nothing(tmp_path: Path) -> None:
    child = _child(tmp_path)
    assert child.stdout is not None
    assert child.stdout.readline()
    for _ in range(20):
        child.send_signal(signal.SIGINT)
        time.sleep(0.002)
    _is_stopped(child, tmp_path, 1)


def test_a_second_press_counts_once_and_the_handler_before_comes_back() -> None:
    before = signal.getsignal(signal.SIGINT)
    with interruptible():
        assert signal.getsignal(signal.SIGINT) is not before
    assert signal.getsignal(signal.SIGINT) is before
    try:
        with interruptible():
            with pytest.raises(Interrupted):
                signal.raise_signal(signal.SIGINT)
            signal.raise_signal(signal.SIGINT)
        assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN
    finally:
        signal.signal(signal.SIGINT, before)


class PressedWhileDestroyed:
    def __del__(self) -> None:
        signal.raise_signal(signal.SIGINT)


def test_a_press_while_an_object_is_destroyed_is_not_lost() -> None:
    before = signal.getsignal(signal.SIGINT)
    try:
        with interruptible():
            PressedWhileDestroyed()
            with pytest.raises(Interrupted):
                time.sleep(5)
    finally:
        signal.signal(signal.SIGINT, before)


def test_where_ctrl_c_is_ignored_it_stays_so() -> None:
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        with interruptible():
            assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN
    finally:
        signal.signal(signal.SIGINT, before)


def test_a_press_that_a_library_swallows_stops_at_the_next_pause() -> None:
    stop_if_pressed()
    before = signal.getsignal(signal.SIGINT)
    try:
        with interruptible():
            stop_if_pressed()
            with contextlib.suppress(BaseException):
                signal.raise_signal(signal.SIGINT)
            with pytest.raises(Interrupted):
                stop_if_pressed()
        stop_if_pressed()
    finally:
        signal.signal(signal.SIGINT, before)
