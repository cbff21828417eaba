"""A process that drafts all day does not grow: the words of earlier dictations are not kept."""

from __future__ import annotations

import gc
import random
from pathlib import Path

import pytest
from scoring import read_cases

from dictation import draft_from_text

CASES = read_cases(Path(__file__).parent / "cases" / "dictations_tuning.jsonl")
ALLOWED_MB = 25
"""Growth from the hundredth draft to the three hundredth: 16 measured, most of it caches that still fill up to their bound. A
process that kept its drafts would grow by more than twice as much. Chosen by us, no source."""


def resident_mb() -> float:
    """Return the memory this process holds now."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * 4096 / 1e6


def unheard_of(draw: random.Random) -> str:
    """A word that nobody said before."""
    return "".join(draw.choice(["ba", "ke", "lo", "mi", "nu", "tar", "sen", "dor", "vel"]) for _ in range(draw.randint(3, 5)))


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="memory is read from /proc")
def test_three_hundred_drafts_leave_no_more_behind_than_one_hundred() -> None:
    draw, held, fields = random.Random(1), [], 0
    for number in range(300):
        text = draw.choice(CASES)["text"].split()
        for _ in range(60):
            text.insert(draw.randrange(len(text)), unheard_of(draw))
        fields += len(draft_from_text(" ".join(text)).fields)
        if number in {99, 299}:
            gc.collect()
            held.append(resident_mb())
    assert fields > 1000
    assert held[1] - held[0] < ALLOWED_MB
