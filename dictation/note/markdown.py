"""The note as Markdown; whatever was spoken stands in it as text, never as markup."""

from __future__ import annotations

from dictation.lexicon.entries import Lexicon
from dictation.note.content import note_content
from dictation.note.printable import markdown
from dictation.review.records import CompleteRecord, SignedRecord


def render_markdown(record: CompleteRecord | SignedRecord, lexicon: Lexicon, *, as_signed: bool = False) -> str:
    """Return the note as CommonMark, ending in a newline. Raises RecordError as note_content does."""
    content = note_content(record, lexicon, as_signed=as_signed)
    blocks = [f"# {markdown(content.title)}"]
    if content.banner:
        blocks.append(f"> **{markdown(content.banner)}**")
    for heading, lines in content.sections:
        blocks.append("\n".join([f"## {markdown(heading)}", "", *(f"- {markdown(line)}" for line in lines)]))
    blocks.append("\n".join(["## Record", "", *(f"- {markdown(name)}: {markdown(value)}" for name, value in content.facts)]))
    blocks += [markdown(caution) for caution in content.cautions]
    return "\n\n".join(blocks) + "\n"
