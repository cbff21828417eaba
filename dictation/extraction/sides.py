"""The side in force, and the rest of what is carried from statement to statement.

The side is set by the clinician's examination speech only: never by context, reported, impression or plan, by the
patient, or by hand dominance. A plan never takes a carried side. A carried side is fresh for a while; after that, or
once the other side has been spoken of elsewhere, the field asks to be checked.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from dictation.extraction.places import Spot
from dictation.extraction.tokens import Token

EXAMINATION = frozenset(["look", "feel", "move", "power", "function", "sensation", "circulation", "special_tests"])
FRESH_WORDS = 90
"""A carried side is taken as fresh for this many words; chosen by us, no source."""
OTHER = {"right": "left", "left": "right"}


def ordinary_word(tokens: Sequence[Token], i: int, j: int, words: Mapping[str, tuple[str, ...]], body: frozenset[int]) -> bool:
    """Whether "left" or "right" at tokens[i:j] is the ordinary word: "all right", "we left at six", "right, now".

    words: meanings after and before of the language class not_a_side. body: token indices where a part of the body starts.
    """
    contrasted = i > 1 and (tokens[i - 2].text, tokens[i - 1].text) == ("but", "not")
    if (
        j - i > 1
        or contrasted
        or (j in body and not tokens[i].stop)
        or (i and tokens[i - 1].text in {"the", "his", "her", "their", "on", "of", "both", "affected"})
    ):
        return False
    for length in (1, 2):
        before = " ".join(t.text for t in tokens[max(0, i - length) : i]) if i >= length else ""
        after = " ".join(t.text for t in tokens[j : j + length])
        if before and not tokens[i - 1].stop and before in words.get("after", ()):
            return True
        if after and not tokens[j - 1].stop and after in words.get("before", ()):
            return True
    return False


@dataclass(slots=True)
class Carried:
    """What the dictation has set so far.

    sides: in force, none, one or both. said: token span that set them. opposed: the other side was named since.
    digit, joint: last ones spoken. heading: the place a heading named. mode: active or passive, set by a heading;
    mode_place, mode_side: the digit and joint it holds for, and the side it was first used on; mode_headed: see set_mode.
    """

    sides: tuple[str, ...] = ()
    said: tuple[int, int] | None = None
    opposed: bool = False
    digit: str | None = None
    joint: str | None = None
    heading: Spot = field(default_factory=Spot)
    heading_said: tuple[int, int] | None = None
    mode: str | None = None
    mode_place: Spot = field(default_factory=Spot)
    mode_side: str | None = None
    mode_headed: bool = True
    headed: bool = False
    unit: str | None = None
    unit_concept: str | None = None

    def set_sides(self, sides: tuple[str, ...], span: tuple[int, int], *, headed: bool = False) -> None:
        """Take over the side or sides spoken in span. headed: a heading said so, and no finding of its own."""
        self.headed = headed
        if sides != self.sides:
            self.digit = None
        self.sides, self.said, self.opposed = sides, span, False

    def set_mode(self, mode: str | None, spots: Sequence[Spot] = (), *, headed: bool = True) -> None:
        """Take over a mode said with these places: with one digit or joint, it holds there alone.

        headed: a heading said it; without one it holds for the first joint that it is used on.
        """
        self.mode, self.mode_side, self.mode_headed = mode, None, headed
        self._bind_mode(spots)

    def use_mode(self, spots: Sequence[Spot], side: str | None) -> None:
        """Note where a mode in force was taken up."""
        self.mode_side = self.mode_side or side
        if not self.mode_headed and not self.mode_place.given():
            self._bind_mode(spots)

    def _bind_mode(self, spots: Sequence[Spot]) -> None:
        places = {(s.digit, s.joint) for s in spots}
        digit, joint = places.pop() if len(places) == 1 else (None, None)
        self.mode_place = Spot(digit=digit, joint=joint)

    def mode_at(self, digit: str | None, joint: str | None) -> str | None:
        """The mode in force for a movement of this digit and joint."""
        place = self.mode_place
        return self.mode if place.digit in {None, digit} and place.joint in {None, joint} else None

    def fresh(self, at: int) -> bool:
        """Whether the side spoken last may be carried to token index at without asking."""
        return self.said is not None and not self.opposed and at - self.said[1] <= FRESH_WORDS

    def perhaps_left_behind(self) -> bool:
        """Whether a bare "right", more often the word than the side, would change the side if it was the side."""
        return self.sides == ("left",)

    def resolve(self, side: str) -> str | None:
        """Return right or left for "other" and "same", where the context is certain."""
        if side in OTHER:
            return side
        if len(self.sides) != 1:
            return None
        return OTHER[self.sides[0]] if side == "other" else self.sides[0]
