"""What a person sees while files are drafted: a moving bar on a terminal, else one plain line a file."""

from __future__ import annotations

import sys
from pathlib import Path
from types import TracebackType

from rich.console import Console
from rich.progress import BarColumn, Progress, TaskID, TextColumn, TimeElapsedColumn

from dictation.counting import counted
from dictation.drafting import Drafted
from dictation.drafting import Progress as Told
from dictation.note.printable import printable
from dictation.settings import Settings
from dictation.splitting.several import how_to_part
from dictation.terminal.showing import show_cautions


class Reporter:
    """Tells of each file. Results go to stdout, the bar and what went wrong to stderr. quiet: no result
    lines. settings: where given, it ends with how far what was heard can be trusted, and on what that was measured.
    """

    def __init__(self, *, quiet: bool = False, settings: Settings | None = None) -> None:
        self.quiet = quiet
        self._settings = settings
        self._measured: set[str] = set()
        self._bar: Progress | None = None
        self._task: TaskID | None = None

    def __enter__(self) -> Reporter:
        if sys.stderr.isatty():
            self._bar = Progress(
                TextColumn("{task.description}", markup=False),
                BarColumn(),
                TimeElapsedColumn(),
                console=Console(stderr=True),
                transient=True,
            )
            self._bar.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, err: BaseException | None, trace: TracebackType | None) -> None:
        if self._bar is not None:
            self._bar.stop()
        for line in sorted(self._measured):
            print(line, file=sys.stderr, flush=True)

    def begin(self, source: Path) -> Told | None:
        """Begin a file; return what its progress is told to, None where no one looks."""
        name = printable(source.name)
        if self._bar is None:
            print(f"Drafting {name} …", file=sys.stderr, flush=True)
            return None
        self._task = self._bar.add_task(f"Listening to {name}", total=None)
        return self._told

    def _told(self, done_s: float, total_s: float) -> None:
        if self._bar is not None and self._task is not None:
            self._bar.update(self._task, completed=done_s, total=total_s)

    def done(self, outcome: Drafted) -> None:
        """Say how a file went."""
        if self._bar is not None and self._task is not None:
            self._bar.remove_task(self._task)
            self._task = None
        if outcome.error is not None and not self.quiet:
            print(printable(str(outcome.error)), file=sys.stderr, flush=True)
        elif outcome.draft is not None and not self.quiet:
            fields = outcome.draft.fields
            if self._settings is not None and outcome.draft.source.recogniser != "text":
                from dictation.voice_check import measured_line

                self._measured.add(measured_line(outcome.draft.source, self._settings))
            marked = sum(1 for field in fields if field.checked())
            unplaced = counted(len(outcome.draft.unplaced), "stretch of speech", "stretches of speech")
            print(
                f"{printable(str(outcome.target))}: {counted(len(fields), 'statement')}, {marked} to check first, "
                f"{unplaced} that became no field ({outcome.draft.source.recogniser})",
                flush=True,
            )
            if outcome.examinations > 1:
                told = f"another examination begins in it, {outcome.examinations} in all"
                what = how_to_part(outcome.draft, outcome.target)
                print(printable(f"{outcome.source.name}: {told}; {what}."), flush=True)
            for line, _ in show_cautions(fields):
                print(f"{printable(outcome.source.name)}: {line}", flush=True)
            for warning in outcome.draft.source.sound.warnings if outcome.draft.source.sound else ():
                print(f"{printable(outcome.source.name)}: {warning}", file=sys.stderr, flush=True)
