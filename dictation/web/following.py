"""Keeps the tabs of a review in step: each is told the version of the review as it changes, wherever it was decided.

A tab that falls out of its session is told that too, so that nothing stays on a screen nobody is at. Imports entry and sitting.
"""

from __future__ import annotations

import asyncio
import contextlib

from starlette.concurrency import run_in_threadpool
from starlette.routing import WebSocketRoute
from starlette.websockets import WebSocket, WebSocketDisconnect

from dictation.errors import DictationError
from dictation.web.entry import Entry
from dictation.web.sitting import Sittings

LOOK_S = 0.5
"""How often the journal's end is looked at for each tab."""


class Following:
    """The WebSocket of a review's pages. A tab sends anything when somebody is at it, and is sent versions."""

    def __init__(self, sittings: Sittings, entry: Entry) -> None:
        self.sittings = sittings
        self.entry = entry

    def route(self, path: str) -> WebSocketRoute:
        """Return the route under the path of a review."""
        return WebSocketRoute(f"{path}/follow", self._follow)

    async def _follow(self, socket: WebSocket) -> None:
        await socket.accept()
        here = asyncio.create_task(self._hear(socket))
        try:
            await self._tell(socket, here)
        except (WebSocketDisconnect, RuntimeError):
            pass  # the tab was closed
        finally:
            here.cancel()
            with contextlib.suppress(asyncio.CancelledError, WebSocketDisconnect, RuntimeError):
                await here

    async def _tell(self, socket: WebSocket, here: asyncio.Task[None]) -> None:
        told = -1
        path = socket.path_params
        while not here.done():
            if not self.entry.alive(socket.scope["session"]):
                await socket.send_json({"locked": True})
                await socket.close()
                return
            try:
                sitting = await run_in_threadpool(self.sittings.sitting, path["encounter"], path["draft"])
                version = await run_in_threadpool(sitting.refresh)
            except DictationError as err:
                await socket.send_json({"gone": str(err)})
                await socket.close()
                return
            if version != told:
                await socket.send_json({"version": version})
                told = version
            await asyncio.wait({here}, timeout=LOOK_S)

    async def _hear(self, socket: WebSocket) -> None:
        while True:
            await socket.receive_text()
            self.entry.touch(socket.scope["session"])
