"""The chain of entries: every change of a whole entry is found and its entry named, and nothing of it is quoted."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictation.errors import RecordError
from dictation.store.journal import FIRST, Line, Moment, Step, dated_back, digest, read_lines, write_lines

WHEN = Moment("2025-03-04T13:30:00Z", 60)
NAME = "the journal"


def _lines(count: int = 3) -> list[Line]:
    steps = [Step("confirmed", f"f{n}", {"decision": "pending"}, {"decision": "confirmed"}, "d" * 64) for n in range(count)]
    return write_lines(steps, "Dr A", WHEN, FIRST)


def test_each_entry_names_the_hash_of_the_one_before_it() -> None:
    entries = read_lines(_lines(), NAME)
    assert [entry.number for entry in entries] == [1, 2, 3]
    assert [entry.previous for entry in entries] == [FIRST, entries[0].hash, entries[1].hash]
    assert (entries[1].time, entries[1].who, entries[1].field, entries[1].draft) == (WHEN, "Dr A", "f1", "d" * 64)


def test_every_flipped_bit_of_an_entry_is_found_and_its_entry_named() -> None:
    lines = _lines()
    tried = 0
    for number, line in enumerate(lines):
        for place in range(0, len(line.content), 3):
            flipped = line.content[:place] + chr(ord(line.content[place]) ^ 1) + line.content[place + 1 :]
            with pytest.raises(RecordError, match=rf"^Entry {number + 1} of the journal was changed"):
                read_lines([*lines[:number], Line(flipped, line.hash), *lines[number + 1 :]], NAME)
            tried += 1
    assert tried > 200


@pytest.mark.parametrize("lost", [0, 1])
def test_an_entry_taken_out_breaks_the_chain(lost: int) -> None:
    lines = _lines()
    with pytest.raises(RecordError, match=f"^Entry {lost + 1} of the journal does not follow"):
        read_lines(lines[:lost] + lines[lost + 1 :], NAME)


def test_an_entry_changed_together_with_its_hash_breaks_the_next() -> None:
    lines = _lines()
    content = lines[1].content.replace("f1", "f7")
    with pytest.raises(RecordError, match=r"^Entry 3 of the journal does not follow"):
        read_lines([lines[0], Line(content, digest(content)), lines[2]], NAME)


@pytest.mark.parametrize(
    "content",
    ["", "null", "[]", '{"who": "secret swelling"}', '{"time": {"at": "never", "utc_offset_min": 0}}', "[" * 100_000],
)
def test_what_is_no_entry_is_named_and_not_quoted(content: str) -> None:
    with pytest.raises(RecordError, match=r"^Entry 1 of the journal cannot be read") as caught:
        read_lines([Line(content, digest(content))], NAME)
    assert "secret" not in str(caught.value)


_json = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)


@given(st.lists(st.tuples(st.text(min_size=1), st.none() | st.text(), _json), max_size=6))
def test_whatever_is_written_is_read_back(items: list[tuple[str, str | None, object]]) -> None:
    steps = [Step(what, field, None, value) for what, field, value in items]
    entries = read_lines(write_lines(steps, "Dr A", WHEN, FIRST), NAME)
    assert [(entry.what, entry.field, entry.after) for entry in entries] == items


def test_entries_dated_before_the_one_before_them_are_named_and_keep_their_place() -> None:
    lines: list[Line] = []
    for at in ("2025-03-04T13:30:00Z", "2025-03-04T13:29:00Z", "2025-03-04T13:31:00Z"):
        lines += write_lines([Step("noted")], "Dr A", Moment(at), lines[-1].hash if lines else FIRST)
    entries = read_lines(lines, NAME)
    assert dated_back(entries) == [2]
    assert [entry.time.at[14:16] for entry in entries] == ["30", "29", "31"]


@given(st.datetimes(min_value=datetime(1990, 1, 1), max_value=datetime(2200, 1, 1)), st.integers(-14 * 60, 14 * 60))
def test_a_moment_gives_back_the_local_time(naive: datetime, minutes: int) -> None:
    aware = naive.replace(microsecond=0, tzinfo=timezone(timedelta(minutes=minutes)))
    moment = Moment.of(aware)
    assert moment.local() == aware
    assert moment.at.endswith("Z")
    assert moment.words().startswith(f"{aware:%Y-%m-%d %H:%M}")
