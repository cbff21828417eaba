"""The note as plain text, for any record system that takes pasted text."""

from __future__ import annotations

import re
import textwrap

from dictation.lexicon.entries import Lexicon
from dictation.note.document import Block, Document, Facts, Heading, Items, Paragraph, Sentence, Table
from dictation.note.options import NoteOptions
from dictation.note.templating import note_document
from dictation.review.records import CompleteRecord, SignedRecord

WIDTH = 88
_HOLD = "\u00a0"
_UNIT = re.compile(r"(\d) (?=(?:kg|mm|cm|mL|pounds?|seconds?|days?|degrees|out of)\b)")


def render_text(record: CompleteRecord | SignedRecord, lexicon: Lexicon, options: NoteOptions | None = None) -> str:
    """Return the note as text of at most WIDTH columns, ending in a newline. Raises as note_document does."""
    return lay_out_text(note_document(record, lexicon, options))


def lay_out_text(document: Document) -> str:
    """Return a note as text."""
    blocks = [document.title.upper()]
    if document.banner:
        blocks.append(_wrap(f"*** {document.banner} ***"))
    for block, before in zip(document.blocks, (None, *document.blocks), strict=False):
        laid_out = _block(block)
        if (laid_out and isinstance(before, Heading)) or (laid_out and isinstance(before, Items) and isinstance(block, Table)):
            blocks[-1] += f"\n{laid_out}"
        elif laid_out:
            blocks.append(laid_out)
    if document.banner:
        blocks.append(_wrap(f"*** {document.banner} ***"))
    return "\n\n".join(blocks) + "\n"


def _block(block: Block) -> str:
    match block:
        case Heading(text):
            return text.upper()
        case Paragraph():
            return _wrap(block.text)
        case Items(items):
            return "\n".join(_wrap(item.text, "  ", "    ") for item in items)
        case Table(head, rows):
            return _table(head, rows)
        case Facts(pairs):
            return "\n".join(_fact(name, value) for name, value in pairs)
        case _:
            return ""


def _table(head: tuple[str, ...], rows: tuple[tuple[Sentence, ...], ...]) -> str:
    """Rows under each other, each cell with the head of its column: columns do not survive pasting, and a side must."""
    texts = [[f"{head[at]} {cell.text}" if at and cell.text else cell.text for at, cell in enumerate(row)] for row in rows]
    widths = [max(len(row[at]) for row in texts) for at in range(len(head))]
    if sum(widths) + 2 * len(widths) > WIDTH:
        return "\n".join(_wrap(f"{row[0]}: {'; '.join(filter(None, row[1:]))}.", "  ", "    ") for row in texts)
    return "\n".join(
        "  " + "  ".join(text.ljust(width) for text, width in zip(row, widths, strict=True)).rstrip() for row in texts
    )


def _fact(name: str, value: str) -> str:
    if len(value) == 64 and " " not in value:  # a checksum is copied whole or not at all
        return f"{name}:\n  {value}"
    return _wrap(f"{name}: {value}", "", "  ")


def _wrap(text: str, first: str = "", rest: str = "") -> str:
    """The text in lines; no line ends between a number and its unit."""
    return textwrap.fill(
        _UNIT.sub(f"\\1{_HOLD}", text),
        WIDTH,
        initial_indent=first,
        subsequent_indent=rest,
        break_long_words=False,
        break_on_hyphens=False,
    ).replace(_HOLD, " ")
