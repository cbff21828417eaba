"""Statements: which concepts, places, numbers and words of status were said together.

Also the small words by which the reading of statements finds its way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from dictation.extraction.items import DETERMINERS, JOINERS, PREPOSITIONS
from dictation.extraction.matching import Mention
from dictation.extraction.numbers import Reading
from dictation.extraction.places import PlaceGroup, Spot
from dictation.extraction.reasons import Reason

BE = frozenset(
    [
        "is",
        "are",
        "was",
        "were",
        "remains",
        "remain",
        "being",
        "has",
        "have",
        "had",
        "shows",
        "appears",
        "looks",
        "feels",
        "measures",
        "reaches",
        "get",
        "gets",
    ]
)
TWO_MOVEMENTS = {"rotation", "deviation", "collateral_stress"}
GENERIC = {"gross_sensation", "range_of_motion", "hand_function"}
SLIPS = {"tendon_subluxation", "joint_subluxation"}
"""What "left stable" after them denies on the left."""
REFERRED = {"specialist_referral"}
"""A referral told by what it is to: "refer to hand therapy"."""
QUIET = frozenset(
    [
        "today",
        "now",
        "still",
        "only",
        "just",
        "about",
        "again",
        "there",
        "then",
        "it",
        "she",
        "he",
        "they",
        "we",
        "out",
        "up",
        "measured",
        "comes",
        "come",
        "opens",
        "open",
        "both",
        "all",
        "also",
        "too",
        "very",
        "quite",
        "rather",
        "really",
        "clinically",
        "entirely",
        "completely",
        "perfectly",
        "here",
        "this",
        "that",
        "one",
        "side",
        "degree",
        "joint",
        "remains",
        "test",
        "sign",
        "score",
        "grade",
        "both",
        "i",
        "note",
        "noted",
        "well",
        "also",
        "again",
        "range",
        "movement",
        "movements",
        "um",
        "er",
        "uh",
        "okay",
        "so",
        "right",
        "yes",
        "but",
        "being",
        "to",
        "do",
        "does",
        "done",
        "did",
        "first",
        "second",
        "third",
        "last",
        "next",
        "again",
        "overall",
        "grossly",
        "can",
        "could",
        "patient",
        "manages",
        "able",
        "testing",
        "resisted",
        "total",
        "overall",
        "each",
        "at",
        "a",
        "time",
        "not",
        "full",
        "go",
        "goes",
        "active",
        "at",
        "best",
    ]
)
"""Words that do not name what a following number or status is about."""
LINKS = frozenset(
    [
        "of",
        "a",
        "an",
        "the",
        "to",
        "his",
        "her",
        "their",
        "at",
        "for",
        "by",
        "it",
        "its",
        "in",
        "degree",
        "degrees",
        "about",
        "only",
        "just",
        "still",
        "now",
        "also",
        "is",
        "are",
    ]
)


COUNTS = frozenset(["one", "two", "three", "four", "five"])
KNOWN = COUNTS | QUIET | LINKS | BE | DETERMINERS | PREPOSITIONS | frozenset(JOINERS)


@dataclass(slots=True)
class Statement:
    """What was said together.

    shown: the test's result is told by the sign looked for ("Allen's test shows prompt refill").
    concepts: empty for an elliptical statement, which continues an earlier one. groups: place groups, in order.
    negation: the trigger's text. listed: under a "no" said earlier in the list. retracts: how it takes something back.
    planned: it stands under the heading "Plan:".
    all_of: how many things said before "all three" takes up.
    excepted: "except at the index": the opposite holds there.
    when: the concept that pain at a certain time is ("sore at rest").
    movements: generic movement words ("flexion") whose joint is found elsewhere. either: its concepts are joined by "or".
    unknown: its result follows a word nobody knows, so it continues nothing.
    roles: what each of its terms was read as, with its tokens. negation_at: the tokens of the "no", also of one said earlier.
    place_from, result_from: why it has a place or result that was not said in it.
    """

    start: int
    end: int
    concepts: list[Mention] = field(default_factory=list)
    movements: list[Mention] = field(default_factory=list)
    groups: list[PlaceGroup] = field(default_factory=list)
    numbers: list[Reading] = field(default_factory=list)
    statuses: list[frozenset[str]] = field(default_factory=list)
    status_at: list[int] = field(default_factory=list)
    negation: str | None = None
    negation_after: bool = False
    double_negation: bool = False
    listed: bool = False
    severity: str | None = None
    certainty: str | None = None
    mode: str | None = None
    short_of: bool = False
    beyond: bool = False
    neutral: bool = False
    power: bool = False
    strength: bool = False
    same_result: bool = False
    position: str | None = None
    mean: bool = False
    shown: bool = False
    when: str | None = None
    nerves: list[str] = field(default_factory=list)
    copy: bool = False
    general: str | None = None
    there: bool = False
    exists: bool = False
    joined: str | None = None
    retracts: str | None = None
    addressed: bool = False
    planned: bool = False
    words: list[str] = field(default_factory=list)
    contrast: bool = False
    compared: bool = False
    perhaps_right: bool = False
    excepted: bool = False
    turned: bool = False
    all_of: int = 0
    either: bool = False
    unknown: bool = False
    mode_heading: bool = False
    colon: bool = False
    line: int = 0
    roles: list[tuple[str, int, int]] = field(default_factory=list)
    negation_at: tuple[int, int] | None = None
    place_from: Reason | None = None
    result_from: Reason | None = None

    def role(self, *kinds: str) -> tuple[int, int] | None:
        """The tokens of the first term read as one of these kinds."""
        return next(((start, end) for kind, start, end in self.roles if kind in kinds), None)

    @property
    def named(self) -> bool:
        """Whether it names what it is about."""
        return bool(self.concepts or self.movements or self.general or self.copy)

    @property
    def wanted(self) -> int:
        """How many numbers its concepts could take; some movement words name two movements."""
        return len(self.concepts) + sum(2 if m.id in TWO_MOVEMENTS else 1 for m in self.movements)

    @property
    def predicated(self) -> bool:
        """Whether it already says something: a status, a number, or a form that carries one."""
        own = any("status" in m.sets for m in self.concepts)
        return bool(self.statuses or self.numbers or own or self.neutral or self.general or self.copy or self.same_result)

    @property
    def empty(self) -> bool:
        """Whether nothing in it could make or change a field."""
        return not (self.named or self.groups or self.predicated or self.nerves or self.mode or self.severity)

    def spots(self) -> tuple[Spot, ...]:
        """The places said in it, groups that name different keys put together."""
        if not self.groups:
            return ()
        merged = list(self.groups[0].spots)
        for group in self.groups[1:]:
            merged = _merge(merged, group.spots)
        return tuple(dict.fromkeys(merged))


def _merge(a: Sequence[Spot], b: Sequence[Spot]) -> list[Spot]:
    keys_a = set().union(*(s.given() for s in a))
    keys_b = set().union(*(s.given() for s in b))
    shared = keys_a & keys_b
    if len(a) == 1 and all({getattr(s, k) for s in b} <= {getattr(a[0], k), None} for k in shared):
        shared = set()
    if not shared:
        return [
            Spot(
                **{k: getattr(x, k) or getattr(y, k) for k in ("side", "digit", "joint", "structure", "aspect")},
                plural=x.plural or y.plural, hand=x.hand or y.hand,
            )
            for x in a for y in b
        ]  # fmt: skip
    return [*a, *b]
