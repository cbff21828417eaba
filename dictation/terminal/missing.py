"""What such an examination would speak of and nothing was said about, as lines for the clinician; printed in no note.

Imports completeness, review and showing.
"""

from __future__ import annotations

from dictation.completeness.not_mentioned import not_mentioned
from dictation.completeness.purposes import GENERAL
from dictation.note.places import SIDES
from dictation.review.rules import Review
from dictation.terminal.showing import Line


def show_missing(review: Review, most: int | None = None) -> list[Line]:
    """Return what was not mentioned, by the encounter's purpose and what stands: what the findings call for first.

    most: how many at most; the rest is counted.
    """
    purpose = review.details.purpose or GENERAL
    standing = [decision.field for decision in review.state.fields.values() if decision.state != "rejected"]
    found = not_mentioned(standing, review.lexicon, purpose)
    if not found:
        line = "Nothing of the list for this purpose is left to name; no list is a whole examination."
        return [(line, "quiet")] if most is None else []
    heading = f"Not mentioned ({purpose} examination); add it, or leave it: silence is not “not examined”."
    lines: list[Line] = [(heading, "heading")]
    for one in found[:most]:
        side = f"{SIDES[one.side]}: " if one.side else ""
        lines.append((f"  {side}{review.lexicon.concepts[one.concept].preferred}. {one.why}", "plain"))
    if most is not None and len(found) > most:
        lines.append((f"  … and {len(found) - most} more; missing lists them.", "quiet"))
    return lines
