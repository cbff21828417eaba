"""The pages of one draft under review, and the steps taken on them.

Imports answering, deciding, drawing, recorded_sound, showing, sitting, review, note, store and voice_check.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from dictation.errors import InputError, OvertakenError, ReviewError
from dictation.note.printable import printable
from dictation.note.times import clock
from dictation.review.asking import find_concepts
from dictation.review.rules import Review
from dictation.reviewing import marked_moments, sound_line
from dictation.settings import Settings
from dictation.store.journal import now
from dictation.voice_check import measured_line
from dictation.web.answering import Form, endpoint, html
from dictation.web.deciding import Look, decide, look
from dictation.web.drawing import has_sound
from dictation.web.panel import panel_values
from dictation.web.recorded_sound import RecordedSound, byte_range
from dictation.web.showing import (
    anchor,
    steps,
    view_cautions,
    view_entry,
    view_runs,
    view_speech,
    view_words,
)
from dictation.web.sitting import Sitting, Sittings

PATH = "/review/{encounter}/{draft}"
MARKED_BEFORE_S, MARKED_AFTER_S = 8.0, 2.0
"""What is played around a moment that was marked: mostly what came before it, since a mark follows what it is about."""
MOST_FOUND = 12
"""Names shown of a search."""


class ReviewPages:
    """The pages under ``PATH``."""

    def __init__(self, sittings: Sittings, settings: Settings) -> None:
        self.sittings = sittings
        self.settings = settings
        self.sound = RecordedSound()

    def routes(self) -> list[Route]:
        """Return the routes."""
        return [
            Route(PATH, endpoint(self._statements)),
            Route(f"{PATH}/decide", endpoint(self._decide), methods=["POST"]),
            Route(f"{PATH}/changes", endpoint(self._changes)),
            Route(f"{PATH}/panel", endpoint(self._panel)),
            Route(f"{PATH}/look", endpoint(self._look), methods=["POST"]),
            Route(f"{PATH}/names", endpoint(self._names)),
            Route(f"{PATH}/sound", endpoint(self._sound)),
        ]

    def sitting(self, request: Request) -> Sitting:
        """Return the sitting that a request is about. Raises InputError where there is none."""
        return self.sittings.sitting(request.path_params["encounter"], request.path_params["draft"])

    def frame(self, request: Request, sitting: Sitting, review: Review, view: str) -> dict[str, Any]:
        """Return what every page of a review shows."""
        path = request.path_params
        return {
            "base": f"/review/{path['encounter']}/{path['draft']}",
            "version": sitting.version,
            "layout": sitting.layout,
            "view_name": view,
            "reference": review.journal.reference,
            "signed": review.state.signature is not None,
            "who": printable(request.scope["session"].who or ""),
            "pieces": sitting.pieces(),
        }

    def _statements(self, request: Request, form: Form) -> Response:
        if not request.scope["session"].who:
            return RedirectResponse(f"/name?to={request.url.path}", 303)
        order = "examination" if request.query_params.get("order") == "examination" else "doubtful"
        sitting = self.sitting(request)
        with sitting.held() as review:
            source = review.draft.source
            values = self.frame(request, sitting, review, "Statements") | {
                "order": order,
                "measured": None if source.recogniser == "text" else measured_line(source, self.settings),
                "sound_line": sound_line(sitting.encounter, review.draft_sha256),
                "warnings": [printable(warning) for warning in source.sound.warnings] if source.sound else [],
                "cautions": [view.anchor for view in view_cautions(review)],
                "runs": [view.anchor for view in view_runs(review, False)],
                "speech": [view.anchor for view in view_speech(review, False)],
                "moments": [
                    (clock(at), (max(0.0, at - MARKED_BEFORE_S), at + MARKED_AFTER_S))
                    for at in marked_moments(sitting.encounter, review.draft_sha256)
                ],
                "steps": [
                    {"heading": step.heading, "group": step.group, "fields": [anchor(name) for name in step.fields]}
                    for step in steps(review, doubtful_first=order == "doubtful")
                ],
                "words": view_words(review),
                "has_sound": has_sound(review),
            }
            return html("statements.html", values)

    def _decide(self, request: Request, form: Form) -> Response:
        sitting = self.sitting(request)
        since, who = form.number("version"), request.scope["session"].who or ""
        group, shown = form.lists.get("group", []), form.lists.get("shown", [])
        try:
            say = sitting.decide(since, lambda review: decide(review, form, who, now(), group=group, shown=shown))
        except OvertakenError as err:
            return JSONResponse(self._answer(sitting, since, refused=printable(str(err)), meanwhile=True), 409)
        except (ReviewError, KeyError) as err:
            text = str(err) if isinstance(err, ReviewError) else "There is no such statement in this review."
            return JSONResponse(self._answer(sitting, since, refused=printable(text)), 409)
        return JSONResponse(self._answer(sitting, since, say=printable(say)))

    def _changes(self, request: Request, form: Form) -> Response:
        since = request.query_params.get("since", "")
        sitting = self.sitting(request)
        sitting.refresh()
        return JSONResponse(self._answer(sitting, int(since) if since.isdecimal() else -1, meanwhile=True))

    def _answer(self, sitting: Sitting, since: int, *, meanwhile: bool = False, **said: str) -> Mapping[str, Any]:
        """What a page of a version needs to catch up. meanwhile: say what was added since."""
        with sitting.held() as review:
            news = [view_entry(entry, review) for entry in sitting.entries_since(since)] if meanwhile and since >= 0 else []
            return {
                "version": sitting.version, "layout": sitting.layout, "pieces": sitting.since(since), "meanwhile": news,
                **said,
            }  # fmt: skip

    def _panel(self, request: Request, form: Form) -> Response:
        """The panel to amend a statement, or to add one: asked for by a field, by a concept, or by neither to look for one."""
        asked = {key: request.query_params[key] for key in request.query_params}
        sitting = self.sitting(request)
        with sitting.held() as review:
            try:
                return html("panel.html", panel_values(review, asked))
            except (ReviewError, KeyError) as err:
                raise ReviewError(str(err) if isinstance(err, ReviewError) else "There is no such statement.") from err

    def _look(self, request: Request, form: Form) -> Response:
        """What a panel's answers would make, and what that would contradict."""
        with self.sitting(request).held() as review:
            try:
                found = look(review, form)
            except ReviewError as err:
                found = Look(None, str(err), False)
            except KeyError:
                found = Look(None, "There is no such statement in this review.", False)
            against = [review.word(other) for other in review.contradictions(found.field)] if found.field else []
            sentence = review.word(found.field) if found.field else ""
            values = {"sentence": sentence, "problem": printable(found.problem), "keepable": found.keepable, "against": against}
            return html("look.html", values)

    def _names(self, request: Request, form: Form) -> Response:
        """The concepts with a spoken form that holds the letters given."""
        words = request.query_params.get("words", "")
        with self.sitting(request).held() as review:
            found = find_concepts(words, review.lexicon) if words.strip() else []
            return html("names.html", {"found": found[:MOST_FOUND], "more": len(found) - MOST_FOUND, "words": words.strip()})

    def _sound(self, request: Request, form: Form) -> Response:
        try:
            start, end = float(request.query_params["from"]), float(request.query_params["to"])
            if not 0 <= start < end <= 1e6:
                raise ValueError
        except (KeyError, ValueError) as err:
            raise InputError("The page asked for no stretch of the recording that there is.") from err
        with self.sitting(request).held() as review:
            content = self.sound.stretch(review, start, end)
        headers = {"accept-ranges": "bytes"}
        try:
            asked = byte_range(request.headers.get("range"), len(content))
        except ValueError:
            return Response(status_code=416, headers={**headers, "content-range": f"bytes */{len(content)}"})
        if asked is None:
            return Response(content, media_type="audio/wav", headers=headers)
        first, last = asked
        headers["content-range"] = f"bytes {first}-{last}/{len(content)}"
        return Response(content[first : last + 1], 206, media_type="audio/wav", headers=headers)
