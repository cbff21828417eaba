"""The page as HTML: templates filled with what showing.py gives. jinja2 is met here alone.

Whatever was spoken or typed stands in it as text, never as markup. Imports showing, review and store.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from dictation.review.rules import Review
from dictation.web.showing import (
    FieldView,
    view_cautions,
    view_fields,
    view_groups,
    view_progress,
    view_runs,
    view_speech,
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


class Drawer:
    """Draws the pieces of a review; a statement that stands as before is not drawn again."""

    def __init__(self) -> None:
        self._drawn: dict[FieldView, str] = {}

    def __call__(self, review: Review) -> dict[str, str]:
        """Return the pieces of a review: id of an element -> its HTML."""
        macros: Any = templates().get_template("_pieces.html").module
        sound = has_sound(review)
        pieces = {"progress": str(macros.progress(view_progress(review)))}
        pieces |= {view.anchor: str(macros.caution(view)) for view in view_cautions(review)}
        pieces |= {view.anchor: str(macros.run(view)) for view in view_runs(review, sound)}
        pieces |= {view.anchor: str(macros.group(view)) for view in view_groups(review)}
        pieces |= {view.anchor: str(macros.speech(view)) for view in view_speech(review, sound)}
        fresh = {}
        for view in view_fields(review, sound):
            fresh[view] = pieces[view.anchor] = self._drawn.get(view) or str(macros.field(view))
        self._drawn = fresh
        return pieces
