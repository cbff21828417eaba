"""The questions before a signature: who signs, in what role, and when the patient was examined and the note
dictated.

The recording itself holds no time of day, so the times are stated by the signer, or not stated. Decides
nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from dictation.errors import ReviewError
from dictation.note.printable import printable
from dictation.review.asking import stated_time
from dictation.store.journal import Moment
from dictation.terminal.questions import Ask, Show


@dataclass(frozen=True, slots=True)
class SignatureAnswers:
    """What the signer stated; ending: how the encounter's reference ends, as typed; times as "2025-03-04 14:30", None where
    not stated.
    """

    signer: str
    role: str
    ending: str
    examined: str | None
    dictated: str | None


def ask_signature(
    who: str,
    role: str | None,
    ask: Ask,
    show: Show,
    clock: Callable[[], Moment],
    check_ending: Callable[[str], None],
    *,
    examined: str | None = None,
) -> SignatureAnswers | None:
    """Ask for the signature; None where the person gives no name. The name is typed, never preselected.

    examined: when, where the encounter states it already. check_ending: raises ReviewError for a wrong end of the reference.
    """
    show(
        f"Signing ends the review: nothing can be changed afterwards. Decisions so far by {printable(who)}.",
        "plain",
    )
    signer = printable(ask("  Your name, in full (Enter: do not sign yet): "))
    if not signer:
        return None
    role = printable(ask(f"  Your role{f' (Enter: {printable(role)})' if role else ''}: ")) or printable(role or "")
    if not role:
        show("  A signature needs a role.", "doubt")
        return None
    examined = examined or _time("  Examined, as 2025-03-04 14:30 (Enter: not stated): ", ask, show, clock)
    dictated = _time("  Dictated, in the same way (Enter: not stated): ", ask, show, clock)
    ending = ask_ending(ask, show, check_ending)
    return None if ending is None else SignatureAnswers(signer, role, ending, examined, dictated)


def ask_ending(ask: Ask, show: Show, check_ending: Callable[[str], None]) -> str | None:
    """Ask how the reference ends until it is right, with all else typed kept; None for an empty answer: nothing is signed."""
    while ending := ask("  The last four characters of this patient's reference, as your list has it (Enter: do not sign): "):
        try:
            check_ending(ending)
        except ReviewError as err:
            show(f"  {err}", "doubt")
        else:
            return ending
    return None


def _time(prompt: str, ask: Ask, show: Show, clock: Callable[[], Moment]) -> str | None:
    while answer := ask(prompt).strip():
        try:
            return stated_time(answer, clock())
        except ReviewError as err:
            show(f"  {err}", "doubt")
    return None
