"""Live dictation in a real browser, its microphone fed from a shipped recording in real time: each test a whole dictation."""

from __future__ import annotations

import os
import shutil
import signal
import wave
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from by_keyboard import confirm_all, sign
from served import Served
from sounds_for_tests import sample_part

from dictation.audio import RATE_HZ, read_audio
from dictation.store.store import Encounter, open_store

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser

Serve = Callable[[], Served]
Listen = Callable[[Path], "Browser"]
REFERENCE = "L-2041"
REMEMBER = """() => {
  window.told = [];
  new MutationObserver(() => told.push($("say").textContent)).observe($("say"), { childList: true, characterData: true });
}"""


@pytest.fixture
def listening(chromium: Browser) -> Iterator[Listen]:
    """A browser whose microphone plays a file once, from when it is first asked for."""
    started: list[Browser] = []

    def start(file: Path) -> Browser:
        arguments = ["--no-sandbox"] if os.geteuid() == 0 else []
        started.append(
            chromium.browser_type.launch(
                executable_path=next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome")))),
                args=[
                    *arguments, "--mute-audio", "--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream",
                    f"--use-file-for-fake-audio-capture={file}%noloop",
                ],
            )
        )  # fmt: skip
        return started[-1]

    yield start
    for one in started:
        one.close()


def microphone(folder: Path, *parts: tuple[str, float, float]) -> Path:
    """Write what the microphone hears: parts of samples, one after another."""
    path = folder / "microphone.wav"
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE_HZ)
        for name, start_s, end_s in parts:
            out.writeframes(sample_part(name, start_s, end_s).pcm.tobytes())
    return path


def to_the_microphone(browser: Browser, served: Served) -> Page:
    tab = browser.new_context(viewport={"width": 1024, "height": 768}).new_page()
    tab.set_default_timeout(60_000)
    tab.goto(f"{served.address}/enter?code={served.code}")
    tab.get_by_label("Dictate: your clinic's reference").fill(REFERENCE)
    tab.get_by_role("button", name="To the microphone").click()
    return tab


def begin(tab: Page) -> None:
    tab.get_by_label("The patient has agreed to be recorded").check()
    tab.get_by_role("button", name="Start").click()
    tab.wait_for_function("() => ['beginning', 'listening'].includes(document.body.dataset.state)")


def shows(tab: Page, where: str, words: str) -> None:
    tab.wait_for_function("([id, words]) => document.getElementById(id).textContent.includes(words)", arg=[where, words])


def recorded_s(tab: Page) -> float:
    minutes, seconds = tab.locator("#time").inner_text().split(":")
    return int(minutes) * 60 + int(seconds)


def sound_of(store_folder: Path) -> float:
    """The seconds of the one recording kept for the encounter."""
    (kept,) = (one for one in (store_folder / "sound").rglob("*") if one.is_file())
    return read_audio(kept).duration_s


def held(served: Served) -> Encounter:
    store = open_store(served.store)
    try:
        found = store.find(REFERENCE)
        assert found is not None
        return found
    finally:
        store.close()


def test_an_examination_is_dictated_reviewed_and_signed(serve: Serve, listening: Listen, tmp_path: Path) -> None:
    """A retraction, a switch of side, a moment marked, and no break from the microphone to the signature."""
    file = microphone(tmp_path, ("self_corrections", 0, 23.3), ("self_corrections", 54.5, 59.2), ("small_talk_only", 0, 0.5))
    served = serve()
    tab = to_the_microphone(listening(file), served)
    tab.get_by_role("button", name="Start").click()
    shows(tab, "say", "nothing is recorded without consent")
    assert recorded_s(tab) == 0
    begin(tab)
    shows(tab, "side", "RIGHT")
    shows(tab, "draft", "Wrist extension on the RIGHT: 60°")
    assert "50°" not in tab.locator("#draft").inner_text(), "what was taken back is not shown as said"
    tab.keyboard.press("b")  # as a foot pedal would
    shows(tab, "marks", "Marked: 0:")
    shows(tab, "side", "LEFT")
    shows(tab, "draft", "Wrist extension on the LEFT: 70°")
    tab.get_by_role("button", name="End, and review").click()
    tab.wait_for_selector(".item.current")
    assert confirm_all(tab) > 5
    sign(tab, REFERENCE[-4:])
    encounter = held(served)
    assert encounter.facts.details.consent == "given"
    assert [len(one.marked) for one in encounter.facts.recordings.values()] == [1]
    assert sound_of(served.store) > 28


def test_a_cut_line_a_dead_recogniser_and_a_dead_program_lose_nothing(serve: Serve, listening: Listen, tmp_path: Path) -> None:
    file = microphone(tmp_path, ("self_corrections", 0, 60))
    served = serve()
    tab = to_the_microphone(listening(file), served)
    begin(tab)
    shows(tab, "side", "RIGHT")
    tab.evaluate("socket.close()")
    shows(tab, "say", "is kept in this tab")
    tab.wait_for_function("() => running")
    tab.evaluate(REMEMBER)
    for child in _children(served.pid):
        os.kill(child, signal.SIGKILL)
    tab.wait_for_function("() => told.some((text) => text.includes('started again; no sound is lost'))")
    served.kill()
    tab.wait_for_timeout(3000)  # said while nobody listens
    served.start(served.port)
    tab.get_by_label("Code").fill(served.code)
    tab.get_by_role("button", name="Enter").click()
    tab.wait_for_function("() => running && waiting.length < 20")
    shows(tab, "side", "RIGHT")
    spoken_s = tab.evaluate("context.made.currentTime")  # of the browser's own sound clock
    tab.get_by_role("button", name="End, and review").click()
    tab.wait_for_selector(".item.current")
    assert sound_of(served.store) == pytest.approx(spoken_s, abs=1.0), "what was said while nobody listened is there too"
    assert "RIGHT" in tab.locator("#statements").inner_text()


def test_a_second_tab_looks_on_and_a_reloaded_one_goes_on(serve: Serve, listening: Listen, tmp_path: Path) -> None:
    file = microphone(tmp_path, ("self_corrections", 0, 40))
    served = serve()
    tab = to_the_microphone(listening(file), served)
    begin(tab)
    shows(tab, "side", "RIGHT")
    other = tab.context.new_page()
    other.goto(tab.url)
    shows(other, "side", "RIGHT")
    assert "examining" in other.locator("#said").inner_text()
    other.get_by_role("button", name="Go on").click()
    shows(other, "say", "Another tab sends the sound")
    other.close()
    before = recorded_s(tab)
    tab.reload()
    shows(tab, "side", "RIGHT")
    tab.get_by_role("button", name="Go on").click()
    tab.wait_for_function(
        "before => Number(document.getElementById('time').textContent.split(':')[1]) > before + 2", arg=before
    )
    tab.get_by_role("button", name="Consent withdrawn").click()
    tab.get_by_role("button", name="Delete the sound", exact=True).click()
    tab.wait_for_url(f"{served.address}/")
    assert not list(served.store.rglob("*.wav"))
    assert held(served).facts.details.consent == "withdrawn"


def _children(pid: int) -> list[int]:
    """The decoders of a program: what it spawned and that is no helper of Python's own."""
    found = [one for task in Path(f"/proc/{pid}/task").iterdir() for one in (task / "children").read_text().split()]
    decoders = [int(one) for one in found if b"spawn_main" in Path(f"/proc/{one}/cmdline").read_bytes()]
    assert decoders, "the recogniser runs in a process of its own"
    return decoders
