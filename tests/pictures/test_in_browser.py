"""Pictures in a real browser: no text leaves its picture or its column however wide it is, nothing is fetched, and a dark
screen and paper each have their colours.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from typing import Any

import pytest
from measurement.building import confirmed, degrees
from pictures.reading import LEXICON

from dictation.measurement.over_time import Visit
from dictation.measurement.over_time import over_time as follow
from dictation.pictures.bars import movement_bars
from dictation.pictures.hands import hands
from dictation.pictures.page import page
from dictation.pictures.plots import over_time
from dictation.record import RecordField

pytestmark = pytest.mark.browser

WIDE = [
    "W" * 80, "m" * 200, "é" * 150, "MMM WWW " * 20,
    "Tenderness at the RIGHT ring finger metacarpophalangeal joint, tested in thirty degrees of flexion, out of the splint",
]  # fmt: skip
OUTSIDE = """() => [...document.querySelectorAll('svg')].flatMap(svg => [...svg.querySelectorAll('text')].filter(text => {
    const box = text.getBBox(), view = svg.viewBox.baseVal
    return box.x < 0 || box.x + box.width > view.width || box.y + box.height > view.height
})).map(text => text.textContent)"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    chromium = shutil.which("chromium")
    if chromium is None:
        pytest.skip("no chromium on this machine; install the system's package of that name")
    with playwright.sync_playwright() as running:
        opened = running.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def file() -> str:
    """The three pictures in one file, with the widest texts."""
    fields = [
        RecordField(id=str(n), part="look", concept="swelling", side=side, status="present", joint="wrist")
        for n, side in enumerate(("right", "left", None, "right", "left"))
    ]
    measured = confirmed(*(degrees("wrist_extension", 55, position=text) for text in WIDE), degrees("elbow_flexion", 300))
    visits = [
        Visit(at, text, tuple(confirmed(*(degrees("wrist_extension", value, position=text) for text in WIDE))))
        for at, text, value in zip(("2026-01-01", "2026-01-02", "x" * 90), WIDE, (20, 40, 60), strict=False)
    ]
    sentences = dict(zip((field.id for field in fields), WIDE, strict=True))
    marked = hands(fields, LEXICON, lambda field: sentences[field.id])
    drawn = [marked, movement_bars(measured, "aaos"), over_time(follow(visits))]
    return page("Pictures", drawn, "Invented.")


def test_no_text_leaves_its_picture_nor_the_column_of_its_side(browser: Any, file: str) -> None:
    shown = browser.new_page()
    shown.set_content(file)
    assert shown.evaluate("document.querySelectorAll('svg text').length") > 100
    assert shown.evaluate(OUTSIDE) == []
    right = shown.evaluate(
        "[...document.querySelectorAll('g.entry.right text')].map(text => text.getBBox()).map(box => box.x + box.width)"
    )
    assert len(right) > 2
    assert max(right) < 560


def test_nothing_is_fetched_and_nothing_is_refused_by_the_page_s_own_policy(browser: Any, file: str) -> None:
    shown = browser.new_page()
    asked: list[str] = []
    said: list[str] = []
    shown.on("request", lambda request: asked.append(request.url))
    shown.on("console", lambda message: said.append(message.text))
    shown.set_content(file)
    shown.screenshot(timeout=120_000)
    assert (asked, said) == ([], [])


@pytest.mark.parametrize(("media", "scheme", "paper"), [
    ("screen", "light", "rgb(255, 255, 255)"), ("screen", "dark", "rgb(20, 23, 26)"), ("print", "dark", "rgb(255, 255, 255)"),
])  # fmt: skip
def test_a_dark_screen_is_dark_and_paper_is_white(browser: Any, file: str, media: str, scheme: str, paper: str) -> None:
    shown = browser.new_page()
    shown.emulate_media(media=media, color_scheme=scheme)
    shown.set_content(file)
    assert shown.evaluate("getComputedStyle(document.querySelector('rect.paper')).fill") == paper
