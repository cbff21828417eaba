"""Nothing leaves the machine: the guard that holds for the whole run refuses, and a draft does without."""

from __future__ import annotations

import socket
import subprocess
import sys
import urllib.request
from collections.abc import Callable
from pathlib import Path

import pytest
from network_guard import NetworkRefused

ELSEWHERE = "192.0.2.1"
"""An address that belongs to no machine (RFC 5737, TEST-NET-1)."""


def _connect() -> None:
    with socket.socket() as sock:
        sock.connect((ELSEWHERE, 80))


def _connect_ex() -> None:
    with socket.socket() as sock:
        sock.connect_ex((ELSEWHERE, 80))


def _connect_v6() -> None:
    with socket.socket(socket.AF_INET6) as sock:
        sock.connect(("2001:db8::1", 80))


def _datagram() -> None:
    with socket.socket(type=socket.SOCK_DGRAM) as sock:
        sock.sendto(b"x", (ELSEWHERE, 53))


WAYS_OUT: list[Callable[[], object]] = [
    _connect,
    _connect_ex,
    _connect_v6,
    _datagram,
    lambda: socket.create_connection((ELSEWHERE, 80), timeout=1),
    lambda: socket.getaddrinfo("example.org", 80),
    lambda: socket.gethostbyname("example.org"),
]


@pytest.mark.parametrize("leave", WAYS_OUT)
def test_every_way_off_the_machine_is_refused(leave: Callable[[], object], attempts: list[str]) -> None:
    with pytest.raises(NetworkRefused):
        leave()
    assert len(attempts) == 1
    attempts.clear()


def test_a_library_that_swallows_the_refusal_is_found_out_all_the_same(attempts: list[str]) -> None:
    with pytest.raises(OSError, match=r"example\.org"):
        urllib.request.urlopen("http://example.org/", timeout=1)
    assert attempts == ["socket.getaddrinfo 'example.org'"]
    attempts.clear()


def test_the_machine_itself_can_be_reached(attempts: list[str]) -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
        socket.create_connection(("localhost", port), timeout=5).close()
        socket.create_connection(("127.0.0.1", port), timeout=5).close()
    assert attempts == []


def test_child_processes_are_refused_too() -> None:
    code = f"import socket; socket.socket().connect(({ELSEWHERE!r}, 80))"
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert result.returncode == 1
    assert "NetworkRefused" in result.stderr


def test_a_text_is_drafted_in_a_child_that_cannot_leave_the_machine(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_text("Right wrist, no swelling.", encoding="utf-8")
    command = [
        sys.executable,
        "-m",
        "dictation",
        "draft",
        str(tmp_path / "a.txt"),
        "--out-dir",
        str(tmp_path),
    ]
    result = subprocess.run(command, capture_output=True, text=True, check=False, cwd=Path(__file__).parents[1])
    assert result.returncode == 0, result.stderr
    assert (tmp_path / "a.draft.json").is_file()


@pytest.mark.filterwarnings("ignore::UserWarning")  # the library warns of an option of its own
def test_weights_that_cannot_be_fetched_are_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, attempts: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    from dictation.cli import main

    monkeypatch.setenv("DICTATION_DATA_FOLDER", str(tmp_path))
    monkeypatch.setenv("HF_HUB_DISABLE_PROGRESS_BARS", "1")
    with pytest.raises(SystemExit) as caught:
        main(["fetch-whisper", "tiny.en", "--yes"])
    assert caught.value.code == 5
    assert "could not be fetched" in capsys.readouterr().err
    assert attempts, "the only command that uses the network did not try to"
    attempts.clear()
    assert not (tmp_path / "whisper-in-use.txt").exists()
