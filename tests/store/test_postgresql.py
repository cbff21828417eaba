"""What PostgreSQL alone has: its address, its faults as sentences, one writer at a time, and the queue of several rooms."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import postgresql_for_tests
import pytest
from scripted import REFERENCE, WHEN, WHO, invented_examination
from sqlalchemy import make_url

from dictation.errors import OutputError, StoreError
from dictation.store import postgresql
from dictation.store.back_up import back_up
from dictation.store.engine import make_engine, writing
from dictation.store.facts import Details
from dictation.store.queue import Key, Queue
from dictation.store.store import Store, find_store
from dictation.store.store import open_store as open_any
from dictation.store.verifying import verify_store

KEY, OTHER = Key("a" * 64, "m" * 64), Key("b" * 64, "m" * 64)


@pytest.fixture
def url(server: Path, tmp_path: Path) -> str:
    """The address of an empty place in a server."""
    return postgresql_for_tests.url_of(server, f"s{abs(hash(str(tmp_path)))}")


@pytest.fixture
def store(url: str, tmp_path: Path) -> Iterator[Store]:
    """An empty store there."""
    opened = open_any(tmp_path / "store", url)
    yield opened
    opened.close()


@pytest.mark.slow
def test_what_is_acknowledged_is_on_disk_whatever_the_server_does_by_itself(store: Store) -> None:
    with store.engine.connect() as connection:
        connection.exec_driver_sql("ALTER ROLE dictation SET synchronous_commit = off")
        connection.commit()
    store.close()
    with store.engine.connect() as connection:
        assert connection.exec_driver_sql("SHOW synchronous_commit").scalar() == "on"
        assert connection.exec_driver_sql("SHOW idle_in_transaction_session_timeout").scalar() == "0"


def test_an_address_that_leads_nowhere_is_one_sentence_without_the_password(tmp_path: Path) -> None:
    pytest.importorskip("psycopg")
    with pytest.raises(StoreError, match="cannot be reached; check that its server runs") as caught:
        open_any(tmp_path, f"postgresql://somebody:secret@/clinic?host={tmp_path}")
    assert "secret" not in str(caught.value)
    assert "the database clinic" in str(caught.value)


@pytest.mark.parametrize("address", ["nonsense", "mysql://x/y", "postgresql://h:port/x", "file:///x"])
def test_an_address_of_no_database_is_one_sentence(tmp_path: Path, address: str) -> None:
    with pytest.raises(StoreError, match="not a database that can be used"):
        open_any(tmp_path, address)


@pytest.mark.parametrize(
    ("address", "asks"),
    [
        ("postgresql://db/clinic", "require"), ("postgresql:///clinic?host=db.example", "require"),
        ("postgresql://192.0.2.1:5432/clinic", "require"), ("postgresql://db/clinic?sslmode=verify-full", "verify-full"),
        ("postgresql://localhost/clinic", None), ("postgresql:///clinic", None), ("postgresql:///clinic?host=/run/x", None),
    ],
)  # fmt: skip
def test_patients_data_goes_to_another_machine_encrypted(address: str, asks: str | None) -> None:
    assert postgresql.with_driver(make_url(address)).query.get("sslmode") == asks


def test_a_driver_that_is_not_installed_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "psycopg", None)
    with pytest.raises(StoreError, match="install it with its extra postgresql"):
        make_engine("postgresql://server/database")


@pytest.mark.parametrize(
    ("code", "kind", "says"),
    [
        ("08006", StoreError, "cannot be reached"), ("57P01", StoreError, "cannot be reached"),
        ("55P03", StoreError, "held by another program"), ("XX001", StoreError, "damaged"),
        ("53100", OutputError, "disk is full"), ("42501", OutputError, "no permission"),
        ("25006", OutputError, "no permission"),
    ],
)  # fmt: skip
def test_each_fault_is_a_sentence(code: str, kind: type[Exception], says: str) -> None:
    raised = type("Error", (Exception,), {"sqlstate": code})()
    told = postgresql.fault(raised, "the store")
    assert isinstance(told, kind)
    assert says in str(told)
    assert postgresql.fault(type("Error", (Exception,), {"sqlstate": "22000"})(), "the store") is None


@pytest.mark.slow
def test_one_who_may_only_read_is_told_so(store: Store, url: str, tmp_path: Path) -> None:
    with store.engine.connect() as connection:
        (place,) = connection.exec_driver_sql("SELECT current_schema()").one()
        for statement in (
            "DROP ROLE IF EXISTS reader", "CREATE ROLE reader LOGIN", f"GRANT USAGE ON SCHEMA {place} TO reader",
            f"GRANT SELECT ON ALL TABLES IN SCHEMA {place} TO reader",
        ):  # fmt: skip
            connection.exec_driver_sql(statement)
        connection.commit()
    try:
        reader = open_any(tmp_path / "reader", url.replace("dictation@", "reader@"))
        assert reader.encounters() == []
        with pytest.raises(OutputError, match="no permission"):
            reader.open_encounter(REFERENCE, Details(), WHO, WHEN)
        reader.close()
    finally:
        with store.engine.connect() as connection:
            connection.exec_driver_sql("DROP OWNED BY reader")
            connection.exec_driver_sql("DROP ROLE reader")
            connection.commit()


@pytest.mark.slow
def test_one_writes_at_a_time_and_the_next_is_told_where_it_takes_too_long(
    store: Store, url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(postgresql.SESSION, "lock_timeout", "50")
    other = open_any(tmp_path / "other", url)
    with writing(store.engine, store.name), pytest.raises(StoreError, match="held by another program"):
        other.open_encounter(REFERENCE, Details(), WHO, WHEN)
    assert other.encounters() == []  # reading waits for nobody
    other.open_encounter(REFERENCE, Details(), WHO, WHEN)
    other.close()


@pytest.mark.slow
def test_a_database_of_another_program_is_left_alone(url: str, tmp_path: Path) -> None:
    engine = make_engine(url)
    with engine.connect() as connection:
        connection.exec_driver_sql("CREATE TABLE other (x int)")
        connection.commit()
    engine.dispose()
    with pytest.raises(StoreError, match="another program"):
        open_any(tmp_path, url)


@pytest.mark.slow
def test_two_who_make_the_store_at_once_make_one(url: str, tmp_path: Path) -> None:
    children = [_forked(lambda: open_any(tmp_path, url).close()) for _ in range(4)]
    assert [os.waitpid(child, 0)[1] for child in children] == [0] * 4
    store = find_store(tmp_path, url)
    assert store is not None
    assert verify_store(store).faults == []
    store.close()


@pytest.mark.slow
def test_a_back_up_is_the_server_s_to_make_and_that_is_said(store: Store, tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="pg_dump"):
        back_up(store, tmp_path / "copy")
    assert not (tmp_path / "copy").exists()
    invented_examination().take(store)
    assert verify_store(store).faults == []  # verifying works on both


@pytest.mark.slow
def test_a_recording_is_held_by_one_and_done_by_one(store: Store, url: str, tmp_path: Path) -> None:
    room = open_any(tmp_path / "room2", url)
    mine, theirs = Queue(store), Queue(room)
    hold = mine.hold(KEY)
    assert hold is not None
    assert theirs.hold(KEY) is None  # at once: it waits for nobody
    other = theirs.hold(OTHER)
    assert other is not None
    hold.let_go()
    again = theirs.hold(KEY)
    assert again is not None
    again.done(WHEN)
    other.done(WHEN)
    assert mine.hold(KEY) is None
    assert mine.is_done(KEY)
    assert not mine.is_done(Key(KEY.recording, "other words"))
    room.close()


@pytest.mark.slow
def test_what_a_killed_worker_held_is_free_again(store: Store, url: str, tmp_path: Path) -> None:
    Queue(store)
    ready, says = os.pipe()

    def work() -> None:
        held = Queue(open_any(tmp_path / "room2", url)).hold(KEY)
        os.write(says, b"1" if held is not None else b"0")
        signal.pause()

    child = _forked(work)
    assert os.read(ready, 1) == b"1"
    queue = Queue(store)
    assert queue.hold(KEY) is None
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    hold = None
    for _ in range(500):  # the server notices within milliseconds
        if (hold := queue.hold(KEY)) is not None:
            break
        signal.sigtimedwait([], 0.01)
    assert hold is not None
    hold.done(WHEN)


def _forked(work: Callable[[], object]) -> int:
    """Do work in a process of its own and return its number."""
    child = os.fork()
    if child == 0:
        code = 1
        try:
            work()
            code = 0
        finally:
            os._exit(code)
    return child
