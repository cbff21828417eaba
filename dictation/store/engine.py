"""The connection to the database, and the sentence for every way that it can fail.

SQLite: write-ahead log, every commit forced to disk, foreign keys on, what is deleted overwritten, files for their owner
alone. What is particular to PostgreSQL is in postgresql.py. Imports that, errors, writing.
"""

from __future__ import annotations

import contextlib
import errno
import os
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Engine, create_engine, event, exc, make_url

from dictation.errors import StoreError
from dictation.store import postgresql
from dictation.writing import output_error

if TYPE_CHECKING:
    from sqlalchemy import Connection
    from sqlalchemy.engine.interfaces import DBAPIConnection

NO_ADDRESS = "The store's address is not a database that can be used; correct the setting, as in postgresql://server/database."

WAIT_MS = 5000
"""How long a write waits for another program that holds the store."""

PRAGMAS = (
    "journal_mode=WAL", "synchronous=FULL", "fullfsync=ON", "foreign_keys=ON", "secure_delete=ON", "trusted_schema=OFF",
)  # fmt: skip

_FULL, _READ_ONLY, _IO, _CANNOT_OPEN = 13, 8, 10, 14
_BUSY = {5, 6}
_DAMAGED = {11, 26}
"""Primary result codes of SQLite, by its documentation, "Result and error codes"."""


def make_engine(url: str) -> Engine:
    """Return the engine for a database URL, of SQLite or PostgreSQL. Connects to nothing yet.

    Raises StoreError for a URL that is none of these, or where the driver is not installed.
    """
    try:
        parsed = make_url(url)
        kind = parsed.get_backend_name()
        if kind not in {"sqlite", "postgresql"}:
            raise StoreError(NO_ADDRESS)
        if kind == "postgresql":
            engine = create_engine(postgresql.with_driver(parsed), hide_parameters=True, max_overflow=-1, pool_pre_ping=True)
        else:
            engine = create_engine(parsed, hide_parameters=True)
    except ImportError as err:
        raise StoreError(postgresql.NO_DRIVER) from err
    except (exc.ArgumentError, exc.NoSuchModuleError, ValueError) as err:
        raise StoreError(NO_ADDRESS) from err
    event.listen(engine, "connect", postgresql.prepare if kind == "postgresql" else _prepare)
    event.listen(engine, "begin", postgresql.begin if kind == "postgresql" else _begin)
    return engine


def claim_file(path: Path) -> None:
    """Make the folder and an empty file for the store, for their owner alone, where they are not there. Raises OutputError."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        with contextlib.suppress(FileExistsError):
            os.close(os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600))
        if path.stat().st_mode & 0o077:
            os.chmod(path, 0o600)
    except OSError as err:
        raise output_error(path, err) from err


def _prepare(connection: DBAPIConnection, record: object) -> None:
    connection.isolation_level = None  # transactions are begun by _begin, not by the driver
    cursor = connection.cursor()
    for pragma in (f"busy_timeout={WAIT_MS}", *PRAGMAS):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


@contextlib.contextmanager
def reading(engine: Engine, name: str) -> Iterator[Connection]:
    """Give a connection that sees one state of the store. Raises StoreError or OutputError, naming the store by name."""
    with translated(name), engine.connect() as connection:
        if engine.dialect.name == "postgresql":
            connection = connection.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)
        with connection.begin():
            yield connection


@contextlib.contextmanager
def writing(engine: Engine, name: str) -> Iterator[Connection]:
    """Give a connection that alone may write; all of it is on disk at the end, or none of it. Raises as reading does."""
    with translated(name), engine.connect() as connection:
        connection = connection.execution_options(writes=True)
        with connection.begin():
            yield connection


@contextlib.contextmanager
def translated(name: str) -> Iterator[None]:
    """Turn a fault of the database into a sentence: what happened and what to do, with nothing of what is stored."""
    try:
        yield
    except (exc.DBAPIError, sqlite3.Error) as err:
        original = err.orig if isinstance(err, exc.DBAPIError) else err
        if original is not None and not isinstance(original, sqlite3.Error) and (told := postgresql.fault(original, name)):
            raise told from err
        code = getattr(original, "sqlite_errorcode", 0) & 0xFF
        if code in _BUSY:
            raise StoreError(f"{name} is held by another program; close that, or try again in a moment.") from err
        if code in _DAMAGED:
            raise StoreError(f"{name} is damaged and was not changed; restore it from a back-up.") from err
        if code == _FULL:
            raise output_error(name, OSError(errno.ENOSPC, "")) from err
        if code in {_READ_ONLY, _CANNOT_OPEN}:
            raise output_error(name, OSError(errno.EACCES, "")) from err
        if code == _IO:
            raise output_error(name, OSError(errno.EIO, "")) from err
        kind = type(original).__name__ if original is not None else type(err).__name__
        raise StoreError(f"{name} cannot be used ({kind}); check that it is a store of this program.") from err
