"""The side in force, and the rest of what is carried from statement to statement.

The side is set by the clinician's examination speech only: never by context, reported, impression or plan, by the
patient, or by hand dominance. A plan never takes a carried side. A carried side is fresh for a while; after that, or
once the other side has been spoken of elsewhere, the field asks to be checked.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from dictation.extraction.places import Spot

EXAMINATION = frozenset("look feel move power function sensation circulation special_tests".split())
FRESH_WORDS = 90
"""A carried side is taken as fresh for this many words; chosen by us, no source."""
OTHER = {"right": "left", "left": "right"}


@dataclass(slots=True)
class Carried:
    """What the dictation has set so far.

    sides: in force, none, one or both. said: token span that set them. opposed: the other side was named since.
    digit, joint: last ones spoken. heading: the place a heading named. mode: active or passive, set by a heading.
    """

    sides: tuple[str, ...] = ()
    said: tuple[int, int] | None = None
    opposed: bool = False
    digit: str | None = None
    joint: str | None = None
    heading: Spot = field(default_factory=Spot)
    mode: str | None = None
    unit: str | None = None
    unit_concept: str | None = None

    def set_sides(self, sides: tuple[str, ...], span: tuple[int, int]) -> None:
        """Take over the side or sides spoken in span."""
        if sides != self.sides:
            self.digit = None
        self.sides, self.said, self.opposed = sides, span, False

    def reset(self) -> None:
        """A new patient or a new recording: nothing is carried over."""
        self.sides, self.said, self.opposed = (), None, False
        self.digit, self.joint, self.heading = None, None, Spot()

    def fresh(self, at: int) -> bool:
        """Whether the side spoken last may be carried to token index at without asking."""
        return self.said is not None and not self.opposed and at - self.said[1] <= FRESH_WORDS

    def resolve(self, side: str) -> str | None:
        """Return right or left for "other" and "same", where the context is certain."""
        if side in OTHER:
            return side
        if len(self.sides) != 1:
            return None
        return OTHER[self.sides[0]] if side == "other" else self.sides[0]
