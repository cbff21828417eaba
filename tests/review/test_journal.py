"""The journal: append-only, chained, owner-only, and nothing acknowledged is ever lost."""

from __future__ import annotations

import json
import os
import resource
import signal
import stat
import subprocess
import sys
import time
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictation.errors import OutputError, RecordError, ReviewError
from dictation.review.journal import FIRST, Entry, Journal, Moment, Step, read_journal

WHEN = Moment("2025-03-04T13:30:00Z", 60)


def _filled(path: Path, count: int = 3) -> Journal:
    journal = Journal(path)
    for number in range(count):
        journal.append(
            [Step("confirmed", f"f{number}", {"decision": "pending"}, {"decision": "confirmed"})],
            "Dr A",
            WHEN,
        )
    return journal


def test_each_entry_has_the_shape_of_the_contract_and_the_hash_before_it(tmp_path: Path) -> None:
    path = tmp_path / "j.jsonl"
    _filled(path)
    lines = [json.loads(line) for line in path.read_text().splitlines()]
    assert len(lines) == 3
    assert set(lines[0]) == {"time", "who", "what", "field", "before", "after", "previous", "hash"}
    assert lines[0]["time"] == {"at": "2025-03-04T13:30:00Z", "utc_offset_min": 60}
    assert [line["previous"] for line in lines] == [FIRST, lines[0]["hash"], lines[1]["hash"]]


def test_reading_nothing_writes_nothing(tmp_path: Path) -> None:
    assert Journal(tmp_path / "j.jsonl").entries == ()
    assert list(tmp_path.iterdir()) == []


def test_only_the_owner_can_read_it(tmp_path: Path) -> None:
    old = os.umask(0)
    try:
        _filled(tmp_path / "j.jsonl")
    finally:
        os.umask(old)
    assert stat.S_IMODE((tmp_path / "j.jsonl").stat().st_mode) == 0o600


@pytest.mark.parametrize("cut", [1, 20, 100])
def test_a_torn_last_line_is_put_aside_reported_and_journalled(tmp_path: Path, cut: int) -> None:
    path = tmp_path / "j.jsonl"
    _filled(path)
    whole = path.read_bytes()
    path.write_bytes(whole[:-cut])
    journal = Journal(path)
    assert [entry.field for entry in journal.entries] == ["f0", "f1"]
    assert journal.torn
    journal.append([Step("confirmed", "f9")], "Dr A", WHEN)
    assert journal.torn == b""
    assert [entry.what for entry in read_journal(path).entries] == [
        "confirmed",
        "confirmed",
        "torn_line_removed",
        "confirmed",
    ]


def test_every_flipped_bit_of_a_whole_entry_is_found_and_its_entry_named(tmp_path: Path) -> None:
    path = tmp_path / "j.jsonl"
    _filled(path)
    whole = path.read_bytes()
    ends = [i for i, byte in enumerate(whole) if byte == 10]
    tried = 0
    for place in range(0, len(whole), 7):
        if place in ends:
            continue
        path.write_bytes(whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :])
        number = sum(end < place for end in ends) + 1
        with pytest.raises(RecordError, match=rf"Entry {number} of the journal"):
            read_journal(path)
        tried += 1
    assert tried > 100


@pytest.mark.parametrize("lost", [0, 1])
def test_an_entry_taken_out_breaks_the_chain(tmp_path: Path, lost: int) -> None:
    path = tmp_path / "j.jsonl"
    _filled(path)
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[:lost] + lines[lost + 1 :]))
    with pytest.raises(RecordError, match=f"Entry {lost + 1} .* does not follow"):
        read_journal(path)


def test_two_journals_open_at_once_do_not_overwrite_each_other(tmp_path: Path) -> None:
    path = tmp_path / "j.jsonl"
    first, second = _filled(path), Journal(path)
    first.append([Step("confirmed", "mine")], "Dr A", WHEN)
    with pytest.raises(ReviewError, match="Another review"):
        second.append([Step("confirmed", "theirs")], "Dr B", WHEN)
    assert [entry.field for entry in read_journal(path).entries][-1] == "mine"


def test_a_full_disk_adds_nothing_and_the_journal_goes_on_afterwards(tmp_path: Path) -> None:
    path = tmp_path / "j.jsonl"
    journal = _filled(path)
    before = path.read_bytes()
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (len(before) + 50, hard))
    try:
        with pytest.raises(OutputError):
            journal.append([Step("rejected", "f1", None, {"reason": "x" * 500})], "Dr A", WHEN)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert path.read_bytes() == before
    journal.append([Step("confirmed", "f8")], "Dr A", WHEN)
    assert len(read_journal(path).entries) == 4


def test_an_entry_is_forced_to_disk_before_it_is_acknowledged(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "j.jsonl"
    journal = _filled(path)
    before = path.read_bytes()
    forced: list[bytes] = []
    monkeypatch.setattr("os.fsync", lambda descriptor: forced.append(path.read_bytes()))
    journal.append([Step("confirmed", "f8")], "Dr A", WHEN)
    assert forced[0] == path.read_bytes() != before

    def fails(descriptor: int) -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr("os.fsync", fails)
    with pytest.raises(OutputError):
        journal.append([Step("confirmed", "f9")], "Dr A", WHEN)
    assert forced[0] == path.read_bytes()
    assert [entry.field for entry in journal.entries][-1] == "f8"


def test_the_error_of_a_broken_entry_quotes_nothing_of_it(tmp_path: Path) -> None:
    path = tmp_path / "j.jsonl"
    path.write_text('{"who": "secret swelling"}\n')
    with pytest.raises(RecordError) as caught:
        read_journal(path)
    assert "secret" not in str(caught.value)


_json = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)


@given(st.lists(st.tuples(st.text(min_size=1), st.none() | st.text(), _json), max_size=6))
def test_whatever_is_written_is_read_back(
    tmp_path_factory: pytest.TempPathFactory, items: list[tuple[str, str | None, object]]
) -> None:
    path = tmp_path_factory.mktemp("j") / "j.jsonl"
    journal = Journal(path)
    written: list[Entry] = []
    for who, field, value in items:
        written += journal.append([Step("noted", field, None, value)], who, WHEN)
    assert list(read_journal(path).entries) == written


@given(
    st.datetimes(min_value=datetime(1990, 1, 1), max_value=datetime(2200, 1, 1)),
    st.integers(-14 * 60, 14 * 60),
)
def test_a_moment_gives_back_the_local_time(naive: datetime, minutes: int) -> None:
    from datetime import timedelta, timezone

    aware = naive.replace(microsecond=0, tzinfo=timezone(timedelta(minutes=minutes)))
    moment = Moment.of(aware)
    assert moment.local() == aware
    assert moment.at.endswith("Z")
    assert moment.words().startswith(f"{aware:%Y-%m-%d %H:%M}")


_CHILD = """
import sys
from pathlib import Path
from dictation.review.journal import Journal, Step, now
journal = Journal(Path(sys.argv[1]))
for number in range(len(journal.entries), 100000):
    journal.append([Step("confirmed", f"f{number}")], "Dr A", now())
    print(number, flush=True)   # acknowledged only now
"""


@pytest.mark.parametrize("round_", range(5))
def test_kill_9_while_deciding_loses_nothing_acknowledged(tmp_path: Path, round_: int) -> None:
    path = tmp_path / "j.jsonl"
    for _ in range(2):  # the second child takes up a journal that a kill left behind
        child = subprocess.Popen([sys.executable, "-c", _CHILD, str(path)], stdout=subprocess.PIPE, text=True)
        assert child.stdout is not None
        first = child.stdout.readline()
        time.sleep(0.01 + 0.013 * round_)
        child.send_signal(signal.SIGKILL)
        lines = [first, *child.stdout.read().splitlines(keepends=True)]
        child.stdout.close()
        child.wait()
        reading = read_journal(path)
        decided = [entry.field for entry in reading.entries if entry.what == "confirmed"]
        acknowledged = max(int(line) for line in lines if line.endswith("\n"))
        assert f"f{acknowledged}" in decided
        assert len(decided) <= len(set(decided)) + 1
        assert len(decided) - 1 - decided.index(f"f{acknowledged}") <= 1
