"""How far a run is, and the table at its end."""

from __future__ import annotations

from dictation.bulk.work import Row
from dictation.terminal.bulk_progress import TimeLeft, bulk_table


def test_the_time_left_is_that_of_the_pace_so_far() -> None:
    now = [0.0]
    time = TimeLeft({"a": 100, "b": 300}, lambda: now[0])
    assert time.left_s() is None
    now[0] = 10.0
    time.heard("a", 1.0)
    assert (time.share(), time.left_s()) == (0.25, 30.0)
    time.heard("b", 0.5)
    now[0] = 25.0
    assert time.left_s() == 15.0
    time.heard("b", 0.2)  # a recording begun again takes nothing back
    assert time.left_s() == 15.0
    time.heard("b", 1.0)
    assert (time.share(), time.left_s()) == (1.0, 0.0)
    assert TimeLeft({}).share() == 1.0


def test_the_table_has_a_line_a_recording_and_nothing_that_acts_on_a_screen() -> None:
    rows = [
        ("a/\x1b[2Kb[red].wav", Row(3725.2, 40, 5, 2, ("The voice stands hardly over the noise.",))),
        ("c.txt", Row(None, 3, 0, 0, ())),
    ]
    head, first, second = bulk_table(rows, 120).splitlines()
    assert head.split() == ["file", "length", "fields", "doubtful", "unplaced", "warnings"]
    assert first.split(maxsplit=5) == ["a/[2Kb[red].wav", "1:02:05", "40", "5", "2", "The voice stands hardly over the noise."]
    assert second.split() == ["c.txt", "3", "0", "0"]
