"""The tables of an audit as CSV files and as bars. Imports counts, exports' cells, pictures' svg and page, writing.

A cell that a spreadsheet would take for a formula is made text.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path

from dictation.audit.counts import Table
from dictation.exports.csv_rows import safe_cell
from dictation.pictures.page import page
from dictation.pictures.svg import Picture, element, finish, new, wrap, write
from dictation.writing import make_folder, write_whole

WIDTH = 900.0
_NAMES, _BARS, _ROW = 420.0, 380.0, 26.0
MOST_BARS = 40


def as_csv(table: Table) -> bytes:
    """Return a table as CSV in UTF-8 with its mark."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(table.heads)
    writer.writerows([safe_cell(cell) if isinstance(cell, str) else cell for cell in row] for row in table.rows)
    return out.getvalue().encode("utf-8-sig")


def write_csv(folder: Path, tables: Sequence[Table]) -> None:
    """Write each table to a file of its name. Raises OutputError."""
    make_folder(folder)
    for table in tables:
        write_whole(folder / f"{table.name}.csv", as_csv(table))


def bars(table: Table) -> Picture:
    """Return a bar for the share of each row, the first MOST_BARS of them. The table must have a share."""
    assert table.share is not None, "only a table with a share has bars"
    share = table.share
    shown = [row for row in table.rows if isinstance(row[share], float | int)][:MOST_BARS]
    root = new("audit", table.title, WIDTH)
    write(root, 20, 34, table.title, font_size=20, font_weight="bold")
    y, sentences = 60.0, [f"{table.title}. {table.remark}"]
    for row in shown:
        value = float(row[share])
        label = ", ".join(str(cell) for cell in row[:share] if isinstance(cell, str))
        counts = " of ".join(str(cell) for cell in row[:share] if isinstance(cell, int))
        write(root, 20, y + 15, wrap(label, _NAMES - 30, 14)[0], font_size=14)
        element(root, "rect", "pale", x=_NAMES, y=y + 3, width=_BARS, height=_ROW - 10)
        element(root, "rect", "bar", x=_NAMES, y=y + 3, width=_BARS * min(1.0, value), height=_ROW - 10)
        write(root, _NAMES + _BARS + 10, y + 15, f"{value:.0%}", font_size=14)
        sentences.append(f"{label}: {value:.0%} ({counts}).")
        y += _ROW
    if not shown:
        write(root, 20, y + 15, "Too few examinations for a figure.", "soft")
        y += _ROW
    return finish(root, y + 16, sentences)


def write_plots(path: Path, tables: Sequence[Table], examinations: int) -> None:
    """Write the bars of all tables with a share as one HTML file. Raises OutputError."""
    pictures = [bars(table) for table in tables if table.share is not None]
    remark = f"{examinations} examinations; counts alone, no patients."
    write_whole(path, page("Audit of signed examinations", pictures, remark))
