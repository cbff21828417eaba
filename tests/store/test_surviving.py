"""What the store must survive: a full disk, a read-only folder, a store held by another process, two reviewers, large records.

Nothing is mocked but the clock: the disk really is full for SQLite, the folder really is read-only, another process really
holds the lock.
"""

from __future__ import annotations

import json
import os
import resource
import sqlite3
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from scripted import ENDING, LEXICON, REFERENCE, WHEN, WHO, Script, again, decide_all, invented_examination, word
from sqlalchemy import event

from dictation.errors import DictationError, OutputError, StoreError
from dictation.note.text import render_text
from dictation.review.opening import check_encounter, open_review
from dictation.review.rules import Review
from dictation.store import engine
from dictation.store.facts import Details
from dictation.store.journal import Moment, now
from dictation.store.store import FILE, Store, open_store
from dictation.store.verifying import verify_store
from dictation.terminal.walk import Walk
from tests.benchmarks.bench_store import fill


@pytest.fixture
def review(tmp_path: Path) -> Iterator[Review]:
    """A review with two decisions, in a store on disk."""
    store = open_store(tmp_path / "store")
    found = invented_examination().take(store)
    found.confirm("f2", WHO, WHEN)
    found.confirm("f6", WHO, WHEN)
    yield found
    store.close()


def _store(review: Review) -> Store:
    return review.journal.encounter.store


def _untouched(review: Review, before: int) -> None:
    """Nothing of a failed step is there, nothing before it is lost, and the review goes on."""
    assert len(review.journal.encounter.entries) == before
    assert len(again(review).journal.encounter.entries) == before
    review.confirm("f8", WHO, WHEN)
    assert again(review).state.fields["f8"].state == "confirmed"
    assert verify_store(_store(review), check_encounter).faults == []


def test_a_disk_that_sqlite_finds_full_adds_nothing_and_the_review_goes_on(review: Review) -> None:
    store, before = _store(review), len(review.journal.encounter.entries)
    store.close()

    def full(connection: sqlite3.Connection, record: object) -> None:
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count={pages}")

    event.listen(store.engine, "connect", full)
    with pytest.raises(OutputError, match="disk is full"):
        review.reject("f3", "x" * 200_000, WHO, WHEN)
    event.remove(store.engine, "connect", full)
    store.close()
    _untouched(review, before)


def test_a_file_that_may_not_grow_adds_nothing_and_the_review_goes_on(review: Review) -> None:
    before = len(review.journal.encounter.entries)
    largest = max(path.stat().st_size for path in _store(review).folder.iterdir())
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (largest + 4096, hard))
    try:
        with pytest.raises(OutputError, match="Cannot write the store"):
            review.reject("f3", "x" * 500_000, WHO, WHEN)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    _untouched(review, before)


def _in_child(work: Callable[[], str | None]) -> str | None:
    """Run in a fork, as nobody where this is root, since root may write anywhere; return what it says."""
    hears, says = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            if os.geteuid() == 0:
                os.setgid(65534)
                os.setuid(65534)
            os.write(says, (work() or "").encode())
        finally:
            os._exit(0)
    os.close(says)
    os.waitpid(child, 0)
    said = os.read(hears, 4096).decode()
    os.close(hears)
    return said


def test_a_folder_turned_read_only_is_one_sentence_and_loses_nothing(tmp_path: Path) -> None:
    outer = Path(os.path.realpath(tmp_path))
    for folder in (outer, *list(outer.parents)[:3]):  # the child is another user, who must reach the folder
        if folder.stat().st_uid == os.getuid() and folder != Path("/"):
            folder.chmod(folder.stat().st_mode | 0o055)
    store = open_store(outer / "store")
    review = invented_examination().take(store)
    review.confirm("f2", WHO, WHEN)
    store.close()
    if os.geteuid() == 0:
        for path in (store.folder, *store.folder.iterdir()):
            os.chown(path, 65534, 65534)
    for path in store.folder.iterdir():
        path.chmod(0o400)
    store.folder.chmod(0o500)

    def work() -> str:
        try:
            review.confirm("f6", WHO, WHEN)
        except DictationError as err:
            return f"{type(err).__name__} {err}"
        return "written"

    said = _in_child(work)
    assert said is not None
    assert said.startswith("OutputError Cannot write the store")
    store.folder.chmod(0o700)
    for path in store.folder.iterdir():
        path.chmod(0o600)
    assert [entry.field for entry in again(review).journal.entries] == ["f2"]


def test_a_store_held_by_another_process_is_said_and_can_be_used_again(review: Review, monkeypatch: pytest.MonkeyPatch) -> None:
    store, before = _store(review), len(review.journal.encounter.entries)
    store.close()
    monkeypatch.setattr(engine, "WAIT_MS", 50)
    ready, says = os.pipe()
    waits, end = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            holder = sqlite3.connect(store.folder / FILE, isolation_level=None)
            holder.execute("BEGIN IMMEDIATE")
            os.write(says, b"1")
            os.read(waits, 1)
        finally:
            os._exit(0)
    assert os.read(ready, 1) == b"1"
    try:
        with pytest.raises(StoreError, match="held by another program"):
            review.confirm("f7", WHO, WHEN)
        assert len(again(review).journal.encounter.entries) == before  # reading still works
    finally:
        os.write(end, b"1")
        os.waitpid(child, 0)
        for pipe in (ready, says, waits, end):
            os.close(pipe)
    _untouched(review, before)


def test_two_reviewers_at_two_terminals_do_not_overwrite_each_other(review: Review) -> None:
    other, shown = again(review), list[str]()

    def ask(prompt: str) -> str:
        if not shown_prompts:
            review.reject("f9", "the patient said so", "Dr B", WHEN)  # while the first looks at the same statement
        shown_prompts.append(prompt)
        if len(shown_prompts) > 2:
            raise EOFError
        return "confirm"

    shown_prompts: list[str] = []
    Walk(other, WHO, ask, lambda line, tone: shown.append(line), lambda: WHEN).run()
    text = "\n".join(shown)
    assert "Nothing was written, because somebody else has added to this encounter" in text
    assert "Dr B, 2025-03-04 14:30 (UTC+01:00), rejected: Phalen's test positive on the RIGHT." in text
    later = again(review)
    assert (later.state.fields["f9"].state, later.state.fields["f9"].who) == ("rejected", "Dr B")


def test_a_record_signed_by_somebody_else_meanwhile_is_said(review: Review) -> None:
    other, shown = again(review), list[str]()

    def ask(prompt: str) -> str:
        decide_all(review)
        review.sign("Dr B", "Hand surgeon", WHEN, ending=ENDING)
        return "confirm"

    assert Walk(other, WHO, ask, lambda line, tone: shown.append(line), lambda: WHEN).run()
    assert "signed now" in shown[-1]
    assert again(review).signed().signature.signer == "Dr B"


@pytest.mark.parametrize("count", [200, pytest.param(2_000, marks=pytest.mark.slow)])
def test_two_thousand_fields_are_decided_signed_and_printed(tmp_path: Path, count: int) -> None:
    script = Script()
    for number in range(count // 2):
        script.say("wrist_extension", "said", side="right", value=float(number % 80), unit="deg", occasion=f"visit {number}")
        script.say("swelling", "none", side="right", status="absent", occasion=None)
    review = script.take(open_store(tmp_path))
    names = [field.id for field in script.fields if field.concept == "swelling"]
    review.confirm_group(names, names, WHO, WHEN)
    for name in review.state.pending[:50]:
        review.confirm(name, WHO, WHEN)
    review._confirm(review.state.pending, WHO, WHEN, {})  # one transaction for the rest, to save time
    review.sign(WHO, "Hand surgeon", WHEN, ending=ENDING)
    later = again(review)
    assert len(later.journal.entries) == count + 1
    text = " ".join(render_text(later.signed(), LEXICON).split())
    assert text.count("No swelling on the RIGHT.") == count // 2
    assert all(f"visit {number}" in text for number in range(count // 2))


@pytest.mark.parametrize("count", [300, pytest.param(10_000, marks=pytest.mark.slow)])
def test_ten_thousand_encounters_are_listed_and_any_of_them_is_opened(tmp_path: Path, count: int) -> None:
    store = open_store(tmp_path)
    fill(store, count)
    assert [one.reference for one in store.encounters()] == [f"H-{number:06}" for number in range(count)]
    encounter = store.encounter(f"h-{count // 2:06}")
    review = open_review(encounter, next(iter(encounter.facts.drafts)), LEXICON, word)
    review.confirm("f2", WHO, WHEN)
    assert again(review).state.fields["f2"].state == "confirmed"
    store.close()


@pytest.mark.parametrize("version", ["1.0", "1.1", "1.7"])
def test_a_record_of_every_older_schema_is_reviewed_and_signed(tmp_path: Path, version: str) -> None:
    draft = invented_examination().draft().model_dump(mode="json", by_alias=True)
    draft["schema_version"] = version
    if version == "1.0":
        del draft["source"]["sound"], draft["source"]["lexicon_sha256"]
    encounter = open_store(tmp_path).open_encounter(REFERENCE, Details(), WHO, WHEN)
    sha256 = encounter.take_draft(json.dumps(draft).encode(), "0" * 64, "a.wav", spoken=True, who=WHO, time=WHEN)
    review = open_review(encounter, sha256, LEXICON, word)
    decide_all(review)
    review.sign(WHO, "Hand surgeon", WHEN, ending=ENDING)
    assert render_text(again(review).signed(), LEXICON)


def test_the_time_zone_and_the_clock_may_change_during_a_review(review: Review, monkeypatch: pytest.MonkeyPatch) -> None:
    review.confirm("f7", WHO, Moment("2025-03-30T01:10:00Z", 120))
    review.confirm("f8", WHO, Moment("2025-03-29T23:00:00Z", 0))  # set back by hand, and to another zone
    monkeypatch.setenv("TZ", "Pacific/Kiritimati")
    time.tzset()
    try:
        there = now()
        assert there.utc_offset_min == 14 * 60
        later = again(review)
        later.confirm("f9", WHO, there)
        monkeypatch.setenv("TZ", "America/St_Johns")
        time.tzset()
        assert now().utc_offset_min in (-210, -150)
        later = again(review)
        assert later.state.fields["f9"].time == there
        assert later.undo(WHO, now()) == ("f9",)
    finally:
        monkeypatch.undo()
        time.tzset()
    assert [later.state.fields[name].state for name in ("f7", "f8")] == ["confirmed", "confirmed"]
    assert later.undo(WHO, WHEN) == ("f8",)  # the last written, not the last dated
    moment = later.state.fields["f7"].time
    assert moment is not None
    assert moment.words() == "2025-03-30 03:10 (UTC+02:00)"
