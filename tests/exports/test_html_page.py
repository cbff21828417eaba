"""The HTML page: whole, one file, its pictures in it, nothing fetched, and whatever was spoken is text."""

from __future__ import annotations

from pathlib import Path

import pytest
from exported import ACCENTS, HOSTILE, LONG_WORD, said, signed_examination
from reading_exports import Page, html_text
from scripted import LEXICON

from dictation.exports.html_page import render_html
from dictation.note.document import LENGTHS
from dictation.note.options import NoteOptions
from dictation.note.printable import printable
from dictation.note.templating import note_document


@pytest.mark.parametrize("length", LENGTHS)
def test_the_page_holds_the_whole_note(length: str, tmp_path: Path) -> None:
    record = signed_examination(tmp_path)
    options = NoteOptions(length=length)  # type: ignore[arg-type]
    page = Page(render_html(record, LEXICON, options))
    text = " ".join(page.text.split())
    document = note_document(record, LEXICON, options)
    for block in document.blocks:
        for piece in getattr(block, "items", ()) or getattr(block, "sentences", ()):
            assert " ".join(piece.text.split()) in text
    assert record.head in text
    assert page.tags.count("h1") == 1
    assert page.tags.count("svg") == (2 if length in ("full", "letter") else 0)


def test_nothing_is_fetched_and_nothing_runs(tmp_path: Path) -> None:
    page = Page(render_html(signed_examination(tmp_path), LEXICON, NoteOptions()))
    assert not {"script", "link", "img", "iframe", "object", "embed", "form", "base"} & set(page.tags)
    assert not [name for _, name, _ in page.attributes if name.startswith("on") or name in {"src", "href", "xlink:href"}]
    policy = next(value for _, name, value in page.attributes if name == "content" and "default-src" in value)
    assert "default-src 'none'" in policy


def test_whatever_was_spoken_is_text_alone(tmp_path: Path) -> None:
    words = [*HOSTILE, ACCENTS, LONG_WORD]
    plain = Page(render_html(signed_examination(tmp_path, said(*["x"] * len(words))), LEXICON, NoteOptions()))
    other = tmp_path / "other"
    other.mkdir()
    made = render_html(signed_examination(other, said(*words)), LEXICON, NoteOptions())
    page = Page(made)
    outside = [tag for tag in page.tags if tag not in {"tspan", "text"}]
    assert outside == [tag for tag in plain.tags if tag not in {"tspan", "text"}]
    for text in words:
        assert printable(text) in html_text(made)
    assert not set(made) & set("\x1b\x07\x00\x01\x0b\u202e\u2066\ufffe")


def test_a_demonstration_and_a_superseded_note_say_so_twice(tmp_path: Path) -> None:
    page = render_html(signed_examination(tmp_path, demonstration=True), LEXICON, NoteOptions())
    assert page.count('class="banner"') == 2
    assert html_text(page).count("no clinician confirmed any of this") >= 2
