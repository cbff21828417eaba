"""What is particular to PostgreSQL: how a session is set up, who may write, and the sentence for each of its faults.

One writes at a time, as in SQLite, by a lock that the server lets go of when the writer ends or its machine is gone. The
driver is psycopg, an extra. Imports hosts, errors and writing.
"""

from __future__ import annotations

import errno
from typing import TYPE_CHECKING

from sqlalchemy import URL

from dictation.errors import DictationError, StoreError
from dictation.hosts import is_here
from dictation.writing import output_error

if TYPE_CHECKING:
    from sqlalchemy import Connection
    from sqlalchemy.engine.interfaces import DBAPIConnection

DRIVER = "postgresql+psycopg"
NO_DRIVER = (
    "The store's address is one of PostgreSQL, for which this program needs an extra; install it with its extra postgresql."
)
WAIT_MS = 30_000
"""How long a write waits for another room's, which may be copying a recording."""

SESSION = {
    "synchronous_commit": "on",  # acknowledged is on disk, whatever the server does by itself
    "lock_timeout": str(WAIT_MS),
    "idle_in_transaction_session_timeout": "0",  # a recording is held for as long as it is drafted
    "tcp_keepalives_idle": "30",  # what a machine held that lost its power is free again after a minute
    "tcp_keepalives_interval": "10",
    "tcp_keepalives_count": "3",
    "client_encoding": "UTF8",
}
_CHECK = "check that its server runs, that it has that database, and the name and password in its address"
WRITER = 0x68616E64  # the lock of whoever writes; any number that no other program of the database takes

_LOCKED = {"55P03", "40001", "40P01"}
_DENIED = {"25006", "42501"}
_FULL = "53100"
_GONE, _DAMAGED = {"08", "57"}, "XX"
"""SQLSTATE codes and classes of them, by PostgreSQL's documentation, appendix A."""


def with_driver(url: URL) -> URL:
    """Return an address with the driver that this program speaks to PostgreSQL with.

    One on another machine asks for TLS, unless it says itself what it asks for (sslmode).
    """
    named = url.query.get("host", "")
    hosts = [url.host or "", *(named.split(",") if isinstance(named, str) else named)]
    if "sslmode" not in url.query and not all(is_here(host.split(":")[0]) for host in hosts):
        url = url.update_query_dict({"sslmode": "require"})
    return url.set(drivername=DRIVER)


def place(url: URL) -> str:
    """Return what an error calls the store: the database and its machine, never a name or password."""
    return f"the store in the database {url.database or ''} on {url.host or 'this machine'}"


def prepare(connection: DBAPIConnection, record: object) -> None:
    """Set up a session."""
    connection.autocommit = True
    with connection.cursor() as cursor:  # type: ignore[attr-defined]  # the driver is psycopg
        for name, value in SESSION.items():
            cursor.execute("SELECT set_config(%s, %s, false)", (name, value))
    connection.autocommit = False


def begin(connection: Connection) -> None:
    """Wait for the other writers, where a transaction is one that writes."""
    if connection.get_execution_options().get("writes", False):
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({WRITER})")


def fault(err: BaseException, name: str) -> DictationError | None:
    """Return the sentence for what the driver raised, None where it has none of its own."""
    code: str | None = getattr(err, "sqlstate", None)
    if code is None:  # the driver gives no code for a connection that did not come about
        lost = type(err).__name__ in {"OperationalError", "ConnectionTimeout"}
        return StoreError(f"{name} cannot be reached; {_CHECK}.") if lost else None
    if code[:2] in _GONE:
        return StoreError(f"{name} cannot be reached; {_CHECK}.")
    if code in _LOCKED:
        return StoreError(f"{name} is held by another program; close that, or try again in a moment.")
    if code[:2] == _DAMAGED:
        return StoreError(f"{name} is damaged and was not changed; restore it from a back-up.")
    if code == _FULL or code in _DENIED:
        return output_error(name, OSError(errno.ENOSPC if code == _FULL else errno.EACCES, ""))
    return None
