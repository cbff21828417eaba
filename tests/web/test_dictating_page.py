"""Dictating on the page, without a browser: what a tab sends and is told, and what a cut line or a dead program leaves."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from opened import ADDRESS, OWN, Opened, opened
from scripted_recogniser import chosen
from sounds_for_tests import sample_part
from starlette.testclient import WebSocketTestSession
from starlette.websockets import WebSocketDisconnect

from dictation.audio import read_audio
from dictation.store.store import Encounter
from dictation.web.entry import IDLE_S

SOUND = sample_part("self_corrections", 0, 6).pcm


@pytest.fixture(autouse=True)
def scripted(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every utterance is "left wrist swelling"."""
    monkeypatch.setattr("dictation.recognition.choose.choose_recogniser", chosen)


@pytest.fixture
def page(tmp_path: Path) -> Iterator[Opened]:
    """The page, let in."""
    found = opened(tmp_path)
    yield found
    found.dictations.close()


def begin_encounter(page: Opened, reference: str = "H-3107") -> str:
    """Open an encounter on the work list; return the path of its dictation."""
    answer = page.client.post("/dictate", data={"reference": reference, "purpose": "nerve", "age": "41"}, headers=OWN)
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def test_a_reference_that_looks_like_a_name_is_asked_about_first(page: Opened) -> None:
    stated = {"reference": "Mary Jones 1970", "purpose": "nerve"}
    asked = page.client.post("/dictate", data=stated, headers=OWN)
    assert asked.status_code == 200
    assert "That looks like a name" in asked.text
    assert 'value="nerve"' in asked.text
    assert page.dictations.store.find("Mary Jones 1970") is None
    assert page.client.post("/dictate", data={**stated, "no_name": "yes"}, headers=OWN).status_code == 303
    assert page.dictations.store.find("Mary Jones 1970") is not None


class Line:
    """One tab's line to the program."""

    def __init__(self, page: Opened, path: str) -> None:
        self.url = f"ws{ADDRESS.removeprefix('http')}{path}/sound"
        self.client = page.client
        self.known: dict[str, Any] = {}

    def __enter__(self) -> Line:
        self.context = self.client.websocket_connect(self.url, headers=dict(OWN))
        self.socket: WebSocketTestSession = self.context.__enter__()
        return self

    def __exit__(self, *_: Any) -> None:
        self.context.__exit__(None, None, None)

    def do(self, what: str, **more: Any) -> None:
        self.socket.send_text(json.dumps({"do": what, **more}))

    def sound(self, place: int, pcm: np.ndarray) -> None:
        self.socket.send_bytes(place.to_bytes(8, "little") + pcm.astype("<i2").tobytes())

    def until(self, wanted: Callable[[dict[str, Any]], Any], limit_s: float = 30.0) -> dict[str, Any]:
        """Take in news until it is as wanted; return all that is known."""
        end = time.monotonic() + limit_s
        while not wanted(self.known):
            assert time.monotonic() < end, f"it did not come to that: {self.known}"
            self.known |= self.socket.receive_json()
        return self.known

    def begin(self) -> dict[str, Any]:
        self.do("begin", consent=True, press=1)
        return self.until(lambda news: news.get("begun") == 1)


def held(page: Opened, path: str) -> Encounter:
    return Encounter(page.store, path.rsplit("/", 1)[1])


def test_from_the_work_list_to_the_review_without_a_break(page: Opened) -> None:
    path = begin_encounter(page)
    assert "Nothing is recorded yet" in page.client.get(path).text
    with Line(page, path) as line:
        line.do("begin", consent=False, press=1)
        assert "without consent" in line.until(lambda news: news.get("refused"))["refused"]
        assert held(page, path).facts.details.consent is None
        line.begin()
        for at in range(0, len(SOUND), 1600):
            line.sound(at, SOUND[at : at + 1600])
        news = line.until(lambda news: news.get("kept") == len(SOUND) and "LEFT" in news["pieces"]["side"])
        assert "Swelling at the LEFT wrist" in news["pieces"]["draft"]
        assert "left wrist swelling" in news["pieces"]["said"]
        assert "Median nerve sensation, LEFT" in news["pieces"]["missing"], "by the purpose of the encounter"
        line.do("mark")
        line.until(lambda news: news.get("marks") == "0:06")
        line.do("end")
        go = line.until(lambda news: news.get("go"))["go"]
    encounter = held(page, path)
    (draft,) = encounter.facts.drafts
    assert go == f"/review/{encounter.id}/{draft}"
    review = page.client.get(go).text
    assert "Swelling at the LEFT wrist" in review
    assert "Marked at 0:06 while dictating" in review
    assert 'data-plays="0.00:8.00" data-what="Marked at 0:06"' in review
    assert encounter.facts.details.consent == "given"
    assert encounter.facts.details.age == 41
    (recording,) = encounter.facts.recordings.values()
    assert recording.marked == (6.0,)


def test_what_is_sent_again_after_a_cut_line_is_kept_once(page: Opened) -> None:
    path = begin_encounter(page)
    with Line(page, path) as line:
        line.begin()
        line.sound(0, SOUND[:8000])
        line.until(lambda news: news.get("kept") == 8000)
    with Line(page, path) as line:
        assert line.begin()["kept"] == 8000
        line.sound(4000, SOUND[4000:16000])
        line.sound(0, SOUND[:1600])
        line.sound(16000, SOUND[16000:])
        line.until(lambda news: news.get("kept") == len(SOUND))
        line.do("end")
        line.until(lambda news: news.get("go"))
    (kept,) = (one for one in (page.store.folder / "sound").rglob("*") if one.is_file())
    assert np.array_equal(read_audio(kept).pcm, SOUND)


def test_a_gap_or_what_is_no_sound_is_refused_and_nothing_of_it_is_kept(page: Opened) -> None:
    with Line(page, begin_encounter(page)) as line:
        line.begin()
        for sent in (b"", b"\0" * 7, b"\0" * 9, (1600).to_bytes(8, "little") + b"\0\0", b"\0" * ((1 << 20) + 2)):
            line.known.pop("refused", None)
            line.socket.send_bytes(sent)
            assert "load it again" in line.until(lambda news: news.get("refused"))["refused"]
        for text in ("", "no JSON", "[]", '{"do": "reboot"}', '{"do": ["begin"]}'):
            line.known.pop("refused", None)
            line.socket.send_text(text)
            assert "load it again" in line.until(lambda news: news.get("refused"))["refused"]
        assert line.known["kept"] == 0


def test_one_tab_sends_and_the_others_look_on(page: Opened) -> None:
    path = begin_encounter(page)
    with Line(page, path) as first, Line(page, path) as second:
        first.begin()
        second.do("begin", consent=True, press=1)
        assert "Another tab" in second.until(lambda news: news.get("refused"))["refused"]
        first.sound(0, SOUND[:1600])
        assert second.until(lambda news: news.get("kept") == 1600)["begun"] == 0
        second.known.pop("refused")
        second.sound(1600, SOUND[1600:3200])
        assert "does not send" in second.until(lambda news: news.get("refused"))["refused"]
        first.do("pause")
        second.until(lambda news: news["state"] == "paused")
    with Line(page, path) as second:
        assert second.begin()["state"] in {"listening", "paused"}


def test_a_program_that_died_goes_on_where_it_stopped(page: Opened, tmp_path: Path) -> None:
    path = begin_encounter(page)
    with Line(page, path) as line:
        line.begin()
        line.sound(0, SOUND[:48_000])
        line.until(lambda news: news.get("kept") == 48_000)
    page.dictations.close()  # no goodbye: what is on disk is all that is left
    again = opened(tmp_path)
    assert "was broken off" in again.client.get(path).text
    with Line(again, path) as line:
        assert line.begin()["kept"] == 48_000
        line.sound(48_000, SOUND[48_000:])
        line.until(lambda news: news.get("kept") == len(SOUND))
        line.do("end")
        line.until(lambda news: news.get("go"))
    assert len(held(again, path).facts.drafts) == 1


def test_a_dictation_broken_off_can_be_ended_without_the_microphone(page: Opened, tmp_path: Path) -> None:
    path = begin_encounter(page)
    with Line(page, path) as line:
        line.begin()
        line.sound(0, SOUND)
        line.until(lambda news: news.get("kept") == len(SOUND))
    page.dictations.close()
    again = opened(tmp_path)
    with Line(again, path) as line:
        line.do("end")
        assert line.until(lambda news: news.get("go"))["go"].startswith("/review/")


def test_withdrawn_consent_deletes_the_sound_and_ends_it_in_every_tab(page: Opened) -> None:
    path = begin_encounter(page)
    with Line(page, path) as first, Line(page, path) as second:
        first.begin()
        first.sound(0, SOUND)
        second.until(lambda news: news.get("kept") == len(SOUND))
        second.do("withdraw")
        first.until(lambda news: news.get("over"))
        second.until(lambda news: news.get("over"))
    assert not list(page.store.folder.rglob("*.wav"))
    assert "withdrawn: nothing is recorded" in page.client.get(path).text


def test_a_session_that_ended_hears_nothing_more_and_the_sound_stays(page: Opened) -> None:
    path = begin_encounter(page)
    with Line(page, path) as line:
        line.begin()
        line.sound(0, SOUND[:1600])
        line.until(lambda news: news.get("kept") == 1600)
        page.clock.time = 2 * IDLE_S
        line.until(lambda news: news.get("locked"))
    code = page.entry.offer()
    assert page.client.post("/enter", data={"code": code, "to": path}, headers=OWN).status_code == 303
    with Line(page, path) as line:
        assert line.begin()["kept"] == 1600


@pytest.mark.parametrize("headers", [{"origin": "http://elsewhere.example"}, {"host": "elsewhere.example"}, {"origin": ""}])
def test_another_page_hears_and_sends_nothing(page: Opened, headers: dict[str, str]) -> None:
    path = begin_encounter(page)
    with (
        pytest.raises(WebSocketDisconnect),
        page.client.websocket_connect(f"ws{ADDRESS.removeprefix('http')}{path}/sound", headers={**OWN, **headers}),
    ):
        pass
