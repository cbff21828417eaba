"""The page as one application: the way in, the work list, the reviews, the files it is made of, and the guard before all.

Imports the rest of the room, store and settings.
"""

from __future__ import annotations

from pathlib import Path

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp

from dictation.note.printable import printable
from dictation.pictures.svg import style_sheet
from dictation.settings import Settings
from dictation.store.store import Store
from dictation.web.answering import Form, endpoint, html
from dictation.web.dictations import Dictations
from dictation.web.drawing import Drawer
from dictation.web.dropping import MOST_BYTES, Dropping
from dictation.web.entry import Entry
from dictation.web.following import Following
from dictation.web.guard import Guard, Rules
from dictation.web.list_pages import DROP, ListPages
from dictation.web.live_pages import LivePages
from dictation.web.note_pages import NotePages
from dictation.web.reviewing_pages import PATH, ReviewPages
from dictation.web.sitting import Sittings
from dictation.web.work_list import WorkList

STATIC = Path(__file__).parent / "static"


def make_app(
    store: Store, settings: Settings, port: int, entry: Entry, dropping: Dropping, dictations: Dictations | None = None
) -> ASGIApp:
    """Return the application for a store, listening on a port, with who is let in.

    dropping: the recordings dropped. dictations: those going on.
    """
    rules = Rules(port, {DROP: MOST_BYTES}, (style_sheet(),))
    sittings = Sittings(store, settings, Drawer)
    reviews = ReviewPages(sittings, settings)
    live = LivePages(dictations or Dictations(store, settings), entry)
    doors = _Doors(entry, rules, settings)

    routes = [
        *doors.routes(),
        *ListPages(WorkList(store, settings), dropping).routes(),
        *reviews.routes(),
        *NotePages(reviews, settings).routes(),
        *live.routes(),
        Following(sittings, entry).route(PATH),
        Mount("/static", StaticFiles(directory=STATIC)),
    ]
    return Guard(Starlette(routes=routes), entry, rules)


class _Doors:
    """The way in, and the name that decisions are written under."""

    def __init__(self, entry: Entry, rules: Rules, settings: Settings) -> None:
        self.entry = entry
        self.rules = rules
        self.settings = settings

    def routes(self) -> list[Route]:
        return [
            Route("/enter", endpoint(self._enter), methods=["GET", "POST"]),
            Route("/name", endpoint(self._name), methods=["GET", "POST"]),
        ]

    def _enter(self, request: Request, form: Form) -> Response:
        """Exchange a code, of the link or typed, for a session."""
        to = own_path(form.get("to") or request.query_params.get("to", "/"))
        typed = form.get("code", request.query_params.get("code", ""))
        if not typed and request.scope["session"] is not None:
            return RedirectResponse(to, 303)
        session = self.entry.admit(typed, self.settings.reviewer) if typed else None
        if session is None:
            self.entry.offer()
            return html("enter.html", {"to": to, "wrong": bool(typed)}, 403 if typed else 200)
        answer = RedirectResponse(to, 303)
        answer.set_cookie(self.rules.cookie, session.id, httponly=True, samesite="strict", path="/")
        return answer

    def _name(self, request: Request, form: Form) -> Response:
        to = own_path(form.get("to") or request.query_params.get("to", "/"))
        session = request.scope["session"]
        if who := printable(form.get("who", ""))[:200]:
            session.who = who
            return RedirectResponse(to, 303)
        return html("name.html", {"to": to, "who": printable(session.who or self.settings.reviewer or "")})


def own_path(to: str) -> str:
    """Return a path of this program to go on to; the work list for anything that could lead elsewhere.

    >>> own_path("/review/1/2"), own_path("//elsewhere.example"), own_path("https://elsewhere.example")
    ('/review/1/2', '/', '/')
    """
    plain = to.startswith("/") and not to.startswith("//") and "\\" not in to and printable(to) == to
    return to if plain else "/"
