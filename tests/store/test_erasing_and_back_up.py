"""Erasing leaves hashes alone; a back-up is whole while the store is written to."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from scripted import WHEN, WHO, invented_examination

from dictation.errors import InputError, OutputError, RecordError
from dictation.store.back_up import back_up
from dictation.store.erasing import ERASED, erase_encounter
from dictation.store.facts import Details
from dictation.store.journal import Step
from dictation.store.sound_folder import sound_path
from dictation.store.store import FILE, Encounter, Store, open_store

SHA256 = "a" * 64


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = open_store(tmp_path / "store")
    yield opened
    opened.close()


def _filled(store: Store, reference: str = "ERASE-ME") -> Encounter:
    encounter = store.open_encounter(reference, Details(present="invented-person"), WHO, WHEN)
    encounter.append([Step("sound kept", after={"sha256": SHA256, "name": "spoken-name.wav"})], WHO, WHEN)
    sound_path(store, SHA256).parent.mkdir(exist_ok=True)
    sound_path(store, SHA256).write_bytes(b"sound")
    encounter.take_draft(
        invented_examination().draft().model_dump_json().encode(), SHA256, "spoken-name.wav", spoken=True, who=WHO, time=WHEN
    )
    return encounter


def test_nothing_but_hashes_is_left(store: Store) -> None:
    other = store.open_encounter("KEEP-ME", Details(), WHO, WHEN)
    encounter = _filled(store)
    head = encounter.head
    erase_encounter(encounter, "asked for", WHO, WHEN)
    assert store.find("ERASE-ME") is None
    assert store.encounter("KEEP-ME").entries == other.entries
    assert not sound_path(store, SHA256).exists()
    stone = store.journal()[-1]
    assert (stone.what, stone.who, stone.after["head"], stone.after["entries"]) == (ERASED, WHO, head, 3)
    store.close()
    left = b"".join(path.read_bytes() for path in store.folder.rglob("*") if path.is_file())
    for text in (b"ERASE-ME", b"invented-person", b"spoken-name", b"Phalen"):
        assert text not in left


def test_the_tombstone_holds_no_free_text(store: Store) -> None:
    with pytest.raises(InputError, match="one of"):
        erase_encounter(_filled(store), "because Mrs Invented asked", WHO, WHEN)
    assert store.find("ERASE-ME") is not None


def test_what_was_erased_meanwhile_is_said(store: Store) -> None:
    encounter = _filled(store)
    again = store.encounter("ERASE-ME")
    erase_encounter(encounter, "a trial", WHO, WHEN)
    with pytest.raises(InputError, match="erased"):
        again.refresh()


def test_the_reference_is_free_again(store: Store) -> None:
    erase_encounter(_filled(store), "a trial", WHO, WHEN)
    assert _filled(store).reference == "ERASE-ME"


def test_a_back_up_while_the_store_is_written_to_is_whole(store: Store, tmp_path: Path) -> None:
    encounter = _filled(store)
    stop = threading.Event()

    def write() -> None:
        mine = open_store(store.folder)
        one = mine.encounter("ERASE-ME")
        while not stop.is_set():
            one.append([Step("details stated", after={"age": 40})], WHO, WHEN)
        mine.close()

    writer = threading.Thread(target=write)
    writer.start()
    try:
        done = back_up(store, tmp_path / "copy")
    finally:
        stop.set()
        writer.join()
    assert (done.encounters, done.recordings) == (1, 1)
    copy = open_store(tmp_path / "copy")
    kept = copy.encounter("ERASE-ME").entries
    assert kept[: len(encounter.entries)] == encounter.entries
    assert sound_path(copy, SHA256).read_bytes() == b"sound"
    copy.close()


def test_a_back_up_goes_into_a_new_folder_alone(store: Store, tmp_path: Path) -> None:
    (tmp_path / "copy").mkdir()
    with pytest.raises(OutputError, match="exists already"):
        back_up(store, tmp_path / "copy")


def test_a_copy_that_does_not_verify_is_no_back_up(store: Store, tmp_path: Path) -> None:
    import sqlite3

    _filled(store)
    store.close()
    with sqlite3.connect(store.folder / FILE) as connection:
        (content,) = connection.execute("SELECT content FROM entry WHERE number = 2").fetchone()
        changed = json.dumps({**json.loads(content), "who": "somebody else"})
        connection.execute("UPDATE entry SET content = ? WHERE number = 2", (changed,))
    with pytest.raises(RecordError, match="Entry 2"):
        back_up(open_store(store.folder), tmp_path / "copy")
    assert not (tmp_path / "copy").exists()
