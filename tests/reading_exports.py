"""What a reader sees of an export: its words as one line, read back by libraries that are not ours."""

from __future__ import annotations

import io
import re
from html.parser import HTMLParser

import pypdfium2
from docx import Document as read_docx

VOID = {"meta", "br", "hr", "img", "link", "input"}
INLINE = {"a", "b", "em", "i", "span", "strong", "text", "tspan"}
"""Elements that run on in their line; any other stands apart, as a cell of a table does."""


class Page(HTMLParser):
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
        if tag not in INLINE:
            self.text += " "

    def handle_data(self, data: str) -> None:
        if self._open and self._open[-1] != "style":
            self.text += data


def html_text(page: str) -> str:
    """Return what a page shows, as one line."""
    return " ".join(Page(page).text.split())


def words(name: str, content: bytes) -> str:
    """Return the words of a note in the format of that name, as one line, without the foot of its pages."""
    match name:
        case "html":
            return html_text(content.decode("utf-8"))
        case "docx":
            lines = []
            for block in read_docx(io.BytesIO(content)).iter_inner_content():
                lines += [cell.text for row in block.rows for cell in row.cells] if hasattr(block, "rows") else [block.text]
            return " ".join(" ".join(lines).split())
        case "pdf":
            pages = (page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(content))
            return " ".join(re.sub(r"Encounter \S+ page \d+ of \d+", "", " ".join(text.split())) for text in pages)
        case "markdown":
            return " ".join(re.sub(r"\\(.)", r"\1", content.decode("utf-8")).split())
    return " ".join(content.decode("utf-8").split())
