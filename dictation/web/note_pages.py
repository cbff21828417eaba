"""The note of a review on the page: its preview, the signature, what is added later, and every form it can be taken along in.

Imports answering, reviewing_pages' frame, note, pictures, review and store.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from dictation import __version__
from dictation.errors import InputError, OvertakenError, ReviewError
from dictation.exports.formats import FORMATS, file_name
from dictation.measurement.tables import RANGE_SOURCES
from dictation.note.document import LENGTHS, Length
from dictation.note.places import side_heading
from dictation.note.printable import printable
from dictation.note.summary import summarise
from dictation.note.templating import note_document
from dictation.pictures.bars import movement_bars
from dictation.pictures.hands import hands
from dictation.record import RecordField
from dictation.review.asking import stated_time
from dictation.review.rules import Review
from dictation.reviewing import after_signing, note_options, signed_notes
from dictation.settings import Settings
from dictation.store.journal import now
from dictation.store.package import write_package
from dictation.web.answering import Form, endpoint, html
from dictation.web.numbers import view_numbers
from dictation.web.reviewing_pages import PATH, ReviewPages
from dictation.web.showing import view_progress
from dictation.web.sitting import Sitting

WHOLE = "encounter"
"""The download that is no format of the note: the whole encounter, as it is handed over."""

_TYPED = ("signer", "role", "examined", "dictated", "text")


class NotePages:
    """Numbers, pictures, note and downloads of one draft."""

    def __init__(self, reviews: ReviewPages, settings: Settings) -> None:
        self.reviews = reviews
        self.settings = settings

    def routes(self) -> list[Route]:
        """Return the routes."""
        return [
            Route(f"{PATH}/numbers", endpoint(self._numbers)),
            Route(f"{PATH}/hands", endpoint(self._hands)),
            Route(f"{PATH}/note", endpoint(self._note)),
            Route(f"{PATH}/sign", endpoint(self._sign), methods=["POST"]),
            Route(f"{PATH}/addendum", endpoint(self._addendum), methods=["POST"]),
            Route(f"{PATH}/download/{{shape}}", endpoint(self._download)),
        ]

    def _numbers(self, request: Request, form: Form) -> Response:
        sitting = self.reviews.sitting(request)
        with sitting.held() as review:
            frame = self.reviews.frame(request, sitting, review, "Numbers")
            return html("numbers.html", frame | {"tables": view_numbers(review)})

    def _hands(self, request: Request, form: Form) -> Response:
        table = request.query_params.get("table", "")
        table = table if table in RANGE_SOURCES else self.settings.normal_table
        sitting = self.reviews.sitting(request)
        with sitting.held() as review:
            fields = [as_decided(review, name) for name in review.state.fields]
            pictures = [
                ("Where it was found", hands(fields, review.lexicon, review.word)),
                ("Movements measured", movement_bars(fields, table)),
            ]
            frame = self.reviews.frame(request, sitting, review, "Hands")
            return html("hands.html", frame | {"pictures": pictures, "table": table, "tables": RANGE_SOURCES})

    def _note(self, request: Request, form: Form) -> Response:
        sitting = self.reviews.sitting(request)
        with sitting.held() as review:
            return self._show(request, sitting, review, form, "")

    def _show(self, request: Request, sitting: Sitting, review: Review, form: Form, refused: str) -> Response:
        """The note as it stands: signed, to be signed, or what is left before it can be."""
        signed = review.state.signature is not None
        progress = view_progress(review)
        document = summary = None
        length = self._length(request)
        if signed or progress.done:
            record = review.signed() if signed else review.complete()
            document = note_document(record, review.lexicon, note_options(record, self.settings, length=length))
        if progress.done and not signed:
            found = summarise(review)
            summary = {
                "blocks": [
                    (what, side, [review.word(one) for one in fields])
                    for what, by_side in found.blocks
                    for side, fields in by_side
                ],
                "plans": [(side_heading(one), review.word(one)) for one in found.plans],
                "disagreements": [(review.word(one), review.word(other)) for one, other in found.disagreements],
            }
        details = review.details
        typed = {key: printable(form.get(key, "")) for key in _TYPED}
        typed["role"] = typed["role"] or printable(self.settings.reviewer_role or "")
        values: dict[str, Any] = {
            "document": document,
            "blocks": [(type(block).__name__, block) for block in document.blocks] if document else [],
            "length": length,
            "lengths": LENGTHS,
            "summary": summary,
            "progress": progress,
            "typed": typed,
            "refused": refused,
            "stated": printable(details.examined or ""),
            "hasty": review.state.hasty,
            "downloads": [(form.name, form.what) for form in FORMATS.values()] if signed else [],
        }
        frame = self.reviews.frame(request, sitting, review, "Note")
        return html("note.html", frame | values, 409 if refused else 200)

    def _sign(self, request: Request, form: Form) -> Response:
        def sign(review: Review) -> str:
            time = now()
            review.sign(
                printable(form.get("signer", "")), printable(form.get("role", "")), time, ending=form.get("ending", ""),
                examined=stated_time(form.get("examined", ""), time), dictated=stated_time(form.get("dictated", ""), time),
            )  # fmt: skip
            return "Signed."

        return self._written(request, form, sign, signs=True)

    def _addendum(self, request: Request, form: Form) -> Response:
        def add(review: Review) -> str:
            signer, role, text = (printable(form.get(key, "")) for key in ("signer", "role", "text"))
            review.add_addendum(text, signer, role, now(), ending=form.get("ending", ""))
            return "Added."

        return self._written(request, form, add)

    def _written(self, request: Request, form: Form, step: Callable[[Review], str], *, signs: bool = False) -> Response:
        """Take a step that ends on the note's page, which says why where it was refused."""
        sitting = self.reviews.sitting(request)
        try:
            sitting.decide(form.number("version"), step)
        except ReviewError as err:
            with sitting.held() as review:
                again = " Look at what changed, then sign." if isinstance(err, OvertakenError) else ""
                return self._show(request, sitting, review, form, printable(str(err)) + again)
        if signs:
            after_signing(sitting.encounter, self.settings, printable(form.get("signer", "")), now())
        path = request.path_params
        return RedirectResponse(f"/review/{path['encounter']}/{path['draft']}/note", 303)

    def _length(self, request: Request) -> Length:
        asked = request.query_params.get("length")
        return next((one for one in LENGTHS if one == asked), "full")

    def _download(self, request: Request, form: Form) -> Response:
        shape = request.path_params["shape"]
        if shape not in FORMATS and shape != WHOLE:
            raise InputError("There is no such form of the note.")
        with self.reviews.sitting(request).held() as review:
            signed = review.signed()
            options = note_options(signed, self.settings, length=self._length(request))
            if shape == WHOLE:
                name = file_name(signed, replace(FORMATS["json"], ending="zip"), options)
                return _file(self._whole(review), name, "application/zip")
            wanted = FORMATS[shape]
            content = wanted.write(signed, review.lexicon, options)
            return _file(content, file_name(signed, wanted, options), wanted.media_type)

    def _whole(self, review: Review) -> bytes:
        encounter = review.journal.encounter
        with tempfile.TemporaryDirectory() as folder:
            target = Path(folder) / "encounter.zip"
            write_package(encounter, target, signed_notes(encounter, self.settings), __version__)
            return target.read_bytes()


def _file(content: bytes, name: str, media: str) -> Response:
    return Response(content, media_type=media, headers={"content-disposition": f'attachment; filename="{name}"'})


def as_decided(review: Review, name: str) -> RecordField:
    """Return a field as it stands, with what was decided of it."""
    decision = review.state.fields[name]
    return decision.field.model_copy(update={"decision": decision.state})
