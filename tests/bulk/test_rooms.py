"""Several rooms draft into one department's store, on a real server: each recording once, whoever is killed."""

from __future__ import annotations

import os
import signal
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path

import postgresql_for_tests
import pytest
from test_run import Here

from dictation.bulk import run
from dictation.bulk.keeping import Keeping
from dictation.bulk.recordings import find_recordings
from dictation.bulk.run import Report, draft_all, find_todo
from dictation.bulk.work import Job, how_to_draft
from dictation.bulk.workers import Begun, Event
from dictation.settings import Settings, read_settings
from dictation.store.store import open_store
from dictation.store.verifying import verify_store

pytestmark = pytest.mark.slow
server = postgresql_for_tests.server  # a fixture
COUNT = 30


class Noting(Here):
    """Drafts here, slowly, and says each name it takes up through a pipe."""

    said: int

    def run(self, jobs: Iterable[Job]) -> Iterator[Event]:
        for event in super().run(jobs):
            if isinstance(event, Begun):
                os.write(self.said, f"{os.getpid()} {event.name}\n".encode())
                time.sleep(0.02)
            yield event


@pytest.fixture
def settings(server: Path, tmp_path: Path) -> Settings:
    """Settings of a department's store, and a folder of recordings that its rooms share."""
    url = postgresql_for_tests.url_of(server, f"r{abs(hash(str(tmp_path)))}")
    (tmp_path / "in").mkdir()
    for number in range(COUNT):
        (tmp_path / "in" / f"{number:02}.txt").write_text(f"Right wrist. No swelling. Extension {number}.", encoding="utf-8")
    return replace(
        read_settings({}), store_folder=tmp_path / "store", store_url=url, personal_lexicon=None, whisper_model=None
    )


def _room(tmp_path: Path, settings: Settings, out: str, said: int, room: str | None = None) -> Report:
    how = how_to_draft("auto", settings)
    report, runner = Report(), Noting(how)
    runner.said = said
    found = find_recordings([tmp_path / "in"], tmp_path / out, ["*.txt"])
    with Keeping(tmp_path / out, settings, f"Dr {out}", room) as keeping:
        draft_all(find_todo(found, how, keeping, report), runner, keeping, report, lambda event: None)
    return report


def _forked(work: Callable[[], object]) -> int:
    child = os.fork()
    if child == 0:
        try:
            work()
        finally:
            os._exit(0)
    return child


def test_no_recording_is_drafted_by_two_rooms_and_a_killed_one_loses_nothing(
    tmp_path: Path, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(run, "AGAIN_S", 0.1)
    how_to_draft("auto", settings)  # loaded once, before the forks
    hears, says = os.pipe()
    rooms = [_forked(lambda out=out: _room(tmp_path, settings, out, says)) for out in ("one", "two", "three")]  # type: ignore[misc]
    os.close(says)
    begun, killed = b"", False
    while more := os.read(hears, 4096):
        begun += more
        if not killed and begun.count(f"{rooms[0]} ".encode()) >= 3:  # it has just taken up another one
            os.kill(rooms[0], signal.SIGKILL)
            killed = True
    assert killed
    ends = [os.waitpid(room, 0)[1] for room in rooms]
    assert ends == [signal.SIGKILL, 0, 0]
    taken = [line.split() for line in begun.decode().splitlines()]
    times = Counter(name for _, name in taken)
    assert set(times) == {f"{number:02}.txt" for number in range(COUNT)}
    twice = [name for name, count in times.items() if count > 1]
    assert len(twice) <= 1  # the one in flight
    assert all(str(rooms[0]) in {room for room, name in taken if name == one} for one in twice)
    assert len({room for room, _ in taken}) == 3
    store = open_store(settings.store_folder, settings.store_url)
    assert sorted(one.reference for one in store.encounters()) == [f"{number:02}" for number in range(COUNT)]
    assert {one.drafts for one in store.encounters()} == {1}
    assert verify_store(store).faults == []
    store.close()
    os.close(hears)


def test_what_another_room_drafted_is_skipped_and_references_of_two_rooms_do_not_meet(
    tmp_path: Path, settings: Settings
) -> None:
    silent = os.open(os.devnull, os.O_WRONLY)
    first = _room(tmp_path, settings, "one", silent, "room1")
    assert len(first.rows) == COUNT
    second = _room(tmp_path, settings, "two", silent, "room2")  # its own folder of drafts is empty
    assert (len(second.rows), len(second.skipped)) == (0, COUNT)
    (tmp_path / "in" / "00.txt").write_text("Left elbow tender.", encoding="utf-8")
    third = _room(tmp_path, settings, "two", silent, "room2")
    assert list(third.rows) == ["00.txt"]
    store = open_store(settings.store_folder, settings.store_url)
    assert {"room1/00", "room2/00"} <= {one.reference for one in store.encounters()}
    store.close()
    os.close(silent)
