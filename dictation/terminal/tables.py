"""A table as plain text: cells that fit a terminal or a file, with nothing in them that acts on a screen.

Imports printable.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence

from rich.console import Console
from rich.table import Table

from dictation.note.printable import printable

WIDE = 120
"""Columns where no terminal says how wide it is."""


def plain_table(heads: Sequence[str], rows: Sequence[Sequence[str | int | float]], width: int | None = None) -> str:
    """Return the rows under their heads; a column of numbers stands to the right."""
    table = Table(box=None, pad_edge=False)
    for place, head in enumerate(heads):
        numbers = bool(rows) and all(not isinstance(row[place], str) or not row[place] for row in rows)
        table.add_column(head, justify="right" if numbers else "left", overflow="fold")
    for row in rows:
        table.add_row(*(printable(str(cell)) for cell in row))
    console = Console(width=width or (None if sys.stdout.isatty() else WIDE), highlight=False, markup=False, emoji=False)
    with console.capture() as captured:
        console.print(table)
    return "\n".join(line.rstrip() for line in captured.get().splitlines())
