"""The page in a real browser: from a shipped recording to a signed note, by keyboard, by ear, in two tabs, after a restart."""

from __future__ import annotations

import urllib.error
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from by_keyboard import confirm_all, sign
from scripted import ENDING, REFERENCE, WHEN, Script, again, check, info, invented_examination
from served import Served, many_fields, seed, seed_heard

from dictation.review.rules import Review

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Page

pytestmark = pytest.mark.browser

SAMPLES = Path(__file__).parents[2] / "samples"
AXE = Path(__file__).parent / "axe" / "axe.min.js"
SOUND = SAMPLES / "background_noise.opus"
Enter = Callable[[Served], "Page"]
Serve = Callable[[], Served]


MOVES = """() => {
  window.moved = 0; window.moves = [];
  const name = (source) => (source.node?.parentElement || document.body).className;
  const take = (one) => { moved += one.value; moves.push(...one.sources.map(name)); };
  new PerformanceObserver((list) => list.getEntries().forEach(take)).observe({ type: "layout-shift", buffered: true });
}"""
"""Begins to sum up by how much anything on the page moved, from its loading on."""


def _open(tab: Page, reference: str = REFERENCE) -> Page:
    tab.get_by_role("link", name=reference, exact=True).click()
    tab.wait_for_selector(".item.current")
    return tab


def _said(tab: Page, words: str) -> str:
    tab.wait_for_function("words => document.getElementById('say').textContent.includes(words)", arg=words)
    return tab.locator("#say").text_content() or ""


def _mark(tab: Page, field: str) -> None:
    tab.locator(f"[data-field='{field}']").click()
    tab.wait_for_selector(f".current[data-field='{field}']")


def _state(tab: Page, field: str) -> str | None:
    return tab.locator(f"[data-field='{field}']").get_attribute("data-state")


def test_from_a_dropped_recording_to_a_signed_note_by_keyboard(serve: Serve, enter: Enter) -> None:
    tab = enter(serve())
    tab.get_by_label("Drop recordings here").set_input_files(SOUND)
    reference = tab.get_by_label("Reference for background_noise.opus")
    assert reference.input_value() == "background_noise"
    reference.fill("Q-7788")
    tab.get_by_role("button", name="Draft these").press("Enter")
    tab.wait_for_selector("progress")
    tab.get_by_role("link", name="Review it").click(timeout=120_000)
    tab.wait_for_selector(".item.current")
    assert confirm_all(tab) > 10
    assert "Nothing more is" in _said(tab, "Nothing more is")
    sign(tab, "7788")
    with tab.expect_download() as taken:
        tab.get_by_role("link", name="Plain text").click()
    note = Path(taken.value.path()).read_text(encoding="utf-8")
    assert "Dr A. Invented" in note
    assert "Finkelstein" in note


def test_sound_plays_from_before_a_statement_s_words_to_after(serve: Serve, enter: Enter, tmp_path: Path) -> None:
    script = invented_examination()
    seed_heard(tmp_path, script, SOUND, "Q-1")
    tab = _open(enter(serve()), "Q-1")
    field = script.fields[4]
    _mark(tab, field.id)
    tab.keyboard.press("Space")
    tab.wait_for_function("() => document.getElementById('sound').currentTime > 0.3")
    start, end = field.evidence[0].start, field.evidence[0].end
    assert start is not None
    assert end is not None
    length = tab.evaluate("document.getElementById('sound').duration")
    assert length == pytest.approx(end - start + 2, abs=0.02)
    tab.keyboard.press("Space")
    assert tab.evaluate("document.getElementById('sound').paused")
    assert _state(tab, field.id) == "pending"


def test_moving_decides_nothing_and_next_is_not_confirm(serve: Serve, enter: Enter, tmp_path: Path) -> None:
    review = seed(tmp_path, invented_examination())
    tab = _open(enter(serve()))
    for key in ["ArrowDown"] * 15 + ["ArrowUp"] * 4 + ["n", "n", "Enter", "Tab"]:
        tab.keyboard.press(key)
    assert tab.evaluate("document.querySelector('input:checked, option[selected]')?.id") == "keys"  # nothing preselected
    assert again(review).journal.entries == ()


def test_a_key_held_down_decides_once(serve: Serve, enter: Enter, tmp_path: Path) -> None:
    review = seed(tmp_path, invented_examination())
    tab = _open(enter(serve()))
    _mark(tab, "f2")
    tab.keyboard.down("c")
    for _ in range(5):
        tab.keyboard.down("c")  # repeats
    tab.keyboard.up("c")
    _said(tab, "Confirmed")
    assert len(again(review).journal.entries) == 1


def test_choosing_a_word_shows_its_statement_and_a_statement_its_words(serve: Serve, enter: Enter, tmp_path: Path) -> None:
    seed(tmp_path, invented_examination())
    tab = _open(enter(serve()))
    tab.locator(".words a", has_text="redness").click()
    assert tab.locator(".item.current").get_attribute("data-field") == "f3"
    assert tab.locator(".words .now").all_inner_texts() == ["no", "redness"]
    tab.locator("#transcript a").first.focus()
    tab.keyboard.press("ArrowRight")
    tab.keyboard.press("ArrowRight")
    tab.keyboard.press("Enter")
    assert tab.locator(".item.current").get_attribute("data-field") == "f2"


def test_a_run_of_carried_side_is_decided_as_one_block(serve: Serve, enter: Enter, tmp_path: Path) -> None:
    script = Script()
    ids = [
        script.say("swelling", "swollen", side="right", status="present", flags=[info("side_carried")]),
        script.say("scar", "no scar", side="right", status="absent", flags=[info("side_carried")]),
    ]
    script.carry("right", *ids)
    review = seed(tmp_path, script)
    tab = _open(enter(serve()))
    assert tab.locator(".item.current").get_attribute("data-kind") == "run"
    _mark(tab, "f1")
    tab.keyboard.press("c")
    _said(tab, "Decide the side of the stretch")
    tab.locator(".item.run").click()
    tab.keyboard.press("Shift+L")
    _said(tab, "All of that stretch is LEFT")
    assert tab.locator("#field-f1 .side").inner_text() == "LEFT"
    assert again(review).state.runs == {0: "left"}


def test_a_group_is_confirmed_only_after_all_of_it_was_on_the_screen(serve: Serve, enter: Enter, tmp_path: Path) -> None:
    script = Script()
    for finger in ("thumb", "index", "middle", "ring", "little"):
        for joint in ("mcp", "ip") if finger == "thumb" else ("mcp", "pip", "dip"):
            script.say("swelling", f"no swelling {finger}", side="right", status="absent", digit=finger, joint=joint)
    script.say("scar", "no scar, perhaps", side="right", status="absent", flags=[check("negation_unclear")])
    script.say("erythema", "red", side="right", status="present")
    review = seed(tmp_path, script)
    tab = _open(enter(serve()))
    group = tab.locator(".item.group")
    offered = group.evaluate("item => fields(item)")
    assert {"f15", "f16"}.isdisjoint(offered)  # a doubt, a positive
    group.click()
    tab.keyboard.press("t")
    _said(tab, "Not every field of the group was shown")
    assert again(review).journal.entries == ()
    for field in offered:
        _mark(tab, field)
    tab.wait_for_function("ids => ids.every((id) => seen.has(id))", arg=offered)
    group.click()
    tab.keyboard.press("t")
    _said(tab, "together")
    assert set(again(review).state.pending) == {"f15", "f16"}
    tab.keyboard.press("u")
    _said(tab, "Taken back")
    assert len(again(review).state.pending) == 16


def test_an_amendment_shows_what_it_contradicts_before_it_counts(serve: Serve, enter: Enter, tmp_path: Path) -> None:
    script = Script()
    script.say("swelling", "swelling of the right wrist", side="right", joint="wrist", status="present")
    script.say("swelling", "no swelling of the left wrist", side="left", joint="wrist", status="absent")
    review = seed(tmp_path, script)
    tab = _open(enter(serve()))
    _mark(tab, "f2")
    tab.keyboard.press("a")
    tab.get_by_label("Side").select_option("right")
    tab.keyboard.press("Enter")  # in a select it decides nothing
    tab.get_by_role("button", name="See how it would read").press("Enter")
    tab.wait_for_selector("#look .doubt")
    assert "does not agree with “Swelling at the RIGHT wrist”" in tab.locator("#look").inner_text()
    assert again(review).journal.entries == ()
    tab.keyboard.press("c")
    _said(tab, "Amended: No swelling at the RIGHT wrist")
    assert "does not agree" in tab.locator("#field-f1 .doubt").inner_text()


def test_unplaced_speech_is_turned_into_a_statement_by_keyboard(serve: Serve, enter: Enter, tmp_path: Path) -> None:
    review = seed(tmp_path, invented_examination())
    tab = _open(enter(serve()))
    tab.locator(".item.speech").click()
    tab.keyboard.press("s")
    tab.wait_for_selector("#names-words")
    tab.keyboard.type("tendernes")
    tab.wait_for_selector("[data-concept=tenderness]")
    while tab.evaluate("document.activeElement.dataset.concept") != "tenderness":
        tab.keyboard.press("Tab")
    tab.keyboard.press("Enter")
    tab.wait_for_selector("#c-side")
    tab.get_by_label("Side").select_option("right")
    tab.get_by_label("Status").select_option("present")
    tab.get_by_role("button", name="See how it would read").click()
    tab.wait_for_selector("#look [data-do=accept]")
    tab.keyboard.press("c")
    tab.wait_for_selector("#field-added-1")
    assert "Became" in tab.locator("#speech-0 .outcome").inner_text()
    assert again(review).state.uncleared == []


def test_reload_half_way_and_a_restart_lose_nothing(serve: Serve, enter: Enter, tmp_path: Path) -> None:
    review = seed(tmp_path, invented_examination())
    served = serve()
    tab = _open(enter(served))
    for field in ("f2", "f3"):
        _mark(tab, field)
        tab.keyboard.press("c")
        _said(tab, "Confirmed: " + (review.word(review.state.fields[field].field)))
    tab.reload()
    tab.wait_for_selector(".item.current")
    assert (_state(tab, "f2"), _state(tab, "f4")) == ("confirmed", "pending")
    served.stop()
    _said(tab, "does not answer")
    _mark(tab, "f4")
    tab.keyboard.press("c")
    _said(tab, "nothing was decided")
    served.start(served.port)
    tab.reload()  # the session was the stopped program's
    tab.get_by_label("Code").fill(served.code)
    tab.keyboard.press("Enter")
    tab.wait_for_selector(".item.current")
    assert (_state(tab, "f2"), _state(tab, "f3"), _state(tab, "f4")) == ("confirmed", "confirmed", "pending")
    _mark(tab, "f4")
    tab.keyboard.press("c")
    _said(tab, "Confirmed")
    assert set(again(review).state.fields) - set(again(review).state.pending) == {"f2", "f3", "f4"}


def test_two_tabs_stay_in_step_and_a_stale_one_changes_nothing(
    serve: Serve, enter: Enter, context: BrowserContext, tmp_path: Path
) -> None:
    review = seed(tmp_path, invented_examination())
    first = _open(enter(serve()))
    second = context.new_page()
    second.goto(first.url)
    second.wait_for_selector(".item.current")
    _mark(first, "f2")
    first.keyboard.press("c")
    second.wait_for_selector("#field-f2[data-state=confirmed]")
    third = context.new_page()
    third.add_init_script("window.WebSocket = class { send() {} };")  # a tab that hears nothing of the others
    third.goto(first.url)
    third.wait_for_selector(".item.current")
    _mark(first, "f3")
    first.keyboard.press("c")
    _said(first, "Confirmed: No erythema")
    third.evaluate("document.getElementById('field-f3').click()")
    third.keyboard.press("r")
    third.keyboard.press("2")
    assert "Meanwhile" in _said(third, "Nothing was written") or "confirmed: No erythema" in _said(third, "Nothing was written")
    assert again(review).state.fields["f3"].state == "confirmed"
    assert _state(third, "f3") == "confirmed"


def test_a_session_that_ends_takes_the_page_off_the_screen(serve: Serve, enter: Enter, tmp_path: Path) -> None:
    seed(tmp_path, invented_examination())
    served = serve()
    tab = _open(enter(served))
    base = tab.url
    tab.context.clear_cookies()
    tab.locator("#field-f2").click()
    tab.keyboard.press("c")
    tab.get_by_label("Code").wait_for()
    assert "swelling" not in tab.content()
    served.link()
    tab.get_by_label("Code").fill(served.code)
    tab.keyboard.press("Enter")
    tab.wait_for_selector(".item.current")
    assert tab.url.split("#")[0] == base


def test_wrong_code_wrong_host_and_other_origins_are_refused(
    serve: Serve, enter: Enter, context: BrowserContext, tmp_path: Path
) -> None:
    review = seed(tmp_path, invented_examination())
    served = serve()
    other = context.new_page()
    other.goto(f"{served.address}/enter?code=aaaa-bbbb-cccc")
    assert "not the code" in other.content()
    tab = _open(enter(served))
    base = tab.url
    for host in ("elsewhere.example", f"elsewhere.example:{served.port}"):
        asked = urllib.request.Request(served.address + "/enter", headers={"host": host})
        with pytest.raises(urllib.error.HTTPError) as refused:
            urllib.request.urlopen(asked, timeout=10)
        assert refused.value.code == 421
    # another origin of the same machine, with the cookie that a browser sends to every port
    with _elsewhere(context) as elsewhere:
        status = elsewhere.evaluate(
            "url => fetch(url, {method: 'POST', mode: 'no-cors', credentials: 'include',"
            " headers: {'content-type': 'application/x-www-form-urlencoded'}, body: 'what=confirm&field=f2&version=2'})"
            ".then((answer) => answer.type, () => 'refused')",
            base + "/decide",
        )
        assert status in {"opaque", "refused"}  # its answer cannot be read either way
        opened = (
            "url => new Promise((done) => { const socket = new WebSocket(url);"
            " socket.onopen = () => done('open'); socket.onerror = () => done('no'); })"
        )
        follow = base.replace("http:", "ws:") + "/follow"
        assert elsewhere.evaluate(opened, follow) == "no"
        assert tab.evaluate(opened, follow) == "open"
    assert again(review).journal.entries == ()


class _elsewhere:
    """A page of another server of this machine."""

    def __init__(self, context: BrowserContext) -> None:
        self._context = context

    def __enter__(self) -> Page:
        import http.server
        import threading

        class Quiet(http.server.BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                self.send_response(200)
                self.end_headers()
                self.wfile.write(b"<title>elsewhere</title>")

            def log_message(self, format: str, *args: Any) -> None:
                return None

        self._server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Quiet)
        threading.Thread(target=self._server.serve_forever, daemon=True).start()
        page = self._context.new_page()
        page.goto(f"http://127.0.0.1:{self._server.server_address[1]}/")
        return page

    def __exit__(self, *error: object) -> None:
        self._server.shutdown()
        self._server.server_close()


def test_three_hundred_statements_stay_quick(serve: Serve, enter: Enter, tmp_path: Path) -> None:
    """Moving and deciding; measured in full by tests/benchmarks/bench_page.py."""
    seed(tmp_path, many_fields(300))
    tab = _open(enter(serve()))
    assert tab.locator(".item.field").count() == 300
    tab.evaluate(
        "window.slow = []; new PerformanceObserver((list) => list.getEntries().forEach((one) => slow.push(one.processingEnd"
        " - one.processingStart))).observe({type: 'event', durationThreshold: 16})"
    )
    for _ in range(20):
        tab.keyboard.press("ArrowDown")
    _mark(tab, "f3")
    tab.keyboard.press("c")
    _said(tab, "Confirmed")
    assert max(tab.evaluate("slow"), default=0) < 100  # ms of the page's own work for one key
    assert tab.locator(".item.current").get_attribute("data-state") == "pending"


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_page_has_a_fault_of_accessibility(serve: Serve, enter: Enter, tmp_path: Path, scheme: Any) -> None:
    """WCAG 2.2 AA as far as axe-core 4.14 can tell (Deque Systems, MPL-2.0); the rest is for people to judge."""
    script = invented_examination()
    script.say("tenderness", "tender snuffbox", side="left", status="present", structure="anatomical_snuffbox")
    script.carry("right", "f3", "f4")
    review = seed(tmp_path, script)
    tab = enter(serve())
    tab.emulate_media(color_scheme=scheme)
    source = AXE.read_text(encoding="utf-8")
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]

    def faults() -> list[tuple[str, list[str]]]:
        tab.evaluate(source)
        found = tab.evaluate("tags => axe.run(document, {runOnly: {type: 'tag', values: tags}})", tags)
        assert len(found["passes"]) > 5
        return [(one["id"], [node["html"][:120] for node in one["nodes"]][:3]) for one in found["violations"]]

    assert faults() == []
    _open(tab)
    base = tab.url
    assert faults() == []
    _mark(tab, "f2")
    tab.keyboard.press("a")
    tab.wait_for_selector("#c-side")
    assert faults() == []
    tab.keyboard.press("Escape")
    tab.keyboard.press("r")
    tab.wait_for_selector("#reason")
    assert faults() == []
    for path in ("/numbers", "/hands", "/note", "?order=examination"):
        tab.goto(base + path)
        assert faults() == [], path
    _decide_all(review)
    tab.goto(base + "/note")
    assert faults() == []
    review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING)
    tab.goto(base + "/note")
    assert faults() == []
    tab.goto("/".join(base.split("/")[:3]) + "/name")
    assert faults() == []


def _decide_all(review: Review) -> None:
    from scripted import decide_all

    for run in review.open_runs():
        review.decide_side(run, "right", "Dr A. Invented", WHEN)
    decide_all(review)
    for caution in review.cautions():
        review.answer_caution(caution, "not relevant", "Dr A. Invented", WHEN)


@pytest.mark.parametrize("size", [(1024, 768), (820, 1180), (1440, 900)])
def test_nothing_is_cut_off_and_nothing_moves(serve: Serve, enter: Enter, tmp_path: Path, size: tuple[int, int]) -> None:
    seed(tmp_path, invented_examination())
    tab = enter(serve())
    tab.set_viewport_size({"width": size[0], "height": size[1]})
    _open(tab)
    base = tab.url
    tab.evaluate(MOVES)
    bar = tab.locator("#bar").bounding_box()
    for key in ("ArrowDown", "ArrowDown", "n", "ArrowUp"):
        tab.keyboard.press(key)
        assert tab.locator("#bar").bounding_box() == bar
    assert tab.evaluate("moved") < 0.02, tab.evaluate("moves")
    for path in ("", "/numbers", "/hands", "/note"):
        tab.goto(base + path)
        wide = tab.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert wide <= 0, path


def test_what_cannot_be_done_any_more_has_no_button_and_no_key(serve: Serve, enter: Enter, tmp_path: Path) -> None:
    def offered() -> list[str]:
        return tab.locator("#bar .decide .buttons:not([hidden]) button:not([hidden])").evaluate_all(
            "buttons => buttons.map((button) => button.dataset.do)"
        )

    review = seed(tmp_path, invented_examination())
    tab = _open(enter(serve()))
    _mark(tab, "f2")
    assert offered() == ["confirm", "amend", "reject"]
    tab.keyboard.press("c")
    _said(tab, "Confirmed")
    _mark(tab, "f2")
    assert offered() == ["amend", "reject"]
    tab.keyboard.press("c")
    tab.keyboard.press("r")
    tab.wait_for_selector("#reason")
    tab.keyboard.type("not said by the examiner")
    assert tab.locator("#reason").input_value() == "not said by the examiner"  # and nothing is rejected by typing
    assert _state(tab, "f2") == "confirmed"
    tab.keyboard.press("Escape")
    tab.wait_for_function("() => !document.getElementById('panel').open")
    _decide_all(again(review))
    again(review).sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING)
    tab.reload()
    tab.wait_for_selector(".item.current")
    assert offered() == []
    assert "Signed." in tab.locator("#progress").inner_text()
