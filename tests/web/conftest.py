"""Fixtures for the tests in a real browser: the system's Chromium, a page that is served, a tab on it.

The browser comes from the system's packages and is never downloaded by the test tool; where there is none, or no playwright,
these tests are skipped and say so.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from served import Served

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page, Request

NAMES = ("chromium", "chromium-browser", "google-chrome")
MISSING = "no Chromium is installed here: the system's package chromium gives one (README, In a browser)"


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """The system's Chromium, without a window."""
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed: pip install '.[test]'")
    found = next(filter(None, map(shutil.which, NAMES)), None)
    if found is None:
        pytest.skip(MISSING)
    arguments = ["--no-sandbox"] if os.geteuid() == 0 else []
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=[*arguments, "--mute-audio"])
        yield browser
        browser.close()


@pytest.fixture
def serve(tmp_path: Path) -> Iterator[Callable[[], Served]]:
    """Start a page over the store in the test's folder; all are stopped at the end."""
    started: list[Served] = []

    def start() -> Served:
        started.append(Served(tmp_path))
        return started[-1]

    yield start
    for one in started:
        one.stop()


@pytest.fixture
def context(chromium: Browser) -> Iterator[BrowserContext]:
    """A fresh profile that is watched: a request that leaves the machine, or an error of a page's script, fails the test."""
    made = chromium.new_context(viewport={"width": 1024, "height": 768}, reduced_motion="reduce")
    made.set_default_timeout(15_000)
    elsewhere: list[str] = []
    faults: list[str] = []

    def watch(request: Request) -> None:
        if not request.url.startswith(("http://127.0.0.1:", "ws://127.0.0.1:", "blob:", "data:")):
            elsewhere.append(request.url)

    def listen(page: Page) -> None:
        page.on("pageerror", lambda err: faults.append(str(err)))
        page.on("console", lambda said: faults.append(said.text) if "Content Security Policy" in said.text else None)

    made.on("request", watch)
    made.on("page", listen)
    yield made
    made.close()
    assert elsewhere == [], "the page asked for something elsewhere"
    assert faults == []


@pytest.fixture
def enter(context: BrowserContext) -> Callable[[Served], Page]:
    """Open a tab that was let in, on the work list."""

    def opened(served: Served) -> Page:
        tab = context.new_page()
        tab.goto(f"{served.address}/enter?code={served.code}")
        tab.wait_for_selector("h1")
        return tab

    return opened
