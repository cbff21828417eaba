"""Signed records for the tests of notes and exports, hostile words that no format may act on, arbitrary examinations."""

from __future__ import annotations

from collections.abc import Set
from pathlib import Path
from typing import Any

from hypothesis import strategies as st
from scripted import ENDING, SHIPPED, WHEN, WHO, Script, decide_all, in_memory, invented_examination

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


_SIDED = sorted(name for name, concept in SHIPPED.concepts.items() if "side" in concept.takes)


@st.composite
def statements(draw: st.DrawFn) -> Script:
    """An examination of arbitrary statements of the shipped lexicon, each with a side."""
    script = Script()
    few = draw(st.lists(st.sampled_from(_SIDED), min_size=1, max_size=4))  # so that the same is said of several places
    for name in draw(st.lists(st.sampled_from(few), min_size=1, max_size=14)):
        concept = SHIPPED.concepts[name]
        keys: dict[str, Any] = {"side": draw(st.sampled_from(["right", "left"]))}
        if "digit" in concept.takes and concept.digit is None:
            keys["digit"] = draw(st.sampled_from([None, "thumb", "index", "ring"]))
        if concept.unit and draw(st.booleans()):
            low, high = concept.plausible or (0, 9)
            keys |= {"value": float(draw(st.integers(int(low), int(high)))), "unit": concept.unit}
            if "present" in concept.statuses:
                keys["status"] = "present"
        elif concept.statuses:
            keys["status"] = draw(st.sampled_from(concept.statuses))
        else:
            keys["qualifier"] = "as told"
        if "mode" in concept.takes:
            keys["mode"] = draw(st.sampled_from([None, "active", "passive"]))
        if concept.kind == "finding" and keys.get("status") == "present":
            keys["severity"] = draw(st.sampled_from([None, "mild"]))
        script.say(name, "said", **keys)
    return script


def signed(script: Script, rejected: Set[int] = frozenset()) -> SignedRecord:
    """Sign a script, the fields at some places rejected, in a store on no disk."""
    review = in_memory(script, SHIPPED)
    for at, name in enumerate(list(review.state.fields)):
        if at in rejected:
            review.reject(name, "a reason", WHO, WHEN)
        else:
            review.confirm(name, WHO, WHEN)
    return review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING)
