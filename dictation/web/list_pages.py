"""The work list as a page, and the recordings dropped onto it.

Imports answering, dropping, work_list, store and errors.
"""

from __future__ import annotations

import shutil

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from dictation.errors import DictationError, InputError
from dictation.note.printable import printable
from dictation.store.facts import PURPOSES, suggest_reference
from dictation.web.answering import Form, endpoint, html, refusal
from dictation.web.dropping import Dropping
from dictation.web.guard import TOO_LARGE, TooLarge
from dictation.web.work_list import STATES, WorkList
from dictation.writing import output_error

DROP = "/drop"


class ListPages:
    """The work list, and what is dropped onto it."""

    def __init__(self, work: WorkList, dropping: Dropping) -> None:
        self.work = work
        self.dropping = dropping

    def routes(self) -> list[Route]:
        """Return the routes."""
        return [
            Route("/", endpoint(self._list)),
            Route("/rows", endpoint(self._rows)),
            Route("/suggest", endpoint(self._suggest)),
            Route(DROP, self._drop, methods=["POST"]),
            Route("/stop", endpoint(self._stop), methods=["POST"]),
        ]

    def _list(self, request: Request, form: Form) -> Response:
        return self._show(request, "work_list.html")

    def _rows(self, request: Request, form: Form) -> Response:
        """What of the list changes while recordings are drafted."""
        return self._show(request, "_rows.html")

    def _show(self, request: Request, template: str) -> Response:
        words, state = request.query_params.get("words", ""), request.query_params.get("state", "")
        rows, more = self.work.rows(words.strip(), state if state in STATES else "")
        who = printable(request.scope["session"].who or "")
        values = {"rows": rows, "more": more, "words": words, "state": state, "states": STATES, "who": who}
        return html(template, values | {"drops": self.dropping.drops(), "purposes": PURPOSES})

    def _suggest(self, request: Request, form: Form) -> Response:
        """A reference by the name of a file, to be changed or left."""
        name = request.query_params.get("name", "")
        return JSONResponse({"reference": suggest_reference(name.rsplit(".", 1)[0]) or ""})

    async def _drop(self, request: Request) -> Response:
        """Take a recording as the body of a request, and have it drafted."""
        asked, who = request.query_params, request.scope["session"].who
        try:
            if not who:
                raise InputError("Decisions need your name; give it first.")
            name, known = asked.get("name", ""), asked.get("known") == "yes"
            reference = await run_in_threadpool(self.dropping.check, name, asked.get("reference", ""), known=known)
            place = await run_in_threadpool(self.dropping.place, name)
        except DictationError as err:
            return refusal(request, err)
        try:
            with place.open("xb") as file:
                async for chunk in request.stream():
                    file.write(chunk)
        except TooLarge:
            shutil.rmtree(place.parent, ignore_errors=True)
            return JSONResponse({"refused": TOO_LARGE}, 413)
        except OSError as err:
            shutil.rmtree(place.parent, ignore_errors=True)
            return refusal(request, output_error("the recording", err))
        except BaseException:  # the browser went away half-way
            shutil.rmtree(place.parent, ignore_errors=True)
            raise
        self.dropping.add(place, reference, who)
        return JSONResponse({"say": "Dropped."})

    def _stop(self, request: Request, form: Form) -> Response:
        self.dropping.stop(form.get("id", ""))
        return RedirectResponse("/", 303)
