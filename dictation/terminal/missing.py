"""What such an examination would speak of and nothing was said about, as lines for the clinician; printed in no note.

Imports reviewing and showing.
"""

from __future__ import annotations

from dictation.review.rules import Review
from dictation.reviewing import not_said
from dictation.terminal.showing import Line


def show_missing(review: Review, most: int | None = None) -> list[Line]:
    """Return what was not mentioned, by the encounter's purpose and what stands: what the findings call for first.

    most: how many at most; the rest is counted.
    """
    heading, found = not_said(review)
    if not found:
        line = "Nothing of the list for this purpose is left to name; no list is a whole examination."
        return [(line, "quiet")] if most is None else []
    lines: list[Line] = [(heading, "heading"), *((f"  {one}", "plain") for one in found[:most])]
    if most is not None and len(found) > most:
        lines.append((f"  … and {len(found) - most} more; missing lists them.", "quiet"))
    return lines
