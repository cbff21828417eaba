"""One utterance played slower and faster, as a larger or a smaller speaker would have said it.

The acoustic model knows voices of some sizes; a longer or shorter vocal tract moves every formant away from them, and another
speed brings them back. The reading at each speed has a score, and the best is taken; a word on which they agree is more to be
trusted. Speeds rather than a warped filter bank, which brought a third as much on tuning voices (tests/benchmarks).
Source: Lee and Rose 1998, "A frequency warping approach to speaker normalization", IEEE Trans Speech Audio Process 6: 49-60.
"""

from __future__ import annotations

from collections.abc import Sequence

from dictation.recognition.agreement import HeardWord

RATES_HZ = (15_000, 17_000)
"""Rates that stand in for 16 000: what is resampled to 15 000 and taken for 16 000 is faster, and higher, by a fifteenth."""
SURE = 0.94
"""An utterance whose words have this posterior on average, weighted by length, is not read again; chosen on tuning voices."""
NOISY_DB = 15.0
"""Nor is one whose voice stands less than this over the noise: that takes thrice the time there and mends little."""
NOT_ASKED = 0.4
"""The agreement taken where loud noise kept other readings from being made: what it is there on average, on tuning voices."""

NOTHING_DB = 1.0
"""What stands no farther than this over the noise is noise: whatever is heard in it, nothing is taken to agree with that."""


def agreement_alone(words: Sequence[HeardWord], over_noise_db: float) -> float | None:
    """Return the agreement taken for a reading that no other is compared with; None where others are wanted."""
    if over_noise_db < NOTHING_DB:
        return 0.0
    if is_sure(words):
        return 1.0
    return NOT_ASKED if over_noise_db < NOISY_DB else None


def is_sure(words: Sequence[HeardWord]) -> bool:
    """Tell whether a reading is so sure of its words that the others are not needed."""
    frames = [word.end - word.start for word in words]
    return bool(words) and sum(w.posterior * n for w, n in zip(words, frames, strict=True)) >= SURE * sum(frames)


def agreed(word: HeardWord, others: Sequence[Sequence[HeardWord]]) -> float:
    """Return the share of the other readings that have the same word over half of its time or more; 1 where there are none."""
    if not others:
        return 1.0
    half = (word.end - word.start) / 2
    return sum(
        any(o.text == word.text and min(o.end, word.end) - max(o.start, word.start) >= half for o in other) for other in others
    ) / len(others)
