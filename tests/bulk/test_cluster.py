"""A real Dask cluster of two worker processes on this machine: the drafts of a local run, also when a worker is killed."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from dictation.bulk.cluster import ClusterWorkers, check_address
from dictation.bulk.work import how_to_draft
from dictation.errors import ClusterUnavailable
from dictation.settings import read_settings

ROOT = Path(__file__).parents[2]
CLUSTER = """
import sys
from distributed import Client, LocalCluster
if __name__ == "__main__":
    with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, memory_limit=0) as cluster:
        with Client(cluster) as client:
            pids = client.run(__import__("os").getpid).values()
        print(cluster.scheduler_address, *pids, flush=True)
        sys.stdin.read()
"""


def _environment(folder: Path) -> dict[str, str]:
    paths = os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])
    return {**os.environ, "PYTHONPATH": paths, "XDG_DATA_HOME": str(folder / "data"), "DASK_TEMPORARY_DIRECTORY": str(folder)}


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[tuple[str, list[int]]]:
    """The address of a scheduler, and the processes of its two workers."""
    (tmp_path / "cluster.py").write_text(CLUSTER, encoding="utf-8")
    child = subprocess.Popen(
        [sys.executable, "cluster.py"], cwd=tmp_path, env=_environment(tmp_path), text=True,
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    assert child.stdout is not None
    address, *pids = child.stdout.readline().split()
    yield address, [int(pid) for pid in pids]
    child.communicate("", timeout=60)


def _bulk(folder: Path, out: str, *more: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "dictation", "bulk", "in", "--out-dir", out, "--pattern", "*.txt", "--pattern", "*.opus", *more],
        cwd=folder, env=_environment(folder), text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip


def _drafts(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.glob("*.json")}


@pytest.mark.slow
def test_a_cluster_gives_byte_for_byte_the_drafts_of_a_local_run_though_a_worker_is_killed(
    tmp_path: Path, cluster: tuple[str, list[int]]
) -> None:
    address, pids = cluster
    (tmp_path / "in").mkdir()
    for number in range(40):
        text = f"Right wrist. No swelling. Extension {number}. Phalen's test positive. " * 10
        (tmp_path / "in" / f"{number:02}.txt").write_text(text, encoding="utf-8")
    (tmp_path / "in" / "sound.opus").write_bytes((ROOT / "samples" / "dupuytren_clinic.opus").read_bytes())
    (tmp_path / "in" / "bad.txt").write_bytes(b"\xff\xfe")
    local = _bulk(tmp_path, "local", "--workers", "1")
    _, err = local.communicate(timeout=300)
    assert local.returncode == 3, err
    remote = _bulk(tmp_path, "remote", "--scheduler", address, "--send")
    while len(_drafts(tmp_path / "remote")) < 5:
        assert remote.poll() is None, remote.communicate()
        time.sleep(0.01)
    os.kill(pids[0], signal.SIGKILL)
    out, err = remote.communicate(timeout=300)
    assert remote.returncode == 3, err
    assert "1 not drafted" in err
    assert "Traceback" not in err
    assert "41 drafted" in out
    drafts = _drafts(tmp_path / "local")
    assert len(drafts) == 41
    assert _drafts(tmp_path / "remote") == drafts
    with contextlib.suppress(ProcessLookupError):
        os.kill(pids[0], 0)
        pytest.fail("the worker was not killed")
    shared = _bulk(tmp_path, "shared", "--scheduler", address)  # by paths that both can reach
    shared.communicate(timeout=300)
    assert _drafts(tmp_path / "shared") == drafts


@pytest.mark.parametrize("address", ["nonsense", "http://x:1", "tcp://", "tls://machine", "tcp://x:port"])
def test_an_address_that_is_none_is_one_sentence(address: str) -> None:
    with pytest.raises(ClusterUnavailable, match="give it as tls"):
        check_address(address)


def test_speech_goes_over_no_network_unencrypted() -> None:
    for address in ("tcp://192.0.2.7:8786", "tcp://scheduler:8786"):
        with pytest.raises(ClusterUnavailable, match="unencrypted"):
            check_address(address)
    for address in ("tls://scheduler:8786", "tcp://127.0.0.1:8786", "tcp://localhost:1", "tcp://[::1]:8786"):
        check_address(address)


def test_what_is_not_installed_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    how = how_to_draft("embedded", replace(read_settings({}), personal_lexicon=None))
    with pytest.raises(ClusterUnavailable, match="extra cluster"):
        ClusterWorkers(how, "tcp://127.0.0.1:9")


@pytest.mark.slow
def test_a_scheduler_out_of_reach_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    child = _bulk(tmp_path, "out", "--scheduler", "tcp://127.0.0.1:9")
    _, err = child.communicate(timeout=120)
    assert child.returncode == 5, err
    assert "cannot be reached" in err
    assert "Traceback" not in err
