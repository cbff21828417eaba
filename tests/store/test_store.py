"""The store: made for its owner alone, whole or not at all, and refused where it cannot be trusted."""

from __future__ import annotations

import os
import sqlite3
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest
from scripted import WHEN, WHO, edit_store

from dictation.errors import InputError, OvertakenError, RecordError, StoreError
from dictation.store.facts import Details, read_details, read_reference, reference_ending, suggest_reference
from dictation.store.journal import Moment, Step
from dictation.store.store import FILE, Encounter, Store, open_store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """An empty store in a folder."""
    opened = open_store(tmp_path / "store")
    yield opened
    opened.close()


def _filled(store: Store, count: int = 3) -> Encounter:
    encounter = store.open_encounter("H-1", Details(purpose="nerve"), WHO, WHEN)
    for number in range(count):
        encounter.append([Step("confirmed", f"f{number}", draft="d" * 64)], WHO, WHEN)
    return encounter


def test_folder_and_files_are_their_owner_s_alone(tmp_path: Path) -> None:
    old = os.umask(0)
    try:
        store = open_store(tmp_path / "new" / "store")
        _filled(store)
        modes = {path.name: stat.S_IMODE(path.stat().st_mode) for path in store.folder.iterdir()}
        store.close()
    finally:
        os.umask(old)
    assert set(modes.values()) == {0o600}
    assert FILE in modes
    assert len(modes) == 3  # the write-ahead log and its index beside it
    assert stat.S_IMODE(store.folder.stat().st_mode) == 0o700


def test_a_store_readable_by_others_is_closed_to_them(tmp_path: Path) -> None:
    open_store(tmp_path).close()
    (tmp_path / FILE).chmod(0o644)
    open_store(tmp_path).close()
    assert stat.S_IMODE((tmp_path / FILE).stat().st_mode) == 0o600


@pytest.mark.parametrize(
    ("pragma", "value"), [("journal_mode", "wal"), ("synchronous", 2), ("foreign_keys", 1), ("secure_delete", 1)]
)
def test_the_database_is_set_up_to_lose_nothing(store: Store, pragma: str, value: object) -> None:
    with store.engine.connect() as connection:
        assert connection.exec_driver_sql(f"PRAGMA {pragma}").scalar() == value


def test_an_encounter_is_there_when_the_store_is_opened_again(store: Store) -> None:
    written = _filled(store)
    store.close()
    again = open_store(store.folder).encounter("h-1")
    assert again.entries == written.entries
    assert again.facts == written.facts
    assert again.facts.details == Details(purpose="nerve")
    assert [one.reference for one in store.encounters()] == ["H-1"]
    assert [entry.after for entry in store.journal()] == [{"encounter": again.id}]


def test_only_one_encounter_has_a_reference_whatever_its_case(store: Store) -> None:
    _filled(store)
    with pytest.raises(InputError, match="already"):
        store.open_encounter("h-1", Details(), WHO, WHEN)
    assert len(store.encounters()) == 1
    with pytest.raises(InputError, match="no encounter"):
        store.encounter("H-2")


def test_two_who_write_at_once_do_not_overwrite_each_other(store: Store) -> None:
    first = _filled(store)
    second = store.encounter("H-1")
    first.append([Step("rejected", "f0", draft="d" * 64)], "Dr A", WHEN)
    with pytest.raises(OvertakenError, match="somebody else"):
        second.append([Step("confirmed", "f9", draft="d" * 64)], "Dr B", WHEN)
    assert [entry.field for entry in second.refresh()] == ["f0"]
    second.append([Step("confirmed", "f9", draft="d" * 64)], "Dr B", WHEN)
    assert [entry.what for entry in first.refresh()] == ["confirmed"]
    assert first.entries == second.entries == store.encounter("H-1").entries


def test_steps_are_written_all_or_none(store: Store) -> None:
    encounter = _filled(store)
    before = encounter.entries
    with pytest.raises(RecordError, match="does not fit"):
        encounter.append([Step("confirmed", "f8"), Step("sound deleted", after={"sha256": "none", "why": "x"})], WHO, WHEN)
    assert encounter.entries == store.encounter("H-1").entries == before


def test_a_name_is_needed_to_write(store: Store) -> None:
    with pytest.raises(InputError, match="name"):
        _filled(store).append([Step("confirmed")], "  ", WHEN)


def test_the_order_is_that_of_writing_whatever_clock_and_zone_say(store: Store) -> None:
    encounter = _filled(store, 0)
    moments = [Moment("2025-03-30T00:59:00Z", 60), Moment("2025-03-30T01:01:00Z", 120), Moment("2020-01-01T00:00:00Z", -480)]
    for number, moment in enumerate(moments):
        encounter.append([Step("confirmed", f"f{number}")], WHO, moment)
    again = store.encounter("H-1")
    assert [(entry.field, entry.time) for entry in again.entries[1:]] == [(f"f{n}", m) for n, m in enumerate(moments)]
    assert [m.words()[:16] for m in moments] == ["2025-03-30 01:59", "2025-03-30 03:01", "2019-12-31 16:00"]


def test_a_newer_store_is_refused_and_left_alone(store: Store) -> None:
    _filled(store)
    edit_store(store, "UPDATE meta SET value = '2' WHERE key = 'schema_version'")
    with pytest.raises(StoreError, match="version 2, newer than this program's 1; update the program"):
        open_store(store.folder)


def test_a_database_of_another_program_is_refused_and_left_alone(tmp_path: Path) -> None:
    connection = sqlite3.connect(tmp_path / FILE)
    connection.execute("CREATE TABLE other (x)")
    connection.commit()
    connection.close()
    with pytest.raises(StoreError, match="another program"):
        open_store(tmp_path)


def test_a_file_that_is_no_database_is_refused_and_left_alone(tmp_path: Path) -> None:
    (tmp_path / FILE).write_bytes(b"secret swelling " * 500)
    with pytest.raises(StoreError, match="damaged") as caught:
        open_store(tmp_path)
    assert "swelling" not in str(caught.value)
    assert (tmp_path / FILE).read_bytes().startswith(b"secret swelling")


def test_a_bit_flipped_in_an_entry_is_found_and_the_entry_named(store: Store) -> None:
    _filled(store)
    edit_store(store, "UPDATE entry SET content = replace(content, 'f1', 'f0') WHERE number = 3")
    with pytest.raises(RecordError, match="Entry 3 of the encounter's journal was changed"):
        store.encounter("H-1")


def test_an_entry_taken_out_of_the_middle_is_found(store: Store) -> None:
    _filled(store)
    edit_store(store, "DELETE FROM entry WHERE number = 2 AND chain != 'store'")
    with pytest.raises(StoreError, match="Entry 2 of a journal is missing"):
        store.encounter("H-1")


def test_a_tail_cut_off_is_found(store: Store) -> None:
    _filled(store)
    edit_store(store, "DELETE FROM entry WHERE number = 4 AND chain != 'store'")
    with pytest.raises(StoreError, match=r"last entries .* are missing"):
        store.encounter("H-1")


def test_a_draft_is_kept_byte_for_byte_and_a_changed_one_is_refused(store: Store) -> None:
    encounter = _filled(store)
    content = b'{"schema_version": "1.0",\r\n "x": "\xc3\xa9"}'
    sha256 = encounter.take_draft(content, "a" * 64, "a.wav", spoken=True, who=WHO, time=WHEN)
    assert encounter.take_draft(content, "a" * 64, "a.wav", spoken=True, who=WHO, time=WHEN) == sha256
    assert store.encounter("H-1").draft_content(sha256) == content
    assert [one.id for one in store.holding(sha256)] == [encounter.id]
    assert store.encounters()[0].drafts == 1
    edit_store(store, "UPDATE draft SET content = substr(content, 2)")
    with pytest.raises(StoreError, match="missing or was changed"):
        store.encounter("H-1").draft_content(sha256)


@pytest.mark.parametrize("text", ["H-2041", "2025/03 04", "a", "A" * 40])
def test_references_that_a_clinic_may_choose(text: str) -> None:
    assert read_reference(f"  {text} ") == text


@pytest.mark.parametrize(
    "text", ["", " ", "../x", "-x", "A" * 41, "Müller", "x\x1b[2J", "a\nb\x00", "=1+1", "<b>", "H‮2041", "a;b"]
)
def test_a_reference_holds_nothing_that_could_act_on_a_screen_or_a_file_name(text: str) -> None:
    with pytest.raises(InputError) as caught:
        read_reference(text)
    assert not text.strip() or text not in str(caught.value)


def test_what_a_signer_types_is_the_end_of_the_reference() -> None:
    assert [reference_ending(text) for text in ("H-2041", "AB", "x 12y")] == ["2041", "ab", "12y"]
    assert [suggest_reference(name) for name in ("clinic", "Ä b?c", "…")] == ["clinic", "b-c", None]


@pytest.mark.parametrize(
    "stated",
    [
        {"purpose": "cosmetic"}, {"age": -1}, {"age": 131}, {"age": True}, {"age": "40"}, {"sex": "x"}, {"consent": "maybe"},
        {"examined": "yesterday"}, {"present": " "}, {"present": "x" * 201}, {"name": "A. Invented"},
    ],
)  # fmt: skip
def test_a_detail_that_does_not_fit_is_refused(stated: dict[str, object]) -> None:
    with pytest.raises(InputError):
        read_details(stated)
