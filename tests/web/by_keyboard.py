"""A review decided on the page by keyboard alone, for the tests in a browser and for the benchmark of keystrokes."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from playwright.sync_api import Page


def confirm_all(tab: Page) -> int:
    """Decide all that is left by keyboard alone, as one who finds everything right; return how many keys that took."""
    keys = 0

    def press(key: str) -> None:
        nonlocal keys
        keys += 1
        before = tab.evaluate("[follow.version, document.querySelector('.current').id]")
        tab.keyboard.press(key)
        tab.wait_for_function(
            "([version, id]) => !busy && (follow.version !== version || document.querySelector('.current').id !== id"
            " || say.classList.contains('refused'))",
            arg=before,
        )

    for _ in range(400):
        item = tab.locator(".item.current")
        kind, state = item.get_attribute("data-kind"), item.get_attribute("data-state")
        if state != "pending":
            if not tab.locator('.item[data-state="pending"]').count():
                return keys
            press("n")
        elif kind == "run":
            side = re.search(r"taken as\s+(RIGHT|LEFT)", item.inner_text())
            assert side is not None
            press("Shift+R" if side[1] == "RIGHT" else "Shift+L")
        elif kind == "group":
            ids = item.evaluate("item => fields(item)")
            while not tab.evaluate("ids => ids.every((id) => seen.has(id))", ids):
                press("ArrowDown")
                tab.wait_for_timeout(50)
            press("t")
        elif kind == "caution":
            press("1")
        elif kind == "speech":
            press("x")
        elif item.get_attribute("data-open-side"):
            tab.keyboard.press("Shift+R")
            tab.wait_for_selector("#look [data-do=accept]")
            keys += 1
            press("c")
        else:
            press("c")
            if tab.locator("#say.refused").count():  # no answer was understood: it has to go
                tab.keyboard.press("r")
                tab.wait_for_selector("[data-reason]")
                keys += 1
                press("2")
    raise AssertionError("the review never came to its end")


def sign(tab: Page, ending: str) -> None:
    """Sign a review that is decided. ending: the last characters of its reference."""
    tab.get_by_role("link", name="Note").click()
    tab.get_by_label("Your name, in full").fill("Dr A. Invented")
    tab.get_by_label("Your role").fill("Hand surgeon")
    tab.get_by_label("The last four characters").fill(ending)
    tab.get_by_role("button", name="Sign").click()
    tab.wait_for_selector(".badge:text('SIGNED')")
