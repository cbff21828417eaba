"""Signed records for the tests of exports, and hostile words that no format may act on."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from scripted import ENDING, WHEN, Script, decide_all, invented_examination

from dictation.review.records import SignedRecord

HOSTILE = (
    "\x1b[2J\x1b]0;owned\x07", "<script>alert(1)</script>", "</w:t><w:p/>", "&lt;&amp;&#x202e;", "]]>", "=HYPERLINK(\"http://x\")",
    "@SUM(1+1)", "+1+1", "-2+3", "|cmd", "\u202e\u2066reversed", "\x00\x01\x0b\ufffe", "[x](http://y)", "# heading\n- item",
    "#set page(width: 1cm)", "$ x $ #panic()", "\\u0000", "'; DROP TABLE note; --", "{{ facts }}",
)  # fmt: skip
"""Escapes of a terminal, markup, control characters no XML may hold, formulas, direction marks, code."""

ACCENTS = "Žluťoučký kůň, Łódź, Ñandú, Åse Øvergård, Ștefan Țepeș, Nguyễn, çà et là, Ελένη, Жанна"
LONG_WORD = "pneumonoultramicroscopicsilicovolcanoconiosis" * 4


def signed_examination(folder: Path, script: Script | None = None, **stated: Any) -> SignedRecord:
    """Sign an examination, the invented one unless another is given."""
    review = (script or invented_examination()).review(folder)
    decide_all(review)
    return review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING, **stated)


def numbered() -> Script:
    """The invented examination with enough numbers for a table."""
    script = invented_examination()
    for side, degrees in (("right", 55.0), ("left", 70.0)):
        script.say("wrist_flexion", "flexion", side=side, value=degrees, unit="deg", mode="active")
    return script


def said(*qualifiers: str) -> Script:
    """A script with one scar for each of some spoken details."""
    script = Script()
    for qualifier in qualifiers:
        script.say("scar", "a scar", side="right", status="present", qualifier=qualifier)
    return script
