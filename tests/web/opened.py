"""The page in process, for fast tests: an application over a store of its own, and a browser that was let in."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from scripted import WHO, Script, invented_examination, taken
from starlette.testclient import TestClient

from dictation.review.rules import Review
from dictation.settings import Settings, read_settings
from dictation.store.store import Store, open_store
from dictation.web.app import make_app
from dictation.web.dictations import Dictations
from dictation.web.dropping import Dropping
from dictation.web.entry import Entry

PORT = 5000
ADDRESS = f"http://127.0.0.1:{PORT}"
OWN = {"origin": ADDRESS, "accept": "application/json"}


class Clock:
    """A clock that a test sets."""

    def __init__(self) -> None:
        self.time = 0.0

    def __call__(self) -> float:
        return self.time


@dataclass
class Opened:
    """One application. codes: those it told. base: the path of its review."""

    client: TestClient
    entry: Entry
    codes: list[str]
    clock: Clock
    store: Store
    review: Review
    base: str
    dictations: Dictations
    dropping: Dropping

    def page(self, path: str = "") -> str:
        """Return a page of the review."""
        answer = self.client.get(self.base + path)
        assert answer.status_code == 200, answer.text
        return answer.text

    @property
    def version(self) -> int:
        """The version that a page loaded now has."""
        found = re.search(r'data-version="(\d+)"', self.page())
        assert found is not None
        return int(found[1])

    def decide(self, what: str, *, version: int | None = None, **values: Any) -> tuple[int, dict[str, Any]]:
        """Take a step; return the status and the answer."""
        sent = {"what": what, "version": self.version if version is None else version, **values}
        answer = self.client.post(f"{self.base}/decide", data=sent, headers=OWN)
        return answer.status_code, json.loads(answer.text)

    def again(self) -> Review:
        """Return the review as the store has it."""
        self.review.refresh()
        return self.review


def opened(folder: Path, script: Script | None = None, *, enter: bool = True, **changed: Any) -> Opened:
    """Return the page over an invented examination. changed: settings that differ."""
    path = folder / "invented.draft.json"
    path.write_text((script or invented_examination()).draft().model_dump_json(), encoding="utf-8")
    review = taken(path, folder / "store")
    store = open_store(folder / "store")
    codes: list[str] = []
    clock = Clock()
    entry = Entry(codes.append, clock=clock)
    settings = Settings(**{**_plain(read_settings()), "store_folder": folder / "store", "reviewer": WHO, **changed})
    dictations, dropping = Dictations(store, settings), Dropping(store, settings)
    app = make_app(store, settings, PORT, entry, dropping, dictations)
    client = TestClient(app, base_url=ADDRESS, follow_redirects=False)
    base = f"/review/{review.journal.encounter.id}/{review.draft_sha256}"
    found = Opened(client, entry, codes, clock, store, review, base, dictations, dropping)
    if enter:
        answer = client.get(f"/enter?code={entry.offer()}")
        assert answer.status_code == 303, answer.text
    return found


def _plain(settings: Settings) -> dict[str, Any]:
    return {name: getattr(settings, name) for name in Settings.__slots__}  # type: ignore[attr-defined]  # a slots dataclass
