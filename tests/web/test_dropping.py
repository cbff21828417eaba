"""Recordings dropped onto the work list: taken whole, drafted by a worker, taken into their encounter with their sound."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from types import TracebackType
from typing import Any, ClassVar

import pytest
from opened import OWN, Opened, opened
from scripted import WHO, invented_examination

from dictation.bulk.work import How, Job, Outcome
from dictation.bulk.workers import Begun, Event, Heard
from dictation.errors import AudioError
from dictation.web.dropping import FOLDER, Dropping


class _Workers:
    """Stands in for the worker: drafts an invented examination, or fails over a file that says so."""

    looks: ClassVar[list[Callable[[], None]]] = []
    """Called while a recording is half heard."""

    def __init__(self, how: How, count: int) -> None:
        assert count == 1

    def __enter__(self) -> _Workers:
        return self

    def __exit__(self, kind: type[BaseException] | None, err: BaseException | None, trace: TracebackType | None) -> None:
        return None

    def run(self, jobs: Iterable[Job]) -> Iterator[Event]:
        for job in jobs:
            yield Begun(job.name)
            yield Heard(job.name, 30.0, 60.0)
            for look in self.looks:
                look()
            if b"noise" in job.path.read_bytes():
                yield Outcome(job.name, None, None, AudioError(f"{job.path} is not sound that can be read; record it again."))
                continue
            draft = invented_examination().draft()
            draft.source.sha256, draft.source.name = job.sha256, job.path.name
            yield Outcome(job.name, draft.model_dump_json(), None, None)


@pytest.fixture
def page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Opened]:
    """The page, with a worker that stands in."""
    monkeypatch.setattr("dictation.web.dropping.LocalWorkers", _Workers)
    monkeypatch.setattr("dictation.web.dropping.IDLE_S", 0.05)
    found = opened(tmp_path)
    yield found
    found.dropping.close()


def _drop(page: Opened, content: bytes, **asked: str) -> tuple[int, dict[str, Any]]:
    query = {"name": "clinic.wav", "reference": "D-1", **asked}
    answer = page.client.post("/drop", params=query, content=content, headers=OWN)
    return answer.status_code, answer.json()


def _until(page: Opened, words: str) -> str:
    for _ in range(200):
        rows = page.client.get("/rows").text
        if words in rows:
            return rows
        time.sleep(0.02)
    pytest.fail(f"the list never said {words}: {page.client.get('/rows').text}")


def _left(folder: Path) -> list[str]:
    """The recordings that wait in the store's folder."""
    return [path.name for path in (folder / "store" / FOLDER).rglob("*") if path.is_file() and path.name != "in-use"]


def test_a_dropped_recording_becomes_a_draft_with_its_sound_and_its_copy_goes(
    page: Opened, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown: list[str] = []
    monkeypatch.setattr(_Workers, "looks", [lambda: shown.append(page.client.get("/rows").text)])
    assert _drop(page, b"sound") == (200, {"say": "Dropped."})
    rows = _until(page, "Review it")
    assert "listening, 50 %" in shown[0]
    assert "11 statements, 2 to check first" in rows
    encounter = page.store.encounter("D-1")
    (recording,) = encounter.facts.recordings.values()
    assert (recording.name, recording.kept) == ("clinic.wav", True)
    assert encounter.entries[0].who == WHO
    assert _left(tmp_path) == []


def test_what_cannot_be_drafted_says_why_and_the_next_still_goes_through(page: Opened, tmp_path: Path) -> None:
    _drop(page, b"noise", name="bad.wav", reference="D-2")
    _drop(page, b"sound", name="good.wav", reference="D-3")
    rows = _until(page, "Review it")
    assert "bad.wav is not sound that can be read" in rows
    assert str(tmp_path) not in rows
    assert page.store.find("D-2") is None
    assert _left(tmp_path) == []


def test_a_reference_that_is_there_has_to_be_meant(page: Opened) -> None:
    status, answer = _drop(page, b"sound", reference="h-2041")
    assert status == 404
    assert "already" in answer["refused"]
    assert _drop(page, b"sound", reference="h-2041", known="yes")[0] == 200
    _until(page, "Review it")
    assert len(page.store.encounter("H-2041").facts.drafts) == 2


@pytest.mark.parametrize("reference", ["", "  ", "<b>", "../up", "x" * 41])
def test_a_reference_that_cannot_be_one_is_refused(page: Opened, reference: str) -> None:
    assert _drop(page, b"sound", reference=reference)[0] == 404


@pytest.mark.parametrize("name", ["../../outside.wav", "/etc/passwd", "a\0b.wav", "..\u202e.wav"])
def test_the_name_of_a_file_leads_nowhere_else(page: Opened, tmp_path: Path, name: str) -> None:
    _drop(page, b"sound", name=name, reference="D-4")
    deadline = time.monotonic() + 4
    while time.monotonic() < deadline and any(drop in page.client.get("/rows").text for drop in ("waiting", "listening")):
        time.sleep(0.02)
    assert not (tmp_path / "outside.wav").exists()
    assert {path.name for path in tmp_path.iterdir()} <= {"store", "invented.draft.json"}
    assert _left(tmp_path) == []


def test_what_is_dropped_is_bounded(page: Opened, tmp_path: Path) -> None:
    headers = {**OWN, "content-length": str(3 << 30)}
    assert page.client.post("/drop?name=a.wav&reference=D-5", content=b"x", headers=headers).status_code == 413
    assert page.store.find("D-5") is None


def test_a_recording_can_be_given_up(tmp_path: Path) -> None:
    dropping = opened(tmp_path).dropping
    file = dropping.place("clinic.wav")
    file.write_bytes(b"sound")
    dropping._thread = object()  # type: ignore[assignment]  # nobody works
    drop = dropping.add(file, "D-6", WHO)
    dropping.stop(drop.id)
    assert [one.state for one in dropping.drops()] == ["stopped"]
    dropping.close()
    assert _left(tmp_path) == []


def test_what_a_stopped_program_left_is_cleared_away_and_a_running_one_s_is_not(tmp_path: Path) -> None:
    page = opened(tmp_path)
    left = tmp_path / "store" / FOLDER / "left"
    left.mkdir(parents=True)
    (left / "clinic.wav").write_bytes(b"sound")
    running = page.dropping
    running.place("one.wav").write_bytes(b"sound")
    assert _left(tmp_path) == ["one.wav"]
    other = Dropping(page.store, running.settings)
    other.place("two.wav").write_bytes(b"sound")
    assert sorted(_left(tmp_path)) == ["one.wav", "two.wav"]
    running.close()
    other.close()
    assert _left(tmp_path) == []
