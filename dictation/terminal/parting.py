"""Where a recording is cut into examinations: shown with the words around each cut, moved, joined and named by a person.

Nothing is cut before that person says so. Imports splitting, store facts, printable, questions, errors.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dictation.errors import InputError
from dictation.note.printable import printable
from dictation.splitting.marks import Said, Stretch
from dictation.splitting.splits import check_stretches, read_time
from dictation.store.facts import read_reference
from dictation.terminal.bulk_progress import duration
from dictation.terminal.questions import Ask, Show

WORDS = 8
"""So many words are shown on either side of a cut."""

HELP = {
    "confirm": "these are the examinations; the next dictation bulk drafts each by itself",
    "move N TIME": "examination N begins at TIME, as in move 2 4:10",
    "cut TIME": "one more begins there",
    "join N": "N belongs to the examination before it",
    "leave N": "N is no examination, and its sound is not drafted",
    "name N REFERENCE": "the reference of N; name N alone takes it away",
    "stop": "leave, and cut nothing",
}


def part(stretches: Sequence[Stretch], words: Sequence[Said], name: str, ask: Ask, show: Show) -> list[Stretch] | None:
    """Return the examinations as a person confirms them, None where they leave. name: what an error calls the recording."""
    found = list(stretches)
    while True:
        show(f"{printable(name)}: {len(found)} examination{'' if len(found) == 1 else 's'}", "heading")
        for number, one in enumerate(found, 1):
            reference = one.reference or "no reference"
            show(f"{number:>3}  {duration(one.start_s)} to {duration(one.end_s)}  {reference}", "sentence")
            show(f"     {_quoted(one, words)}", "plain")
        typed = ask("confirm · move · cut · join · leave · name · stop · help > ").split()
        try:
            if typed[:1] == ["confirm"]:
                check_stretches(found, name)
                return found
            if typed[:1] == ["stop"]:
                return None
            if typed[:1] == ["help"] or not typed:
                for word, meaning in HELP.items():
                    show(f"  {word:<17} {meaning}", "plain")
            else:
                found = _changed(found, typed)
        except InputError as err:
            show(f"  {err}", "doubt")


def _changed(found: list[Stretch], typed: list[str]) -> list[Stretch]:
    """The examinations after one command. Raises InputError where it cannot be followed."""
    match typed:
        case ["move", number, time]:
            at, moment = _place(number, found), _time(time)
            if at > 0 and found[at - 1].end_s == found[at].start_s:
                found = [*found[: at - 1], replace(found[at - 1], end_s=moment), *found[at:]]
            changed = [*found[:at], replace(found[at], start_s=moment), *found[at + 1 :]]
        case ["cut", time]:
            moment = _time(time)
            going_on = [i for i, one in enumerate(found) if one.start_s < moment < one.end_s]
            if not going_on:
                raise InputError("No examination goes on at that time.")
            at = going_on[0]
            two = [replace(found[at], end_s=moment), Stretch(moment, found[at].end_s)]
            changed = [*found[:at], *two, *found[at + 1 :]]
        case ["join", number]:
            at = _place(number, found)
            if at == 0:
                raise InputError("There is no examination before the first.")
            before = found[at - 1]
            one = replace(before, end_s=found[at].end_s, reference=before.reference or found[at].reference)
            changed = [*found[: at - 1], one, *found[at + 1 :]]
        case ["leave", number]:
            at = _place(number, found)
            changed = [*found[:at], *found[at + 1 :]]
        case ["name", number, *rest]:
            at = _place(number, found)
            reference = read_reference(" ".join(rest)) if rest else None
            changed = [*found[:at], replace(found[at], reference=reference), *found[at + 1 :]]
        case _:
            raise InputError("Say it as in: move 2 4:10, cut 7:05, join 3, leave 3, name 2 H-2041; help explains each.")
    check_stretches(changed, "this recording")
    return changed


def _place(number: str, found: Sequence[Stretch]) -> int:
    if not number.isdecimal() or not 1 <= int(number) <= len(found):
        raise InputError(f"There is no examination {number[:9]}; they are numbered 1 to {len(found)}.")
    return int(number) - 1


def _time(text: str) -> float:
    try:
        return read_time(text)
    except ValueError as err:
        raise InputError("That is no time; say it as in 4:10, or in seconds.") from err


def _quoted(stretch: Stretch, words: Sequence[Said]) -> str:
    inside = [word.text for word in words if stretch.start_s <= (word.start_s + word.end_s) / 2 < stretch.end_s]
    if not inside:
        return "(no words)"
    if len(inside) <= 2 * WORDS:
        return f"“{printable(' '.join(inside))}”"
    return f"“{printable(' '.join(inside[:WORDS]))} … {printable(' '.join(inside[-WORDS:]))}”"
