"""From a spoken hand, wrist and elbow examination to a record that the clinician confirms.

Two promised functions, both giving a draft record whose ``model_dump_json()`` is the JSON of the contract
(DEVELOPERS.md, "The record"). Nothing heavy is imported until one of them is called.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from dictation.record import DraftRecord

__version__ = "0.1.0"
__all__ = ["draft_from_audio", "draft_from_text"]


def draft_from_text(text: str) -> DraftRecord:
    """Return the draft record of a dictation given as text; its times are null. Raises TextTooLong (dictation.errors)."""
    from dictation.pipeline import draft_text

    return draft_text(text)


def draft_from_audio(path: str | Path, recogniser: str = "auto") -> DraftRecord:
    """Return the draft record of a recording.

    recogniser: "auto" (Whisper where a model is set up, else the embedded one), "whisper" or "embedded".
    Raises AudioError, InputError, RecogniserUnavailable (dictation.errors).
    """
    from dictation.pipeline import draft_audio

    return draft_audio(path, recogniser=recogniser)
