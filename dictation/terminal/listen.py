"""Live dictation at a terminal: what was heard, what came of it and the side in force, line by line; typed words steer it.

Nothing is decided here; review is what decides. Imports live and note.times.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from dictation.live.dictating import Dictating, Now
from dictation.live.shown import Shown, said, shown
from dictation.note.times import clock
from dictation.terminal.showing import Tone

if TYPE_CHECKING:
    from dictation.lexicon.entries import Lexicon

HELP = "Enter alone marks this moment. p: pause, or go on. e: end. w: consent is withdrawn, delete the sound."
LATE_S = 5.0
"""Later than this is said; chosen by us, no source."""

Show = Callable[[str, Tone], None]


class Lines:
    """Turns each state of a dictation into the lines that are new in it. purpose, age: of the encounter."""

    def __init__(self, lexicon: Lexicon, show: Show, *, purpose: str | None = None, age: float | None = None) -> None:
        self._lexicon, self._show, self._purpose, self._age = lexicon, show, purpose, age
        self._said = 0
        self._last = Shown(None)
        self._message: str | None = None
        self._late = False

    def __call__(self, now: Now) -> None:
        """Put out what is new."""
        for utterance in now.utterances[self._said :]:
            self._show(f"  “{said(utterance)}”", "quiet")
        if len(now.utterances) > self._said:
            self._changes(shown(now, self._lexicon, purpose=self._purpose, age=self._age))
        self._said = len(now.utterances)
        if now.message and now.message != self._message:
            self._show(now.message, "doubt")
        self._message = now.message
        late = now.late_s > LATE_S
        if late and not self._late:
            self._show(f"The words come {now.late_s:.0f} s late; your sound is kept, and they catch up.", "doubt")
        self._late = late

    def end(self) -> None:
        """Put out what was not mentioned."""
        if self._last.not_mentioned:
            self._show(f"Not mentioned: {'; '.join(self._last.not_mentioned)}.", "quiet")

    def _changes(self, new: Shown) -> None:
        before = {s.sentence for part in self._last.parts for s in part.statements}
        after = {s.sentence for part in new.parts for s in part.statements}
        for sentence in sorted(before - after):
            self._show(f"Taken back: {sentence}.", "doubt")
        for part in new.parts:
            for one in part.statements:
                if one.sentence not in before:
                    self._show(f"{part.heading}: {one.sentence}.", "sentence")
                    for doubt in one.doubts:
                        self._show(f"    Check: {doubt}", "doubt")
        if new.side != self._last.side:
            self._show(f"Side now: {new.side or 'none said'}", "heading")
        if new.another and not self._last.another:
            self._show(new.another, "doubt")
        for caution in new.cautions:
            if caution not in self._last.cautions:
                self._show(f"Caution, if heard right: {caution}", "doubt")
        self._last = new


def steer(dictating: Dictating, ask: Callable[[str], str], show: Show) -> bool:
    """Follow what is typed until the dictation is to end; return False where consent was withdrawn."""
    show(HELP, "quiet")
    while True:
        try:
            word = ask("").strip().casefold()
        except EOFError:
            word = "e"
        if word in {"e", "end"}:
            return True
        if word in {"w", "withdraw"}:
            if ask("Delete the sound of this encounter, for good? (yes/no) ").strip().casefold() == "yes":
                return False
            show("Nothing was deleted.", "plain")
        elif word in {"p", "pause"}:
            if dictating.now.state == "paused":
                dictating.go_on()
                show("Listening again.", "plain")
            else:
                dictating.pause()
                show("Paused; nothing is recorded. p goes on.", "plain")
        elif word:
            show(HELP, "quiet")
        else:
            dictating.mark()
            show(f"Marked at {clock(dictating.now.recorded_s)}.", "plain")
