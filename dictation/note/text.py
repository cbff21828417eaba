"""The note as plain text, for any record system that takes pasted text."""

from __future__ import annotations

import textwrap

from dictation.lexicon.entries import Lexicon
from dictation.note.content import note_content
from dictation.review.records import CompleteRecord, SignedRecord

WIDTH = 88


def render_text(record: CompleteRecord | SignedRecord, lexicon: Lexicon, *, as_signed: bool = False) -> str:
    """Return the note as text of at most WIDTH columns, ending in a newline. Raises RecordError as
    note_content does.
    """
    content = note_content(record, lexicon, as_signed=as_signed)
    blocks = [content.title.upper()]
    if content.banner:
        blocks.append(_wrap(f"*** {content.banner} ***"))
    for heading, lines in content.sections:
        blocks.append("\n".join([heading.upper(), *(_wrap(line, "  ", "    ") for line in lines)]))
    blocks.append("\n".join(_fact(name, value) for name, value in content.facts))
    blocks += [_wrap(caution) for caution in content.cautions]
    if content.banner:
        blocks.append(_wrap(f"*** {content.banner} ***"))
    return "\n\n".join(blocks) + "\n"


def _fact(name: str, value: str) -> str:
    if len(value) == 64 and " " not in value:  # a checksum is copied whole or not at all
        return f"{name}:\n  {value}"
    return _wrap(f"{name}: {value}", "", "  ")


def _wrap(text: str, first: str = "", rest: str = "") -> str:
    return textwrap.fill(
        text,
        WIDTH,
        initial_indent=first,
        subsequent_indent=rest,
        break_long_words=False,
        break_on_hyphens=False,
    )
