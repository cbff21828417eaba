"""Every test of the store runs on both databases: SQLite by default, and, among the slow tests, a real PostgreSQL server."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path

import postgresql_for_tests
import pytest
import scripted

from dictation.store.store import Store, open_store

SQLITE_ALONE = {
    # of its files
    "test_folder_and_files_are_their_owner_s_alone", "test_a_store_readable_by_others_is_closed_to_them",
    "test_the_database_is_set_up_to_lose_nothing", "test_a_file_that_is_no_database_is_refused_and_left_alone",
    "test_a_database_of_another_program_is_refused_and_left_alone", "test_a_truncated_store_is_refused",
    "test_erasing_leaves_hashes_alone_in_every_file_of_the_store", "test_a_back_up_made_in_use_is_a_store_of_its_own",
    # of its faults, brought about in its own ways
    "test_a_disk_that_sqlite_finds_full_adds_nothing_and_the_review_goes_on",
    "test_a_file_that_may_not_grow_adds_nothing_and_the_review_goes_on",
    "test_a_folder_turned_read_only_is_one_sentence_and_loses_nothing",
    "test_a_store_held_by_another_process_is_said_and_can_be_used_again",
    "test_a_file_system_that_fills_up_loses_nothing_acknowledged",
}  # fmt: skip
"""Tests of what SQLite alone has; test_postgresql.py has the like of PostgreSQL."""

ON_A_SERVER = pytest.param("postgresql", marks=pytest.mark.slow)


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Run a test on both databases where its file opens a store."""
    if "database" in metafunc.fixturenames:
        both = hasattr(metafunc.module, "open_store") and metafunc.function.__name__ not in SQLITE_ALONE
        metafunc.parametrize("database", ["sqlite", ON_A_SERVER] if both else ["sqlite"], indirect=True)


server = postgresql_for_tests.server  # a fixture


@pytest.fixture(autouse=True)
def database(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """Put stores on the database of this run of a test: there, a folder stands for a place of its own in the server."""
    opened: list[Store] = []
    if request.param == "postgresql":
        socket = request.getfixturevalue("server")

        def on_server(folder: Path, url: str | None = None) -> Store:
            schema = "s" + hashlib.sha256(str(folder).encode()).hexdigest()[:20]
            opened.append(open_store(folder, url or postgresql_for_tests.url_of(socket, schema)))
            return opened[-1]

        for module in (request.module, scripted):
            monkeypatch.setattr(module, "open_store", on_server)
    yield request.param
    for store in opened:
        store.close()
