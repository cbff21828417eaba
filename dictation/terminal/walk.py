"""The review at a terminal: every field in turn, its sentence, its doubts, the words heard, and one decision
at a time.

``ask`` gives the person's line for a prompt, ``show`` puts out a line with a tone, ``clock`` tells the time:
all three are handed in. Nothing is preselected, an empty line only goes on to the next, and every decision is
on disk before the next field is shown. Imports review, questions, showing, note, lexicon, journal and errors.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from time import monotonic
from typing import Literal

from dictation.counting import counted
from dictation.errors import OvertakenError, ReviewError
from dictation.note.order import order_steps
from dictation.note.places import side_heading
from dictation.note.text import render_text
from dictation.note.wording import HEADINGS
from dictation.record import Side
from dictation.review.amendment import side_open
from dictation.review.cautions import Caution
from dictation.review.decisions import ANSWERS, run_target
from dictation.review.earlier import Earlier
from dictation.review.rules import Review
from dictation.store.journal import Moment
from dictation.terminal.changing import Changing
from dictation.terminal.commands import CAUTION, COMMANDS, GROUP, SIDES, SPEECH, ask_command
from dictation.terminal.earlier import show_earlier, show_gone, show_was
from dictation.terminal.hearing import Hearing, Play
from dictation.terminal.missing import show_missing
from dictation.terminal.questions import Ask, Show, leaving
from dictation.terminal.showing import show_entry, show_field, show_run, show_summary, show_unplaced
from dictation.terminal.signing import SignatureAnswers, ask_signature
from dictation.terminal.standing import name_of, progress, show_standing

Order = Literal["doubtful", "examination"]


_SIDES: tuple[Side, ...] = ("right", "left")
_ALWAYS = ("next", "undo", "missing", "progress", "stop", "help")
"""Commands that work wherever something is asked."""

_MOST_TAKEN_BACK = 50
"""So many decisions taken back in a row are returned to at once; each waits for the one after it."""

_FIRST_MISSING = 6
"""How many of what was not mentioned stand before the signature unasked, those that the findings call for first."""

_ANSWER = dict(zip(CAUTION, ANSWERS, strict=True))


class _Stop(Exception):
    """The person leaves."""


class _SignedMeanwhile(Exception):
    """Somebody else has signed the record."""


@dataclass
class Walk:
    """One sitting of a review. who: the reviewer's name, written into every decision.

    measured: how often the recogniser was wrong with no mark, and on what that was measured; None for typed text.
    play: plays stretches of the recording; None for typed text. earlier: the draft of the same recording before this one.
    """

    review: Review
    who: str
    ask: Ask
    show: Show
    clock: Callable[[], Moment]
    order: Order = "doubtful"
    role: str | None = None
    measured: str | None = None
    play: Play | None = None
    earlier: Earlier | None = None
    stopwatch: Callable[[], float] = monotonic
    _singly: set[str] = field(default_factory=set)
    _taken_back: int = 0

    def __post_init__(self) -> None:
        self._changing = Changing(self.review, self.who, leaving(self.ask), self.show, self.clock)
        self._hearing = Hearing(self.play, self.show)

    def run(self) -> bool:
        """Walk what is not decided; True once the record is signed, False where the person left before."""
        self._welcome()
        try:
            if self.review.state.signature is not None:
                self.show("This record is signed; it can be changed no more.", "plain")
                return True
            while True:
                while self.review.state.pending or self.review.state.uncleared or self.review.cautions():
                    self._round()
                if self._sign():
                    return True
        except _SignedMeanwhile:
            self.show("The record is signed now; it can be changed no more.", "doubt")
            return True
        except (_Stop, EOFError):
            self.show(f"Stopped. {self._progress()} All of it is kept; go on with the same command.", "plain")
            return False

    def _round(self) -> None:
        """One walk over everything pending; what is left for later comes round again."""
        for caution in self.review.cautions():
            self._caution(caution)
        for run in self.review.open_runs():
            self._run_side(run)
        self._decide(self._queue())
        for index in self.review.state.uncleared:
            self._speech(index)

    def _decide(self, queue: list[list[str]]) -> None:
        """Walk the steps of a queue, each a field or a group, there and back."""
        place = 0
        while 0 <= place < len(queue):
            step = [name for name in queue[place] if name in self.review.state.pending]
            if not step:
                place += 1
            elif len(step) > 1 and not self._singly & set(step):
                place = max(0, place + self._group(step))
            else:
                place = self._singles(step, place)

    def _caution(self, caution: Caution) -> None:
        """Ask what is done about a caution, before anything is confirmed."""
        self.show("", "plain")
        self.show(f"Caution, if heard right: {caution.text}", "doubt")
        command = self._asked(CAUTION | self._also())
        if command in CAUTION:
            self._try(partial(self.review.answer_caution, caution, _ANSWER[command], self.who, self.clock()))
        elif command != "next":
            self._obey(command, "")

    def _run_side(self, run: int) -> None:
        """Show a stretch under one carried side as a block, and have its side decided once for all of it."""
        while run in self.review.open_runs():
            self.show("", "plain")
            for line, tone in show_run(run, self.review):
                self.show(line, tone)
            self.show("  Which side is all of this? Each statement is then decided by itself.", "plain")
            commands = {"right": "all of it is RIGHT", "left": "all of it is LEFT"}
            command = self._asked(commands | self._also("play"))
            if command == "next":
                return
            if command == "play":
                found = self.review.draft.runs[run]
                self._hearing.run(found, (self.review.state.fields[name].field for name in found.fields))
                continue
            for side in _SIDES:
                if command == side:
                    self._try(partial(self.review.decide_side, run, side, self.who, self.clock()))
            if command not in commands:
                self._obey(command, "")

    def _signature(self) -> SignatureAnswers | None:
        examined = self.review.journal.encounter.facts.details.examined
        return ask_signature(
            self.who, self.role, leaving(self.ask), self.show, self.clock, self.review.check_ending, examined=examined
        )

    def _try(self, decide: Callable[[], object]) -> None:
        """Decide; a rule that forbids it is said, and nothing changes."""
        try:
            decide()
        except ReviewError as err:
            self._refused(err)

    def _queue(self) -> list[list[str]]:
        """The steps of a walk: a field alone, or a group that may be decided together."""
        pending = [self.review.state.fields[name].field for name in self.review.state.pending]
        return order_steps(pending, self.review.lexicon, doubtful_first=self.order == "doubtful")

    def _singles(self, names: list[str], place: int) -> int:
        """Decide fields one at a time; return the place in the queue to go to."""
        for name in names:
            match self._one(name):
                case "back":
                    return max(0, place - 1)
        return place + 1

    def _one(self, name: str) -> str:
        while name in self.review.state.pending:
            self._put(name)
            opened = side_open(self.review.state.fields[name].field)
            command = self._asked(SIDES | self._also(*COMMANDS) if opened else self._also(*COMMANDS))
            if command in {"next", "back"}:
                return command
            self._obey(command, name)
        return "next"

    def _put(self, name: str) -> None:
        self.show("", "plain")
        self.show(self._progress(), "quiet")
        for line, tone in show_field(self.review.state.fields[name], self.review.draft, self.review.lexicon):
            self.show(line, tone)
        self._before(name)

    def _before(self, name: str) -> None:
        """What the draft before this one said instead."""
        for line, tone in show_was(self.review.state.fields[name].field, self.earlier, self.review.word):
            self.show(line, tone)

    def _obey(self, command: str, name: str) -> None:
        """Carry out one command on one field; a rule that forbids it is said, and nothing changes."""
        try:
            if command == "confirm" and not self._side_asked([name]):
                self.review.confirm(name, self.who, self.clock())
            elif command in SIDES:
                self._changing.change(name, {"side": None if command == "without" else command})
            elif command == "amend":
                self._changing.amend(name)
            elif command == "play":
                self._hearing.fields([self.review.state.fields[name].field])
            elif command == "reject":
                if reason := leaving(self.ask)("  Why does it not belong? ").strip():
                    self.review.reject(name, reason, self.who, self.clock())
            else:
                self._general(command)
        except ReviewError as err:
            self._refused(err)
            self._side_asked([name] if command == "amend" else [])

    def _general(self, command: str, unplaced: int | None = None) -> None:
        if command == "add":
            self._changing.add(unplaced)
        elif command == "undo":
            self._undo()
        elif command == "progress":
            for line, tone in show_standing(self.review):
                self.show(line, tone)
        elif command == "missing":
            self._missing()
        elif command == "stop":
            raise _Stop

    def _undo(self) -> None:
        """Take the last decision back and return to it; after so many in a row what is left comes up in its turn."""
        speech = set(self.review.state.uncleared)
        undone = self.review.undo(self.who, self.clock())
        self.show(f"  Taken back: {'; '.join(map(self._name, undone))}. Decide it again, or go on with next.", "plain")
        if self._taken_back >= _MOST_TAKEN_BACK:
            return
        self._taken_back += 1
        for run in self.review.open_runs():
            if run_target(run) in undone:
                self._run_side(run)
        self._decide([list(undone)])
        for index in sorted(set(self.review.state.uncleared) - speech):
            self._speech(index)
        self._taken_back -= 1

    def _side_asked(self, names: list[str]) -> bool:
        """Ask for the side of the stretch that fields belong to, where it was put off; they are then shown again."""
        open_ = [run for run in self.review.open_runs() if not set(names).isdisjoint(self.review.draft.runs[run].fields)]
        for run in open_:
            self.show("  This belongs to a stretch under one side; that is decided first.", "doubt")
            self._run_side(run)
        return bool(open_)

    def _group(self, names: list[str]) -> int:
        """Show a group and decide it together, or leave it to be decided singly; return how far to go in the
        queue.
        """
        first = self.review.state.fields[names[0]].field
        side = side_heading(first)
        self.show("", "plain")
        self.show(self._progress(), "quiet")
        self.show(f"{HEADINGS[first.part]} · {side} · {len(names)} plain negatives and normals", "heading")
        for name in names:
            decision = self.review.state.fields[name]
            self.show(f"  {self.review.word(decision.field)}.", "sentence")
            heard = " / ".join(e.said for e in decision.field.evidence if e.role == "statement")
            self.show(f"    heard: [{' '.join(heard.split())}]", "quiet")
            self._before(name)
        shown_at = self.stopwatch()
        command = self._asked(GROUP | self._also("back", "play"))
        if command == "together":
            if self._side_asked(names):
                return 0
            try:
                said, seconds = self.review.state.hasty, self.stopwatch() - shown_at
                if self.review.confirm_group(names, names, self.who, self.clock(), shown_s=seconds) and not said:
                    self.show("  That was quicker than these lines can be read; undo takes them back.", "doubt")
            except ReviewError as err:
                self._refused(err)
        elif command == "singly":
            self._singly |= set(names)
            return 0
        elif command == "back":
            return -1
        elif command == "play":
            self._hearing.fields(self.review.state.fields[name].field for name in names)
            return 0
        elif command != "next":
            self._obey(command, names[0])
            return 0
        return 1

    def _speech(self, index: int) -> None:
        while index in self.review.state.uncleared:
            self.show("", "plain")
            for line, tone in show_unplaced(index, self.review.draft.unplaced[index]):
                self.show(line, tone)
            command = self._asked(SPEECH | self._also("play"))
            if command == "next":
                return
            if command == "play":
                self._hearing.stretch(self.review.draft.unplaced[index])
                continue
            try:
                if command == "clear":
                    self.review.clear(index, self.who, self.clock())
                else:
                    self._general(command, index)
            except ReviewError as err:
                self._refused(err)

    def _sign(self) -> bool:
        """Show the preview; True once signed, False where an undo or an addition means another round."""
        self.show("", "plain")
        self.show("Nothing is pending. This is what you would sign:", "heading")
        self.show(render_text(self.review.complete(), self.review.lexicon), "plain")
        for line, tone in (*show_summary(self.review), *show_gone(self.earlier, self.review.word)):
            self.show(line, tone)
        self._missing(most=_FIRST_MISSING)
        commands = {k: COMMANDS[k] for k in ("undo", "add", "missing", "stop", "help")}
        while True:
            command = self._asked({"sign": "put your name to it", **commands})
            try:
                if command == "sign":
                    if signature := self._signature():
                        self.review.sign(
                            signature.signer,
                            signature.role,
                            self.clock(),
                            ending=signature.ending,
                            examined=signature.examined,
                            dictated=signature.dictated,
                        )
                        self.show("Signed.", "plain")
                        return True
                elif command == "missing":
                    self._missing()
                elif command != "next":
                    self._general(command)
                    return False
            except ReviewError as err:
                self._refused(err)

    def _refused(self, err: ReviewError) -> None:
        """Say why nothing was written; where others have decided meanwhile, show what, and take it up."""
        self.show(f"  {err}", "doubt")
        if isinstance(err, OvertakenError):
            for entry in self.review.refresh():
                for line in show_entry(entry, self._name(entry.field or "")):
                    self.show(line, "doubt")
            if self.review.state.signature is not None:
                raise _SignedMeanwhile

    def _missing(self, most: int | None = None) -> None:
        for line, tone in show_missing(self.review, most):
            self.show(line, tone)

    def _also(self, *more: str) -> dict[str, str]:
        """The commands that always work with some more; nothing is played of typed text."""
        return {k: v for k, v in COMMANDS.items() if k in {*_ALWAYS, *more} and (k != "play" or self.play is not None)}

    def _asked(self, commands: dict[str, str]) -> str:
        return ask_command(commands, self.ask, self.show)

    def _welcome(self) -> None:
        review = self.review
        if self.measured:
            self.show(self.measured, "quiet")
        for line, tone in show_earlier(review, self.earlier):
            self.show(line, tone)
        if review.journal.entries:
            self.show(f"Going on where it stopped. {self._progress()}", "plain")
            return
        doubts = sum(1 for name in review.state.pending if review.state.fields[name].field.checked())
        statements = counted(len(review.state.fields), "statement")
        self.show(f"DRAFT: {statements}, {doubts} of them to check first.", "heading")
        self.show("Nothing is confirmed until you say so. A statement without a mark can still be wrong.", "plain")
        self.show("Type a word below, or its beginning; help explains them.", "plain")

    def _progress(self) -> str:
        return progress(self.review)

    def _name(self, target: str) -> str:
        return name_of(target, self.review)
