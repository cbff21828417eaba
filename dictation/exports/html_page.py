"""The note as one HTML file with its pictures in it: nothing to fetch, no script, and what was spoken is text alone."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined, Template

from dictation.exports.figures import figures
from dictation.lexicon.entries import Lexicon
from dictation.note.document import PicturePlace
from dictation.note.options import NoteOptions
from dictation.note.templating import note_document
from dictation.review.records import SignedRecord


def render_html(record: SignedRecord, lexicon: Lexicon, options: NoteOptions) -> str:
    """Return the page. Raises as note_document does."""
    document = note_document(record, lexicon, options)
    pictured = any(isinstance(block, PicturePlace) for block in document.blocks)
    blocks = [(type(block).__name__, block) for block in document.blocks]
    pictures = figures(record, lexicon, options) if pictured else []
    return _page().render(document=document, blocks=blocks, pictures=pictures) + "\n"


@lru_cache(maxsize=1)
def _page() -> Template:
    loader = FileSystemLoader(Path(__file__).parent)
    environment = Environment(
        loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    return environment.get_template("page.html.jinja")
