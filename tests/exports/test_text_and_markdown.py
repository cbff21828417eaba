"""Text and Markdown: whatever was spoken is text, on a terminal and in a page made by a Markdown reader that is not ours."""

from __future__ import annotations

from pathlib import Path

import pytest
from exported import ACCENTS, HOSTILE, LONG_WORD, numbered, said, signed_examination
from markdown_it import MarkdownIt
from scripted import ENDING, LEXICON, WHEN, decide_all, invented_examination

from dictation.exports.formats import FORMATS
from dictation.note.document import LENGTHS, Length
from dictation.note.options import NoteOptions
from dictation.note.printable import printable
from dictation.review.records import SignedRecord

WORDS = [printable(text) for text in (*HOSTILE, ACCENTS, LONG_WORD)]


@pytest.fixture
def hostile(tmp_path: Path) -> SignedRecord:
    return signed_examination(tmp_path, said(*WORDS))


@pytest.mark.parametrize("length", LENGTHS)
def test_nothing_in_the_text_acts_on_a_terminal(length: Length, hostile: SignedRecord) -> None:
    note = FORMATS["text"].write(hostile, LEXICON, NoteOptions(length=length)).decode()
    assert all(char == "\n" or char.isprintable() for char in note)
    shown = " ".join(note.split())
    assert all(word in shown for word in WORDS)


@pytest.mark.parametrize("length", LENGTHS)
def test_a_markdown_reader_finds_words_and_no_markup_of_theirs(length: Length, hostile: SignedRecord, tmp_path: Path) -> None:
    """Read by markdown-it-py, CommonMark with tables."""
    note = FORMATS["markdown"].write(hostile, LEXICON, NoteOptions(length=length)).decode()
    tokens = MarkdownIt("commonmark", {"html": True}).enable("table").parse(note)
    inline = [child for token in tokens for child in token.children or []]
    kinds = {token.type for token in tokens} | {child.type for child in inline}
    assert not {"html_block", "html_inline", "link_open", "image", "code_inline", "fence", "code_block", "table_open"} & kinds
    shown = " ".join("".join(child.content for child in token.children or []) for token in tokens if token.type == "inline")
    assert all(word in shown for word in WORDS)
    headings = sum(token.type == "heading_open" for token in tokens)
    other = tmp_path / "plain"
    other.mkdir()
    plain = FORMATS["markdown"].write(signed_examination(other, said("x")), LEXICON, NoteOptions(length=length)).decode()
    assert headings == plain.count("\n#") + plain.startswith("#")


@pytest.mark.parametrize(
    "text", ["- no swelling", "+ x", "1. first", "12) x", "=====", "---", "    code", "> quote", "www.x.org"]
)
def test_an_addendum_that_looks_like_markup_is_a_paragraph(text: str, tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    decide_all(review)
    review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING)
    record = review.add_addendum(text, "Dr B. Invented", "Registrar", WHEN, ending=ENDING)
    note = FORMATS["markdown"].write(record, LEXICON, NoteOptions(length="brief")).decode()
    tokens = MarkdownIt("gfm-like", {"linkify": False}).parse(note)
    at = next(n for n, token in enumerate(tokens) if printable(text) in token.content.replace("\\", ""))
    assert [token.type for token in tokens[at - 1 : at + 2]] == ["paragraph_open", "inline", "paragraph_close"]
    assert tokens[at].level == 1
    assert "www." not in note


def test_a_markdown_reader_finds_the_table(tmp_path: Path) -> None:
    note = FORMATS["markdown"].write(signed_examination(tmp_path, numbered()), LEXICON, NoteOptions()).decode()
    kinds = [token.type for token in MarkdownIt("commonmark").enable("table").parse(note)]
    assert kinds.count("table_open") == 1
    assert kinds.count("th_open") == 3
    assert kinds.count("tr_open") == 4
