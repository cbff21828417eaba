"""The real terminal behind the review: reads a line, puts out a line in its tone. rich is imported here and
in progress.py.

Text goes out as text, never as markup; a tone is bold, plain or dim, so that nothing rests on colour.
"""

from __future__ import annotations

import contextlib
import textwrap
from functools import cache

from rich.console import Console
from rich.text import Text

from dictation.terminal.showing import Tone

with contextlib.suppress(ImportError):
    import readline  # noqa: F401  # so that arrow keys edit the line typed, as everywhere else at a terminal

_STYLES: dict[Tone, str] = {
    "heading": "bold",
    "sentence": "bold",
    "doubt": "bold",
    "quiet": "dim",
    "plain": "",
}


@cache
def _console() -> Console:
    return Console(highlight=False, markup=False, emoji=False)


def ask(prompt: str) -> str:
    """Return the line a person types. Raises EOFError where there is no more input."""
    return input(prompt)


def show(line: str, tone: Tone) -> None:
    """Put out one line, wrapped under its own indent where it is too long; a page of several lines goes out
    as it is.
    """
    style, width = _STYLES[tone], max(40, _console().width)
    if "\n" in line or len(line) <= width:
        _console().print(Text(line, style=style), soft_wrap=True)
        return
    indent = len(line) - len(line.lstrip())
    for number, part in enumerate(textwrap.wrap(line.strip(), width - indent - 4, break_on_hyphens=False)):
        _console().print(Text(" " * (indent + (4 if number else 0)) + part, style=style))
