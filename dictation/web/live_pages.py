"""Dictating while examining, on the page: the way to begin, the page itself, and the WebSocket that takes its sound.

The tab sends sound and what was pressed; it is sent words as they come, and pieces of HTML as the draft changes. Sound is
acknowledged once it is on disk: what was not, the tab keeps and sends again. Imports dictations, drawing, entry, store and
completeness.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
from collections.abc import Mapping
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route, WebSocketRoute
from starlette.websockets import WebSocket, WebSocketDisconnect

from dictation.errors import DictationError, InputError
from dictation.faults import fault_error
from dictation.live.keeping import broken_off
from dictation.live.shown import said
from dictation.note.printable import printable
from dictation.note.times import clock
from dictation.store.facts import DETAILED, LOOKS_LIKE_A_NAME, looks_like_name, read_details
from dictation.store.journal import Step
from dictation.store.journal import now as this_moment
from dictation.store.store import Encounter
from dictation.web.answering import Form, endpoint, html
from dictation.web.dictations import Dictations, Ongoing
from dictation.web.drawing import templates
from dictation.web.entry import Entry

PATH = "/dictate/{encounter}"
TELL_S = 0.1
"""Changes within so long are told together; far under what a person notices."""
ALIVE_S = 5.0
"""After so long without news the tab is sent none, so that it knows the line to be whole."""
TOUCH_S = 20.0
LATEST = 40
"""Utterances shown; the rest are in the draft."""


class LivePages:
    """The routes of live dictation."""

    def __init__(self, dictations: Dictations, entry: Entry) -> None:
        self.dictations = dictations
        self.store = dictations.store
        self.entry = entry

    def routes(self) -> list[Route | WebSocketRoute]:
        """Return them."""
        return [
            Route("/dictate", endpoint(self._open), methods=["POST"]),
            Route(PATH, endpoint(self._page)),
            WebSocketRoute(f"{PATH}/sound", self._follow),
        ]

    def _open(self, request: Request, form: Form) -> Response:
        """Open an encounter under a reference, or find it, and go to its page."""
        who = request.scope["session"].who
        if not who:
            return RedirectResponse("/name?to=/", 303)
        reference = form.get("reference", "")
        stated: dict[str, Any] = {key: value for key in ("purpose", "sex") if (value := form.get(key))}
        if (age := form.number("age")) >= 0:
            stated["age"] = age
        found = self.store.find(reference) if reference.strip() else None
        details = read_details(stated)
        if found is None and looks_like_name(reference) and form.get("no_name") != "yes":
            asked = {"reference": printable(reference), "sentence": LOOKS_LIKE_A_NAME, "stated": stated}
            return html("looks_like_a_name.html", asked)
        if found is None:
            found = self.store.open_encounter(reference, details, who, this_moment())
        elif stated:
            before = {key: getattr(found.facts.details, key) for key in stated}
            if before != stated:
                found.append([Step(DETAILED, before=before, after=stated)], who, this_moment())
        return RedirectResponse(f"/dictate/{found.id}", 303)

    def _page(self, request: Request, form: Form) -> Response:
        encounter = Encounter(self.store, request.path_params["encounter"])
        if not request.scope["session"].who:
            return RedirectResponse(f"/name?to=/dictate/{encounter.id}", 303)
        ongoing = self.dictations.find(encounter.id)
        details = encounter.facts.details
        values = {
            "reference": encounter.reference, "purpose": details.purpose, "base": request.url.path,
            "consent": details.consent or "", "broken_off": ongoing is None and bool(broken_off(encounter)),
            "ongoing": ongoing is not None, "pieces": pieces(ongoing), "who": printable(request.scope["session"].who),
        }  # fmt: skip
        return html("dictate.html", values)

    async def _follow(self, socket: WebSocket) -> None:
        await socket.accept()
        try:
            encounter = await run_in_threadpool(Encounter, self.store, socket.path_params["encounter"])
            await Tab(self, socket, encounter).serve()
        except DictationError as err:
            with contextlib.suppress(WebSocketDisconnect, RuntimeError):
                await socket.send_json({"refused": printable(str(err)), "over": True})
                await socket.close()
        except (WebSocketDisconnect, RuntimeError):
            pass  # the tab was closed


class Tab:
    """One tab at a dictation: takes what it sends, tells it what changed."""

    def __init__(self, pages: LivePages, socket: WebSocket, encounter: Encounter) -> None:
        self.pages = pages
        self.socket = socket
        self.encounter = encounter
        self.ongoing: Ongoing | None = None
        self.changed = asyncio.Event()
        self._loop = asyncio.get_running_loop()
        self._told: dict[str, Any] = {}
        self._touched = 0.0
        self._begun = 0
        self._ending: asyncio.Task[None] | None = None

    async def serve(self) -> None:
        """Serve the tab until it goes away or the dictation is over."""
        self._join(self.pages.dictations.find(self.encounter.id))
        hearing = asyncio.create_task(self._hear())
        try:
            await self._tell(hearing)
        finally:
            hearing.cancel()
            with contextlib.suppress(asyncio.CancelledError, WebSocketDisconnect, RuntimeError):
                await hearing
            if self._ending is not None:
                await self._ending  # it goes on though nobody looks
            self._leave()

    def _join(self, ongoing: Ongoing | None) -> None:
        if ongoing is not None and self.ongoing is None:
            self.ongoing = ongoing
            ongoing.watchers.add(self._wake)
            self.changed.set()

    def _leave(self) -> None:
        if self.ongoing is not None:
            self.ongoing.watchers.discard(self._wake)
            if self.ongoing.sender is self:
                self.ongoing.sender = None

    def _wake(self) -> None:
        with contextlib.suppress(RuntimeError):  # the loop has ended
            self._loop.call_soon_threadsafe(self.changed.set)

    async def _hear(self) -> None:
        while True:
            message = await self.socket.receive()
            if message["type"] == "websocket.disconnect":
                return
            try:
                if (data := message.get("bytes")) is not None:
                    self._sound(data)
                else:
                    await self._do(json.loads(message.get("text") or "{}"))
            except DictationError as err:
                await self.socket.send_json({"refused": printable(str(err))})
            except (ValueError, AttributeError):
                await self.socket.send_json({"refused": "The page sent what cannot be read; load it again."})
            self.changed.set()

    def _sound(self, data: bytes) -> None:
        if self.ongoing is None or self.ongoing.sender is not self:
            raise InputError("This tab does not send the sound of this dictation.")
        self.ongoing.hear(data)
        if self._loop.time() - self._touched > TOUCH_S:  # somebody dictates: the session is in use
            self._touched = self._loop.time()
            self.pages.entry.touch(self.socket.scope["session"])

    async def _do(self, asked: Mapping[str, Any]) -> None:
        """Follow a press. Raises DictationError where it cannot be."""
        what, who = asked.get("do"), self.socket.scope["session"].who or ""
        self.pages.entry.touch(self.socket.scope["session"])
        dictations = self.pages.dictations
        if what == "begin":
            consent = asked.get("consent") is True
            self._join(await run_in_threadpool(dictations.begin, self.encounter, consent=consent, who=who))
            assert self.ongoing is not None
            if self.ongoing.sender not in (None, self):
                raise InputError("Another tab sends the sound of this dictation; pause or close it there first.")
            self.ongoing.sender = self
            await run_in_threadpool(self.ongoing.dictating.go_on)
            self._begun = int(asked.get("press", 0))
            return
        if what == "withdraw":
            self._join(dictations.find(self.encounter.id))
            await run_in_threadpool(dictations.withdraw, self.encounter, who)
            return
        if what == "end" and self.ongoing is None and await run_in_threadpool(broken_off, self.encounter):
            self._join(await run_in_threadpool(dictations.begin, self.encounter, consent=True, who=who))
        if self.ongoing is None:
            raise InputError("No dictation is going on; begin one.")
        if what == "end":
            if self._ending is None or self._ending.done():
                self._ending = asyncio.create_task(self._end(self.ongoing, who))
            return
        press = {"pause": "pause", "go on": "go_on", "mark": "mark"}.get(str(what))
        if press is None:
            raise InputError("The page asked for what is not known here; load it again.")
        await run_in_threadpool(getattr(self.ongoing.dictating, press))

    async def _end(self, ongoing: Ongoing, who: str) -> None:
        try:
            await run_in_threadpool(self.pages.dictations.end, ongoing, who)
        except DictationError as err:
            await self._say_refused(err)
        except Exception as err:  # whatever it is, the sound is on disk and the page says so
            await self._say_refused(fault_error(err, "The dictation was not ended, and its sound is kept"))

    async def _say_refused(self, err: DictationError) -> None:
        with contextlib.suppress(WebSocketDisconnect, RuntimeError):
            await self.socket.send_json({"refused": printable(str(err))})

    async def _tell(self, hearing: asyncio.Task[None]) -> None:
        told = 0.0
        while not hearing.done():
            if not self.pages.entry.alive(self.socket.scope["session"]):
                await self.socket.send_json({"locked": True})
                await self.socket.close()
                return
            self._join(self.pages.dictations.find(self.encounter.id))  # begun in another tab, perhaps
            news = await run_in_threadpool(self._news)
            if news or self._loop.time() - told > ALIVE_S:
                told = self._loop.time()
                await self.socket.send_json(news)
            if self.ongoing is not None and self.ongoing.review is not None:
                await self.socket.send_json({"over": True, "go": self.ongoing.review})
                await self.socket.close()
                return
            self.changed.clear()
            waiting = asyncio.create_task(self.changed.wait())
            await asyncio.wait({waiting, hearing}, timeout=1.0, return_when=asyncio.FIRST_COMPLETED)
            waiting.cancel()
            await asyncio.sleep(TELL_S)

    def _news(self) -> dict[str, Any]:
        """What has changed since the last news."""
        if self.ongoing is None:
            news: dict[str, Any] = {"state": "none"}
        else:
            now = self.ongoing.dictating.now
            marked = ", ".join(clock(mark.at) for mark in now.marks if mark.what == "marked")
            news = {
                "state": now.state, "kept": self.ongoing.kept.samples, "late": round(now.late_s), "marks": marked,
                "soFar": " ".join(now.so_far), "message": now.message or "", "pieces": pieces(self.ongoing),
                "begun": self._begun if self.ongoing.sender is self else 0,
            }  # fmt: skip
        changed = {key: value for key, value in news.items() if self._told.get(key) != value}
        self._told = news
        return changed


def pieces(ongoing: Ongoing | None) -> dict[str, str]:
    """Return the parts of the page that follow the draft: id of an element -> what is in it, as HTML."""
    macros: Any = templates().get_template("_dictate.html").module
    if ongoing is None:
        return {"side": str(macros.side(None)), "draft": str(macros.draft(())), "cautions": "", "said": "", "missing": ""}
    shown, utterances = ongoing.shown(), ongoing.dictating.now.utterances
    return {
        "side": str(macros.side(shown.side)),
        "draft": str(macros.draft(shown.parts)),
        "cautions": str(macros.cautions(shown.cautions, shown.another)),
        "said": str(macros.said([(clock(one.segment.start), said(one)) for one in utterances[-LATEST:]])),
        "missing": str(macros.missing(shown.not_mentioned)),
    }
