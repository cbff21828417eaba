"""Times in a recording, as a person reads them. Imports nothing of ours."""

from __future__ import annotations


def clock(seconds: float | None) -> str:
    """Return a time in the recording as minutes and seconds, "" where there is none.

    >>> clock(72.4)
    '1:12'
    """
    return "" if seconds is None else f"{int(seconds) // 60}:{int(seconds) % 60:02}"


def span(start: float | None, end: float | None) -> str:
    """Return " at 0:12 to 0:15", or "" for typed text."""
    if start is None:
        return ""
    return f" at {clock(start)}" if end is None or clock(end) == clock(start) else f" at {clock(start)} to {clock(end)}"
