"""The note as Markdown; whatever was spoken stands in it as text, never as markup."""

from __future__ import annotations

from dictation.lexicon.entries import Lexicon
from dictation.note.document import Block, Document, Facts, Heading, Items, Paragraph, Table
from dictation.note.options import NoteOptions
from dictation.note.printable import markdown
from dictation.note.templating import note_document
from dictation.review.records import CompleteRecord, SignedRecord


def render_markdown(record: CompleteRecord | SignedRecord, lexicon: Lexicon, options: NoteOptions | None = None) -> str:
    """Return the note as CommonMark with tables, ending in a newline. Raises as note_document does."""
    return lay_out_markdown(note_document(record, lexicon, options))


def lay_out_markdown(document: Document) -> str:
    """Return a note as Markdown."""
    banner = [f"> **{markdown(document.banner)}**"] if document.banner else []
    blocks = [f"# {markdown(document.title)}", *banner]
    blocks += filter(None, map(_block, document.blocks))
    return "\n\n".join([*blocks, *banner]) + "\n"


def _block(block: Block) -> str:
    match block:
        case Heading(text):
            return f"## {markdown(text)}"
        case Paragraph():
            return markdown(block.text)
        case Items(items):
            return "\n".join(f"- {markdown(item.text)}" for item in items)
        case Table(head, rows):
            lines = [head, ("---",) * len(head), *(tuple(cell.text for cell in row) for row in rows)]
            return "\n".join(f"| {' | '.join(line if at == 1 else map(markdown, line))} |" for at, line in enumerate(lines))
        case Facts(pairs):
            return "\n".join(["## Record", "", *(f"- {markdown(name)}: {markdown(value)}" for name, value in pairs)])
        case _:
            return ""
