"""The page as HTML: templates filled with what showing.py gives. jinja2 is met here alone.

Whatever was spoken or typed stands in it as text, never as markup. Imports showing, review and store.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from dictation.note.earlier import NOT_CARRIED, say_earlier, say_gone
from dictation.review.earlier import Earlier, earlier_draft
from dictation.review.rules import Review
from dictation.reviewing import not_said
from dictation.web.showing import (
    anchor,
    layout_mark,
    steps,
    view_cautions,
    view_field,
    view_groups,
    view_progress,
    view_runs,
    view_speech,
    waiting_fields,
)


@cache
def templates() -> Environment:
    """Return the templates, compiled once."""
    return Environment(
        loader=PackageLoader("dictation.web"), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )


def draw(template: str, values: Mapping[str, Any]) -> str:
    """Return a template filled with values."""
    return templates().get_template(template).render(values)


def has_sound(review: Review) -> bool:
    """Return whether a draft was heard from a recording that its encounter has, and that was not deleted."""
    facts = review.journal.encounter.facts
    taken = facts.drafts[review.draft_sha256]
    recording = facts.recordings.get(taken.recording)
    return taken.spoken and recording is not None and recording.deleted is None


@dataclass(frozen=True, slots=True)
class Drawing:
    """A review as drawn: see ``Drawn`` of sitting.py."""

    pieces: dict[str, str]
    layout: str


class Drawer:
    """Draws the pieces of one review; a statement that stands as before is not drawn again."""

    def __init__(self) -> None:
        self._drawn: dict[str, tuple[tuple[object, ...], str]] = {}
        self._earlier: Earlier | None = None
        self._begun = False

    def __call__(self, review: Review) -> Drawing:
        """Return the pieces of a review: id of an element -> its HTML."""
        if not self._begun:
            self._earlier = earlier_draft(review.journal.encounter, review.draft_sha256, review.draft)
            self._begun = True
        macros: Any = templates().get_template("_pieces.html").module
        sound, placed, cautions = has_sound(review), steps(review, doubtful_first=True), view_cautions(review)
        pieces = {"progress": str(macros.progress(view_progress(review, cautions)))}
        pieces["missing"] = str(macros.missing(*not_said(review)))
        pieces["earlier"] = str(macros.earlier(*self._before(review)))
        pieces |= {view.anchor: str(macros.caution(view)) for view in cautions}
        pieces |= {view.anchor: str(macros.run(view)) for view in view_runs(review, sound)}
        pieces |= {view.anchor: str(macros.group(view)) for view in view_groups(review, placed)}
        pieces |= {view.anchor: str(macros.speech(view)) for view in view_speech(review, sound)}
        pieces |= {anchor(name): html for name, html in self._fields(review, sound, macros)}
        return Drawing(pieces, layout_mark(placed, cautions))

    def _before(self, review: Review) -> tuple[str, list[str]]:
        """What differs from the draft of the same recording before, and what of that is nowhere here."""
        if self._earlier is None:
            return "", []
        return f"{say_earlier(review, self._earlier)} {NOT_CARRIED}", say_gone(self._earlier, review.word)

    def _fields(self, review: Review, sound: bool, macros: Any) -> Iterator[tuple[str, str]]:
        waiting = waiting_fields(review)
        for name, d in review.state.fields.items():
            stands = (d.field, d.state, d.sentence, d.who, d.reason, name in waiting, sound)
            before, html = self._drawn.get(name, ((), ""))
            if before != stands:
                view = view_field(d, review, waits=name in waiting, sound=sound, earlier=self._earlier)
                html = str(macros.field(view))
                self._drawn[name] = stands, html
            yield name, html
