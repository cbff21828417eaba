"""How an endpoint answers: work off the event loop, a form as plain values, and a sentence for everything that can go wrong.

Imports drawing and errors. Nothing is logged: a traceback could quote what was dictated.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping
from typing import Any
from urllib.parse import parse_qs

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from dictation.errors import DictationError, InputError, ReviewError
from dictation.faults import fault_error
from dictation.note.printable import printable
from dictation.web.drawing import draw
from dictation.web.guard import TOO_LARGE, TooLarge

STATUS: Mapping[type[DictationError], int] = {ReviewError: 409, InputError: 404}
"""Kind of error -> HTTP status; 500 for the rest."""

MOST_KEYS = 20_000


class Form(dict[str, str]):
    """A form as sent: key -> its last value. lists: key -> all of its values."""

    def __init__(self, body: bytes) -> None:
        self.lists = parse_qs(body.decode("utf-8", "replace"), keep_blank_values=True, max_num_fields=MOST_KEYS)
        super().__init__({key: values[-1] for key, values in self.lists.items()})

    def number(self, key: str) -> int:
        """Return a whole number that was sent, -1 where there is none."""
        text = self.get(key, "")
        return int(text) if text.isdecimal() and len(text) < 10 else -1


Work = Callable[[Request, Form], Response]


def endpoint(work: Work) -> Callable[[Request], Awaitable[Response]]:
    """Return an endpoint that does the work in a thread, and answers an error with its sentence."""

    async def answer(request: Request) -> Response:
        try:
            form = Form(await request.body() if request.method == "POST" else b"")
            return await run_in_threadpool(work, request, form)
        except TooLarge:
            return JSONResponse({"refused": TOO_LARGE}, 413)
        except DictationError as err:
            return refusal(request, err)
        except Exception as err:
            return refusal(request, fault_error(err, "The page could not answer"))

    return answer


def refusal(request: Request, err: DictationError) -> Response:
    """Return an error as a page, or as JSON for a script."""
    status = next((code for kind, code in STATUS.items() if isinstance(err, kind)), 500)
    text = printable(str(err))
    if by_script(request):
        return JSONResponse({"refused": text}, status)
    return html("error.html", {"text": text}, status)


def by_script(request: Request) -> bool:
    """Return whether the page's script asks, rather than the browser for a whole page."""
    return request.headers.get("accept", "").startswith("application/json")


def html(template: str, values: Mapping[str, Any], status: int = 200) -> HTMLResponse:
    """Return a page."""
    return HTMLResponse(draw(template, values), status)
