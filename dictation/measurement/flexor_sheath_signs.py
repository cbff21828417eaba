"""How many of Kanavel's four signs a digit shows, and which were not spoken of.

Imports findings and result.
"""

from __future__ import annotations

from collections.abc import Iterator

from dictation.measurement.findings import DIGITS, FOUND, SIDES, Findings
from dictation.measurement.result import Measure, Source

SOURCE = Source(
    "Kanavel's four signs; each alone sensitivity 91 to 97, specificity 51 to 69 percent: Kennedy et al. 2017", "verified"
)
SIGNS = {
    "flexed_digit_posture": "flexed posture",
    "fusiform_digit_swelling": "fusiform swelling",
    "flexor_sheath_tenderness": "tenderness along the sheath",
    "pain_on_passive_extension": "pain on passive extension",
}


def kanavel_counts(findings: Findings) -> Iterator[Measure]:
    """Give the count for each digit of which a sign is present."""
    for side in SIDES:
        for digit in DIGITS:
            said = [f for f in findings.of(*SIGNS) if f.side == side and f.digit == digit and f.status in ("present", "absent")]
            present = {f.concept for f in said if f.status in FOUND}
            if not present:
                continue
            silent = [name for concept, name in SIGNS.items() if concept not in {f.concept for f in said}]
            notes = ["Fewer than four does not exclude infection."]
            if silent:
                notes.append(f"Not spoken of: {', '.join(silent)}.")
            yield Measure(
                "kanavel_count", f"Kanavel's signs: {len(present)} of 4", tuple(f.id for f in said), "count of signs present",
                SOURCE, side, digit, float(len(present)), "{score}", tuple(notes),
            )  # fmt: skip
