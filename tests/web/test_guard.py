"""Who is let in, and what is refused before it reaches the application."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from opened import ADDRESS, OWN, PORT, Opened, opened
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

from dictation.web.app import own_path
from dictation.web.entry import ATTEMPTS, IDLE_S, Entry
from dictation.web.guard import FORM_BYTES


def _follow(page: Opened) -> str:
    return f"ws://127.0.0.1:{PORT}{page.base}/follow"


@pytest.fixture(scope="module")
def untouched(tmp_path_factory: pytest.TempPathFactory) -> Opened:
    """The page, let in, for tests that write nothing."""
    return opened(tmp_path_factory.mktemp("untouched"))


@pytest.fixture
def shut(tmp_path: Path) -> Opened:
    """The page before anybody was let in."""
    return opened(tmp_path, enter=False)


@pytest.fixture
def page(tmp_path: Path) -> Opened:
    """The page, let in."""
    return opened(tmp_path)


def test_without_a_session_every_page_leads_to_the_entrance_and_every_script_is_refused(shut: Opened) -> None:
    for path in ("/", shut.base, f"{shut.base}/note", f"{shut.base}/sound?from=0&to=1", "/nothing"):
        answer = shut.client.get(path)
        assert (answer.status_code, answer.headers["location"].split("?")[0]) == (303, "/enter")
        assert shut.client.get(path, headers={"sec-fetch-mode": "cors"}).status_code == 401
    assert shut.client.post(f"{shut.base}/decide", data={"what": "undo"}, headers=OWN).status_code == 401
    assert shut.review.journal.entries == ()


def test_a_code_lets_in_once_and_the_cookie_is_for_this_server_alone(shut: Opened) -> None:
    code = shut.entry.offer()
    assert shut.codes == [code]
    answer = shut.client.get(f"/enter?code={code}&to={shut.base}")
    assert (answer.status_code, answer.headers["location"]) == (303, shut.base)
    cookie = answer.headers["set-cookie"]
    assert cookie.startswith(f"dictation_{PORT}=")
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    other = TestClient(shut.client.app, base_url=ADDRESS, follow_redirects=False)
    assert other.get(f"/enter?code={code}").status_code == 403


def test_after_wrong_codes_the_right_one_is_void_and_another_is_told(shut: Opened) -> None:
    code = shut.entry.offer()
    for _ in range(ATTEMPTS):
        assert shut.client.post("/enter", data={"code": "abcd-efgh-jkmn"}, headers=OWN).status_code == 403
    assert shut.client.get(f"/enter?code={code}").status_code == 403
    assert len(shut.codes) == 2
    assert shut.client.post("/enter", data={"code": f" {shut.codes[1].upper()} "}, headers=OWN).status_code == 303


def test_a_session_nobody_used_ends_and_a_new_code_goes_on_where_it_was(page: Opened) -> None:
    page.clock.time = IDLE_S - 1
    assert page.client.get(page.base).status_code == 200  # which is use
    page.clock.time = 2 * IDLE_S
    answer = page.client.get(page.base)
    assert answer.headers["location"] == f"/enter?to={page.base}"
    assert page.base in page.client.get(answer.headers["location"]).text
    code = page.codes[-1]
    entered = page.client.post("/enter", data={"code": code, "to": page.base}, headers=OWN)
    assert entered.headers["location"] == page.base
    assert page.client.get(page.base).status_code == 200


ELSEWHERE = ["elsewhere.example", f"elsewhere.example:{PORT}", "127.0.0.1", "127.0.0.1:1", f"0.0.0.0:{PORT}", ""]


@pytest.mark.parametrize("host", ELSEWHERE)
def test_another_host_is_refused(untouched: Opened, host: str) -> None:
    assert untouched.client.get("/", headers={"host": host}).status_code == 421


@pytest.mark.parametrize(
    "origin", ["http://elsewhere.example", "null", "http://127.0.0.1:1", f"https://127.0.0.1:{PORT}", None]
)
def test_a_write_from_elsewhere_is_refused_and_writes_nothing(untouched: Opened, origin: str | None) -> None:
    headers = {"origin": origin} if origin else {}
    sent = {"what": "confirm", "field": "f2", "version": untouched.version}
    assert untouched.client.post(f"{untouched.base}/decide", data=sent, headers=headers).status_code == 403
    assert untouched.again().journal.entries == ()


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_what_another_page_asks_for_is_refused(untouched: Opened, site: str) -> None:
    assert untouched.client.get("/", headers={"sec-fetch-site": site}).status_code == 403
    assert untouched.client.get("/static/untouched.css", headers={"sec-fetch-site": site}).status_code == 403


def test_a_websocket_needs_its_session_host_and_origin(page: Opened) -> None:
    with page.client.websocket_connect(_follow(page), headers=dict(OWN)) as socket:
        assert socket.receive_json() == {"version": page.version}
    for headers in (
        {**OWN, "origin": "http://elsewhere.example"},
        {},
        {**OWN, "host": "e.example"},
    ):
        with pytest.raises(WebSocketDisconnect), page.client.websocket_connect(_follow(page), headers=headers):
            pass
    page.client.cookies.clear()
    with pytest.raises(WebSocketDisconnect), page.client.websocket_connect(_follow(page), headers=dict(OWN)):
        pass


def test_a_tab_is_told_that_its_session_has_ended(page: Opened) -> None:
    with page.client.websocket_connect(_follow(page), headers=dict(OWN)) as socket:
        socket.receive_json()
        page.clock.time = 2 * IDLE_S
        assert socket.receive_json() == {"locked": True}


def test_a_body_that_is_too_large_is_refused(untouched: Opened) -> None:
    large = {"what": "reject", "field": "f2", "reason": "x" * FORM_BYTES, "version": untouched.version}
    assert untouched.client.post(f"{untouched.base}/decide", data=large, headers=OWN).status_code == 413
    unsaid = iter([b"what=reject&reason=", *[b"x" * 65_536] * 5])
    assert untouched.client.post(f"{untouched.base}/decide", content=unsaid, headers=OWN).status_code == 413
    assert untouched.again().journal.entries == ()


def test_every_answer_forbids_inline_script_and_other_places(untouched: Opened) -> None:
    for path in ("/", untouched.base, "/enter", "/static/review.js", "/nothing", f"{untouched.base}/note"):
        policy = untouched.client.get(path).headers["content-security-policy"]
        rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
        assert rules["default-src"] == "'none'"
        assert rules["script-src"] == "'self'"
        assert "unsafe" not in policy
        assert re.findall(r"\b(?:https?|wss?)://([^ ;]+)", policy) == [f"127.0.0.1:{PORT}", f"localhost:{PORT}"]


def test_no_page_holds_an_inline_script_or_an_address_elsewhere(untouched: Opened) -> None:
    for path in (
        "/",
        untouched.base,
        f"{untouched.base}/note",
        f"{untouched.base}/numbers",
        f"{untouched.base}/hands",
        "/name",
        "/enter",
    ):
        text = untouched.client.get(path).text
        assert not re.search(r"<script(?![^>]*\bsrc=\"/static/)", text)
        assert not re.search(r"\son\w+=", text)
        assert not re.search(r"(?:src|href|action)=\"(?!/|#|\?)", text)


@pytest.mark.parametrize("to", ["//elsewhere.example", "https://elsewhere.example", "/\\elsewhere.example", "", "/a\nb"])
def test_the_entrance_leads_nowhere_else(to: str) -> None:
    assert own_path(to) == "/"


def test_a_code_is_long_enough_not_to_be_guessed() -> None:
    codes = {Entry(lambda code: None).offer() for _ in range(50)}
    assert len(codes) == 50
    assert all(re.fullmatch(r"[a-z2-9]{4}-[a-z2-9]{4}-[a-z2-9]{4}", code) for code in codes)
