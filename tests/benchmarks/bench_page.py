"""How quick the page is in a real browser, and how many keys a good recording takes: `python -m tests.benchmarks.bench_page`.

Pages loaded, moving and deciding, on records of 40 and 300 invented statements: median and slowest, from the key to the first
frame that shows what it did. Then a shipped recording of forty statements decided by keyboard alone by one who finds everything
right: keys, decisions, and the time that would take a person. That is by the keystroke-level model (Card, Moran, Newell. Commun
ACM 1980; 23: 396-410: a key 0.28 s; a moment to make up one's mind 1.35 s, one a decision; quoted from memory) and by silent
reading, at the speed that `dictation/review/grouping.py` names, of what is to be decided. Needs the system's Chromium.
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parents[1] / "web"))

from by_keyboard import confirm_all
from scripted import WHEN, WHO
from served import Served, many_fields, seed

from dictation.drafting import draft_file
from dictation.review.grouping import WORDS_PER_MINUTE
from dictation.review.opening import read_file, take_in
from dictation.settings import read_settings
from dictation.store.sound import add_sound
from dictation.store.store import open_store

SAMPLES = Path(__file__).parents[2] / "samples"
NAMES = ("chromium", "chromium-browser", "google-chrome")
KEY_S, MIND_S = 0.28, 1.35
BOUND_MS = 100

SHOWN = """([key, decides]) => new Promise((done) => {
  const before = follow.version, item = document.querySelector(".current").id, begun = performance.now();
  const look = () => {
    const moved = document.querySelector(".current").id !== item && (!decides || follow.version !== before) && !busy;
    if (moved) requestAnimationFrame(() => done(performance.now() - begun));
    else setTimeout(look, 0);
  };
  document.querySelector(".current").dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true }));
  look();
})"""
"""Presses a key and gives the milliseconds to the frame after what it did: the mark moved, and the decision is on disk."""


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else "")
    parser.add_argument("--fields", type=int, nargs="+", default=[40, 300])
    parser.add_argument("--sample", default="wrist_fracture_follow_up")
    options = parser.parse_args(arguments)
    found = next(filter(None, map(shutil.which, NAMES)), None)
    if found is None:
        sys.exit("No Chromium is installed here; the system's package chromium gives one.")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=found, args=["--mute-audio", *(["--no-sandbox"] if os.geteuid() == 0 else [])]
        )
        for count in options.fields:
            speed(browser, count)
        keystrokes(browser, options.sample)
        browser.close()


def speed(browser: Browser, count: int) -> None:
    """Print how quick a record of so many statements is."""
    with tempfile.TemporaryDirectory() as folder:
        seed(Path(folder), many_fields(count))
        served = Served(Path(folder))
        try:
            tab = _enter(browser, served)
            tab.get_by_role("link", name="H-2041").click()
            tab.wait_for_selector(".current")
            base = tab.url
            print(f"{count} statements, milliseconds")
            for name, path in (("statements", ""), ("numbers", "/numbers"), ("hands", "/hands"), ("work list", None)):
                _say(f"  load {name}", [_load(tab, served.address + "/" if path is None else base + path) for _ in range(7)])
            tab.goto(base)
            tab.wait_for_selector(".current")
            _say("  next statement", [_press(tab, "ArrowDown", decides=False) for _ in range(30)], bound=True)
            waiting = "() => { const one = items().find((i) => i.dataset.kind === 'field' && waits(i)); mark(one); }"
            confirmed = []
            for _ in range(20):
                tab.evaluate(waiting)
                confirmed.append(_press(tab, "c", decides=True))
            _say("  confirm, to disk and back", confirmed, bound=True)
        finally:
            served.stop()


def keystrokes(browser: Browser, sample: str) -> None:
    """Print what it takes to decide a shipped recording."""
    with tempfile.TemporaryDirectory() as name:
        folder, sound = Path(name), SAMPLES / f"{sample}.opus"
        draft = draft_file(sound, "embedded", read_settings())
        path = folder / "heard.draft.json"
        path.write_text(draft.model_dump_json(), encoding="utf-8")
        store = open_store(folder / "store")
        encounter = take_in(store, read_file(path), "H-2041", WHO, WHEN)
        add_sound(encounter, sound, keep=False, who=WHO, time=WHEN)
        store.close()
        served = Served(folder)
        try:
            tab = _enter(browser, served)
            tab.get_by_role("link", name="H-2041").click()
            tab.wait_for_selector(".current")
            shown = tab.locator(".item .sentence, .item .doubt, .item.run h3, .caution .text").all_inner_texts()
            words = sum(len(text.split()) for text in shown)
            keys = confirm_all(tab)
            store = open_store(folder / "store")
            entries = store.encounter("H-2041").entries
            decisions = len({(e.after or {}).get("group", e.number) for e in entries if e.draft and e.what != "draft taken"})
            store.close()
        finally:
            served.stop()
    least = keys * KEY_S + words / WORDS_PER_MINUTE * 60
    most = least + decisions * MIND_S
    doubts = sum(field.checked() for field in draft.fields)
    print(f"{sample}.opus: {len(draft.fields)} statements, {doubts} to check, {len(draft.unplaced)} of speech")
    print(f"  {keys} keys, {decisions} decisions, {words} words to read: {least:.0f} s of keys and reading, {most:.0f} s with")
    print("  a moment for each decision; for one who finds all of it right and hears nothing again")


def _enter(browser: Browser, served: Served) -> Page:
    tab = browser.new_page(viewport={"width": 1024, "height": 768})
    tab.goto(f"{served.address}/enter?code={served.code}")
    tab.wait_for_selector("h1")
    return tab


def _load(tab: Page, address: str) -> float:
    tab.goto(address, wait_until="load")
    return float(tab.evaluate("performance.getEntriesByType('navigation')[0].loadEventEnd"))


def _press(tab: Page, key: str, *, decides: bool) -> float:
    return float(tab.evaluate(SHOWN, [key, decides]))


def _say(what: str, found: list[float], *, bound: bool = False) -> None:
    over = sum(one > BOUND_MS for one in found)
    more = f", {over} of {len(found)} over {BOUND_MS}" if bound else ""
    print(f"{what:<28} median {statistics.median(found):6.0f}, slowest {max(found):6.0f}{more}", flush=True)


if __name__ == "__main__":
    main()
