"""Which recogniser to use. Each is imported only when chosen."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from dictation.errors import RecogniserUnavailable
from dictation.lexicon.entries import Lexicon
from dictation.recognition.protocol import Recogniser

Kind = Literal["auto", "whisper", "embedded"]


def choose_recogniser(
    kind: Kind, lexicon: Lexicon, *, whisper_model: Path | None = None, cache_dir: Path | None = None,
    fixture_allowed: bool = False, second_reading: bool = False,
) -> Recogniser:  # fmt: skip
    """Return the recogniser asked for; auto is Whisper where a model folder is set, else the embedded one.

    whisper_model: the model folder from the settings. cache_dir: for the embedded one's compiled vocabulary.
    second_reading: of Whisper's words too; the embedded one always has its own. fixture_allowed: for tests only.
    Raises RecogniserUnavailable; never falls back without being told to.
    """
    if kind == "embedded" or (kind == "auto" and whisper_model is None):
        from dictation.recognition.sphinx import EmbeddedRecogniser

        return EmbeddedRecogniser(lexicon, cache_dir)
    from dictation.recognition.whisper import REMAINS, WhisperRecogniser

    if whisper_model is None:
        raise RecogniserUnavailable(f"No Whisper model is set up; fetch one (dictation fetch-whisper --help), or {REMAINS}.")
    return WhisperRecogniser(lexicon, whisper_model, fixture_allowed=fixture_allowed, second_reading=second_reading)
