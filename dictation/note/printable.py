"""Text that is safe to put on a terminal or a page, whatever was spoken, typed or imported.

Takes any text; gives one line without control, formatting or direction-changing characters, so that no spoken
or imported word can move the cursor, hide a "no" or turn "left" round. Imports nothing of ours.
"""

from __future__ import annotations

import re
import unicodedata

_UNSAFE = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
_BEGINS = re.compile(r"^(\d*)([-+=.):])")  # of a list, or under a heading, where a line begins with it
_ADDRESS = re.compile(r"(https?|ftp|www)([:.])", re.IGNORECASE)  # what some readers make a link of by itself
_MARKDOWN = set("\\`*_{}[]()<>#|~!&")


def printable(text: str) -> str:
    """Return text as one line, runs of spaces made one, unsafe characters left out.

    >>> printable("no\\x1b[2K  swelling\\n")
    'no[2K swelling'
    """
    if text.isprintable():  # nothing to leave out, as nearly always
        return " ".join(text.split())
    kept = (" " if ch.isspace() else ch for ch in text if ch.isspace() or unicodedata.category(ch) not in _UNSAFE)
    return " ".join("".join(kept).split())


def markdown(text: str) -> str:
    """Return printable text with every character that Markdown or HTML would act on escaped.

    >>> markdown("a_b <i>")
    'a\\\\_b \\\\<i\\\\>'
    """
    escaped = "".join("\\" + ch if ch in _MARKDOWN else ch for ch in printable(text))
    return _ADDRESS.sub(r"\1\\\2", _BEGINS.sub(r"\1\\\2", escaped))
