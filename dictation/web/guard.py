"""What stands before every request: who may ask, from where, for how much. For pages and WebSockets alike.

A pure ASGI layer: a request that it refuses never reaches the application. It lets through what names one of its own hosts,
comes from its own pages, holds a session, and is no larger than allowed; of everything else it says why not, in plain text.
Imports entry.
"""

from __future__ import annotations

import hashlib
from base64 import b64encode
from collections.abc import Mapping
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from urllib.parse import quote

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from dictation.web.entry import Entry, Session

FORM_BYTES = 256 * 1024
"""No form of the page is larger: a group of hundreds of statements makes some tens of kilobytes."""

OPEN = ("/enter", "/static/")
"""What is answered without a session: the way in, and files that hold no patient's data."""

SAFE = {"GET", "HEAD"}


@dataclass(frozen=True, slots=True)
class Rules:
    """port: where the program listens. larger: beginning of a path -> bytes that may be sent there, FORM_BYTES elsewhere.

    styles: style sheets that may stand inside a page, word for word: those that pictures carry.
    """

    port: int
    larger: Mapping[str, int] = field(default_factory=dict)
    styles: tuple[str, ...] = ()

    @property
    def hosts(self) -> frozenset[str]:
        """What the header Host may say. A name that merely resolves to this machine is not among it."""
        return frozenset({f"127.0.0.1:{self.port}", f"localhost:{self.port}"})

    @property
    def cookie(self) -> str:
        """The cookie's name; a browser sends cookies to every port of a host, so each server has its own."""
        return f"dictation_{self.port}"

    def most(self, path: str) -> int:
        """Return how many bytes may be sent to a path."""
        return next((size for begin, size in self.larger.items() if path.startswith(begin)), FORM_BYTES)


TOO_LARGE = "That is larger than this page takes."


class TooLarge(Exception):
    """More was sent than is allowed, without saying so beforehand; raised to whoever reads it."""


class Guard:
    """The application behind the rules. The session is in ``scope["session"]`` of what is let through."""

    def __init__(self, app: ASGIApp, entry: Entry, rules: Rules) -> None:
        self.app = app
        self.entry = entry
        self.rules = rules
        sockets = " ".join(f"ws://{host}" for host in sorted(rules.hosts))  # older browsers do not count them to 'self'
        hashes = [b64encode(hashlib.sha256(style.encode()).digest()).decode() for style in rules.styles]
        styles = " ".join(["'self'", *(f"'sha256-{one}'" for one in hashes)])
        self.policy = (
            f"default-src 'none'; script-src 'self'; style-src {styles}; img-src 'self'; media-src 'self'; "
            f"connect-src 'self' {sockets}; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
        )

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or refuse it."""
        if scope["type"] not in {"http", "websocket"}:
            await self.app(scope, receive, send)
            return
        refusal = self._refusal(scope)
        if scope["type"] == "websocket":
            if refusal is not None:
                await send({"type": "websocket.close", "code": 1008})  # before it is accepted: 403
                return
            await self.app(scope, receive, send)
            return
        send = _with_headers(send, self.policy)
        if refusal is not None:
            await refusal(scope, receive, send)
            return
        await self.app(scope, _bounded(receive, self.rules.most(scope["path"])), send)

    def _refusal(self, scope: Scope) -> Response | None:
        """The answer to a request that is not let through; None for one that is, whose session is then in its scope."""
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        if len(headers.getlist("host")) != 1 or host not in self.rules.hosts:
            return PlainTextResponse("This address is not one of this program's own.", 421)
        if headers.get("sec-fetch-site", "none") not in {"same-origin", "none"}:
            return PlainTextResponse("Another page asked for this; type the address yourself.", 403)
        writes = scope["type"] == "websocket" or scope["method"] not in SAFE
        if writes and headers.getlist("origin") != [f"http://{host}"]:
            return PlainTextResponse("This did not come from a page of this program.", 403)
        length = headers.get("content-length", "0")
        if scope["type"] == "http" and not (length.isdecimal() and int(length) <= self.rules.most(scope["path"])):
            return JSONResponse({"refused": TOO_LARGE}, 413)
        if scope["type"] == "http" and scope["path"].startswith(OPEN):
            scope["session"] = self.session(scope)
            return None
        session = self.session(scope)
        if session is None:
            return _shut_out(scope, headers)
        scope["session"] = session
        self.entry.touch(session)
        return None

    def session(self, scope: Scope) -> Session | None:
        """Return the session that a request's cookie names."""
        try:
            cookies = SimpleCookie(Headers(scope=scope).get("cookie", ""))
        except CookieError:
            return None
        found = cookies.get(self.rules.cookie)
        return self.entry.session(found.value if found else None)


def _shut_out(scope: Scope, headers: Headers) -> Response:
    """The way to the entrance: for a page, going there; for what a script asked, a status that it knows."""
    if scope["type"] == "http" and scope["method"] in SAFE and headers.get("sec-fetch-mode", "navigate") == "navigate":
        return RedirectResponse(f"/enter?to={quote(Request(scope).url.path)}", 303)
    return JSONResponse({"refused": "The page is locked; enter again.", "locked": True}, 401)


def _bounded(receive: Receive, limit: int) -> Receive:
    """Receive no more than so many bytes of a body. Raises TooLarge to whoever reads on."""
    taken = 0

    async def bounded() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > limit:
            raise TooLarge
        return message

    return bounded


def _with_headers(send: Send, policy: str) -> Send:
    async def with_headers(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            headers["content-security-policy"] = policy
            headers["x-content-type-options"] = "nosniff"
            headers["referrer-policy"] = "same-origin"  # with none, a form of our own would come from "null"
            headers["cross-origin-resource-policy"] = "same-origin"
            headers["cross-origin-opener-policy"] = "same-origin"
            headers["permissions-policy"] = "microphone=(self), camera=(), geolocation=()"
            headers.setdefault("cache-control", "no-store")
        await send(message)

    return with_headers
