"""Why a field is as it is: one typed reason for each thing it says, noted where the rule applied.

A reason names its rule and the tokens the rule read; its sentence is put together only when somebody asks
(explaining.py). Nothing here decides anything. What goes in: nothing but what the rules know as they apply.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Rule(Enum):
    """Every rule that can give a field something: what it gives, and the sentence that says so.

    {words}: the words read, in quotes. {detail}: what the rule adds, such as the lexicon's entry.
    """

    # what it is about
    TERM = ("concept", "{words} is a form of {detail} in the lexicon")
    MOVEMENT = ("concept", "{words} is the movement word {detail}, at the joint said or in force")
    CONTINUES = ("concept", "no concept is named here: it continues {words}")
    DEVIATION = ("concept", "radial or ulnar with a number, after a movement of the wrist, is a deviation")
    PAIN = ("concept", "a movement said to hurt is pain on movement")
    GENERAL = ("concept", "{words} is a general phrase; it stays one field and fills in nothing")
    TABLE = ("concept", "read as {detail}")
    EXPANDED = ("concept", "one of the fields that the collective phrase stands for ({detail})")
    # where
    PLACE_SAID = ("place", "{detail}: said in {words}")
    PLACE_OF_CONCEPT = ("place", "{detail}: belongs to the concept, said or not")
    PLACE_OF_FORM = ("place", "{detail}: the form of the term carries it")
    PLACE_OF_SUBJECT = ("place", "{detail}: the sentence began with it, in {words}")
    PLACE_OF_NEIGHBOUR = ("place", "{detail}: taken over from {words}")
    PLACE_OF_HEADING = ("place", "{detail}: the heading {words} holds until another place is named")
    PLACE_SHARED = ("place", "{detail}: said with the next finding, in {words}, for both")
    SITE = ("place", "{detail}: where this nerve test is done at the place said")
    ONLY_DIGIT = ("place", "{detail}: the only digit with this joint")
    DIGIT_IN_FORCE = ("place", "{detail}: the digit spoken of before")
    # which side
    SIDE_SAID = ("side", "{detail}: said here, in {words}")
    SIDE_OF_FORM = ("side", "{detail}: the form of the term carries it")
    SIDE_OTHER = ("side", "{detail}: {words} is read from the side spoken before")
    SIDE_CARRIED = ("side", "{detail}: carried from {words}")
    SIDE_LATER = ("side", "{detail}: said later in the sentence, in {words}")
    SIDE_MISSING = ("side", "none was said, and none is in force that this may take")
    # present or absent, positive or negative, normal or not
    DENIED = ("status", "{detail}: {words} denies it")
    DENIED_LIST = ("status", "{detail}: {words} holds for the whole list")
    RESULT = ("status", "{detail}: {words} is the result")
    RESULT_OF_FORM = ("status", "{detail}: the form of the term carries it")
    RESULT_AS_BEFORE = ("status", "{detail}: the result of {words} holds here too")
    ASSERTED = ("status", "{detail}: named, and nothing denies it")
    NORMAL_OF_PHRASE = ("status", "{detail}: what the collective phrase says of each")
    # how much
    NUMBER = ("number", "{detail}: said as {words}")
    ZERO = ("number", "0: {words} is the neutral position")
    SHORT_OF = ("number", "{words} makes it short of the full movement")
    BEYOND = ("number", "{words} makes it beyond neutral")
    TRIAL = ("number", "trial {detail}, in the order said")
    MEAN = ("number", "{words} says that this is the mean")
    # details
    MODE = ("mode", "{detail}: said in {words}")
    MODE_OF_FORM = ("mode", "{detail}: the form of the term carries it")
    MODE_OF_HEADING = ("mode", "{detail}: a heading said so")
    DETAIL = ("detail", "{detail}: said in {words}")
    DETAIL_OF_FORM = ("detail", "{detail}: the form of the term carries it")
    PURPOSE = ("detail", "{words} is what it is for, and no finding")
    # what happened to it afterwards
    COPIED = ("history", "copied from the other side by {words}; numbers, scars and operations are not")
    CORRECTED = ("history", "corrected by {words}")
    REPLACES = ("history", "replaces {words}, which the speaker took back")
    TURNED_ROUND = ("history", "turned round by {words}")

    @property
    def about(self) -> str:
        """What of the field it gives: concept, place, side, status, number, mode, detail or history."""
        return str(self.value[0])

    @property
    def sentence(self) -> str:
        """The pattern of its sentence."""
        return str(self.value[1])


@dataclass(frozen=True, slots=True)
class Reason:
    """One rule that applied. span: the tokens it read, None where it read none. detail: what it gave or looked up."""

    rule: Rule
    span: tuple[int, int] | None = None
    detail: str = ""


class Fate(Enum):
    """What became of a stretch of speech that is in no field, and its sentence."""

    HEADING = ("heading", "a heading: it sets {detail} for what follows")
    ANEW = ("anew", "a new patient: nothing said before it is carried over")
    BARE_WORD = ("bare word", '"right" by itself is taken as the word, not as the side')
    MODE = ("mode", "says {detail} of the numbers beside it")
    SUBJECT = ("subject", "only names what the next words speak of")
    CORRECTION = ("correction", "takes back or corrects what was said before")
    TAKEN_BACK = ("taken back", "taken back by the speaker")
    NOT_A_STATEMENT = ("not a statement", "{detail}")
    LOST = ("lost", "{detail}")
    UNUSED = ("unused", "the lexicon knows {detail} here, and no statement took it up")
    UNKNOWN = ("unknown", "no word here is a term of the lexicon")

    @property
    def sentence(self) -> str:
        """The pattern of its sentence."""
        return self.value[1]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of tokens[span]: a fate, and what it set or why."""

    fate: Fate
    span: tuple[int, int]
    detail: str = ""
