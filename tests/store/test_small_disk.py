"""A small file system that really fills up: what was acknowledged is there, and the review goes on once there is room.

In a mount namespace of its own, so that nothing of the machine is touched; skipped where the machine allows none.
"""

from __future__ import annotations

import ctypes
import os
import shutil
import traceback
from collections.abc import Callable
from pathlib import Path

import pytest
from scripted import WHEN, WHO, again, invented_examination

from dictation.errors import OutputError
from dictation.review.opening import check_encounter
from dictation.store.store import open_store
from dictation.store.verifying import verify_store

NEW_NAMESPACES = 0x10000000 | 0x00020000
"""CLONE_NEWUSER and CLONE_NEWNS of Linux's sched.h."""

SIZE = "700k"


class _NotAllowed(Exception):
    """The machine allows no file system to be mounted."""


def _mount(folder: Path) -> None:
    libc = ctypes.CDLL(None, use_errno=True)
    user, group = os.getuid(), os.getgid()
    if libc.unshare(NEW_NAMESPACES):
        raise _NotAllowed(os.strerror(ctypes.get_errno()))
    try:
        Path("/proc/self/setgroups").write_text("deny")
        Path("/proc/self/uid_map").write_text(f"0 {user} 1")
        Path("/proc/self/gid_map").write_text(f"0 {group} 1")
    except OSError as err:
        raise _NotAllowed(str(err)) from err
    if libc.mount(b"tmpfs", str(folder).encode(), b"tmpfs", 0, f"size={SIZE}".encode()):
        raise _NotAllowed(os.strerror(ctypes.get_errno()))


def _in_child(work: Callable[[], None]) -> str:
    """Run in a fork; return "done", "skip" and why, or the traceback."""
    hears, says = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            work()
            os.write(says, b"done")
        except _NotAllowed as err:
            os.write(says, f"skip {err}".encode())
        except BaseException:
            os.write(says, traceback.format_exc().encode()[-4000:])
        finally:
            os._exit(0)
    os.close(says)
    said = b""
    while more := os.read(hears, 4096):
        said += more
    os.close(hears)
    os.waitpid(child, 0)
    return said.decode()


def _fill_and_go_on(folder: Path) -> None:
    _mount(folder)
    ballast = folder / "ballast"
    store = open_store(folder / "store")
    review = invented_examination().take(store)
    ballast.write_bytes(bytes(shutil.disk_usage(folder).free - 100_000))
    kept, said = list[str](), list[str]()
    for name in review.state.pending:
        try:
            review.reject(name, f"{name} " * 15_000, WHO, WHEN)
            kept.append(name)
        except OutputError as err:
            said.append(str(err))
    assert said
    assert all("disk is full" in one and "f1 f1" not in one for one in said)
    assert [name for name, one in again(review).state.fields.items() if one.state == "rejected"] == kept
    ballast.unlink()
    review.confirm("f8", WHO, WHEN)
    later = again(review)
    assert later.state.fields["f8"].state == "confirmed"
    assert [name for name, one in later.state.fields.items() if one.state == "rejected"] == kept
    assert verify_store(store, check_encounter).faults == []


def test_a_file_system_that_fills_up_loses_nothing_acknowledged(tmp_path: Path) -> None:
    said = _in_child(lambda: _fill_and_go_on(tmp_path))
    if said.startswith("skip"):
        pytest.skip(f"no file system can be mounted here: {said[5:]}")
    assert said == "done"
