"""The HTML page: whole, one file, its pictures in it, nothing fetched, and whatever was spoken is text."""

from __future__ import annotations

from html.parser import HTMLParser
from pathlib import Path

import pytest
from exported import ACCENTS, HOSTILE, LONG_WORD, said, signed_examination
from scripted import LEXICON

from dictation.exports.html_page import render_html
from dictation.note.document import LENGTHS
from dictation.note.options import NoteOptions
from dictation.note.printable import printable
from dictation.note.templating import note_document

VOID = {"meta", "br", "hr", "img", "link", "input"}


class _Page(HTMLParser):
    """Reads a page as a browser would: its elements, their attributes, its text; and asserts that they nest."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str, str]] = []
        self.text = ""
        self._open: list[str] = []
        self.feed(page)
        self.close()
        assert self._open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]

    def handle_endtag(self, tag: str) -> None:
        assert self._open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self._open and self._open[-1] != "style":
            self.text += data


def _text(page: str) -> str:
    return " ".join(_Page(page).text.split())


@pytest.mark.parametrize("length", LENGTHS)
def test_the_page_holds_the_whole_note(length: str, tmp_path: Path) -> None:
    record = signed_examination(tmp_path)
    options = NoteOptions(length=length)  # type: ignore[arg-type]
    page = _Page(render_html(record, LEXICON, options))
    text = " ".join(page.text.split())
    document = note_document(record, LEXICON, options)
    for block in document.blocks:
        for piece in getattr(block, "items", ()) or getattr(block, "sentences", ()):
            assert " ".join(piece.text.split()) in text
    assert record.head in text
    assert page.tags.count("h1") == 1
    assert page.tags.count("svg") == (2 if length in ("full", "letter") else 0)


def test_nothing_is_fetched_and_nothing_runs(tmp_path: Path) -> None:
    page = _Page(render_html(signed_examination(tmp_path), LEXICON, NoteOptions()))
    assert not {"script", "link", "img", "iframe", "object", "embed", "form", "base"} & set(page.tags)
    assert not [name for _, name, _ in page.attributes if name.startswith("on") or name in {"src", "href", "xlink:href"}]
    policy = next(value for _, name, value in page.attributes if name == "content" and "default-src" in value)
    assert "default-src 'none'" in policy


def test_whatever_was_spoken_is_text_alone(tmp_path: Path) -> None:
    words = [*HOSTILE, ACCENTS, LONG_WORD]
    plain = _Page(render_html(signed_examination(tmp_path, said(*["x"] * len(words))), LEXICON, NoteOptions()))
    other = tmp_path / "other"
    other.mkdir()
    made = render_html(signed_examination(other, said(*words)), LEXICON, NoteOptions())
    page = _Page(made)
    outside = [tag for tag in page.tags if tag not in {"tspan", "text"}]
    assert outside == [tag for tag in plain.tags if tag not in {"tspan", "text"}]
    for text in words:
        assert printable(text) in _text(made)
    assert not set(made) & set("\x1b\x07\x00\x01\x0b\u202e\u2066\ufffe")


def test_a_demonstration_and_a_superseded_note_say_so_twice(tmp_path: Path) -> None:
    page = render_html(signed_examination(tmp_path, demonstration=True), LEXICON, NoteOptions())
    assert page.count('class="banner"') == 2
    assert _text(page).count("no clinician confirmed any of this") >= 2
