"""A real PostgreSQL server for tests: from the system's packages, in a folder of its own, by a user without rights, on a
socket that no network reaches; gone at the end.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote

import pytest

NOBODY = 65534
OPTIONS = "-c listen_addresses= -c fsync=off -c max_connections=60"
"""fsync off: the tests kill writers, never the server or the machine."""


def missing() -> str | None:
    """Return why no server can be started here, None where one can."""
    if _program("initdb") is None:
        return "PostgreSQL is not installed (apt-get install postgresql); .ci/run installs it"
    try:
        import psycopg  # noqa: F401
    except ImportError:
        return "psycopg, of the extra postgresql, is not installed"
    return None


@pytest.fixture(scope="session")
def server() -> Iterator[Path]:
    """The folder of a server's socket; skips, saying why, where none can be started."""
    if why := missing():
        pytest.skip(why)
    with running_server() as socket:
        yield socket


def _program(name: str) -> Path | None:
    found = [Path(p) for p in [shutil.which(name)] if p]
    found += sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), reverse=True)
    return found[0] if found else None


@contextlib.contextmanager
def running_server() -> Iterator[Path]:
    """Give the folder of a server's socket; the server runs until the end."""
    folder = Path(tempfile.mkdtemp(prefix="pg"))  # a short path: that of a socket has 107 bytes at most
    owner = NOBODY if os.geteuid() == 0 else os.geteuid()  # a server refuses to run as root
    try:
        os.chown(folder, owner, -1)
        data = folder / "data"
        _run(owner, folder, "initdb", "-D", data, "-U", "dictation", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync")
        _run(owner, folder, "pg_ctl", "start", "-w", "-D", data, "-l", folder / "log", "-o", f"{OPTIONS} -k {folder}")
        try:
            yield folder
        finally:
            _run(owner, folder, "pg_ctl", "stop", "-w", "-m", "immediate", "-D", data)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _run(owner: int, folder: Path, name: str, *args: object) -> None:
    program = _program(name)
    assert program is not None, name
    change = {"user": owner, "group": owner, "extra_groups": []} if os.geteuid() == 0 else {}
    done = subprocess.run(
        [program, *map(str, args)], cwd=folder, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        timeout=120, check=False, **change,  # type: ignore[call-overload]
    )  # fmt: skip
    assert done.returncode == 0, f"{name} failed; see {folder}"


def url_of(socket: Path, schema: str) -> str:
    """Return the address of an empty place in the server that is made for it, where it is not there yet.

    Waits for what a writer that was killed had sent last: the server finishes that.
    """
    import psycopg

    with psycopg.connect(host=str(socket), user="dictation", dbname="postgres", autocommit=True) as connection:
        connection.execute(f'CREATE SCHEMA IF NOT EXISTS "{schema}"')
        busy = "SELECT count(*) FROM pg_stat_activity WHERE application_name = %s AND state <> 'idle'"
        deadline = time.monotonic() + 30
        while connection.execute(busy, [schema]).fetchone() != (0,):
            assert time.monotonic() < deadline
            time.sleep(0.005)
    options = quote(f"-csearch_path={schema}")
    return f"postgresql://dictation@/postgres?host={quote(str(socket), safe='')}&application_name={schema}&options={options}"
