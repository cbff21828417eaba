"""An unexpected fault of the program as a sentence: its kind and its place in the code, never what was said.

A traceback can quote patient text, so it is printed only where DICTATION_TRACEBACK=1 asks for it. Imports
nothing of ours but errors.
"""

from __future__ import annotations

import os
import sys
import traceback
from pathlib import Path

from dictation.errors import DictationError

TRACEBACK_VARIABLE = "DICTATION_TRACEBACK"
_OURS = Path(__file__).parent


def fault_error(err: Exception, happened: str) -> DictationError:
    """Return the error (exit code 1) for a fault, and print its traceback to stderr where that is asked for.

    happened: the beginning of the sentence, without a full stop.
    """
    if os.environ.get(TRACEBACK_VARIABLE) == "1":
        traceback.print_exception(err, file=sys.stderr)
    return DictationError(
        f"{happened}: a fault in the program ({type(err).__name__} in {_place(err)}); please report it, "
        "without the recording or its text."
    )


def _place(err: Exception) -> str:
    """The last line of ours that the fault passed through, as "numbers.py, line 12"."""
    frames = traceback.extract_tb(err.__traceback__)
    ours = [frame for frame in frames if Path(frame.filename).is_relative_to(_OURS)] or frames
    return f"{Path(ours[-1].filename).name}, line {ours[-1].lineno}" if ours else "an unknown place"
