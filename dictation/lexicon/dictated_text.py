"""Text as clinicians would dictate it, made from phrase shapes and the lexicon's spoken forms.

Goes into the embedded recogniser's language model. The draws come from one seed, so the same lexicon gives the same text.
Each slot deals its forms like a pack of cards, so that every spoken form comes up about equally often.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Iterable, Iterator

from dictation.lexicon.entries import Lexicon, Place
from dictation.lexicon.spelling import recogniser_words
from dictation.lexicon.spoken_numbers import ONES, ways_to_say

TIMES_A_SHAPE = 110
SEED = 20_001
KINDS = (
    "finding", "movement", "power", "strength", "function", "sensation", "circulation", "test", "impression", "plan",
    "context", "reported", "measure", "score",
)  # fmt: skip
_FINGERS = ("index", "middle", "ring", "little")
_SAID_FINGERS = [*_FINGERS, *_FINGERS, "small", "long"]  # American "long finger" is the middle one
_WRITTEN_ONLY = ("variants", "unit", "plain_reading")  # spellings of one word, short forms nobody says ("kg"), a check
_PARTS = ("hand", "wrist", "elbow", "thumb", "forearm", "upper limb", "arm")


SLOTS = frozenset(KINDS) | frozenset(
    "joint structure aspect digit observed place side sides digits which number small decimal range grade interval age finger "
    "finger_joint".split()
)
_SLOT = re.compile(r"\{(\w+)\}")
_CONTRACTED = {
    "i am": "i'm", "i will": "i'll", "i have": "i've", "i would": "i'd", "you are": "you're", "you will": "you'll",
    "you have": "you've", "you would": "you'd", "we are": "we're", "we will": "we'll", "we have": "we've", "we would": "we'd",
    "they are": "they're", "they will": "they'll", "they have": "they've", "he is": "he's", "he has": "he's",
    "he would": "he'd", "she is": "she's", "she has": "she's", "she would": "she'd", "it is": "it's", "it will": "it'll",
    "that is": "that's", "there is": "there's", "what is": "what's", "where is": "where's", "who is": "who's",
    "how is": "how's", "let us": "let's", "do not": "don't", "does not": "doesn't", "did not": "didn't", "is not": "isn't",
    "are not": "aren't", "was not": "wasn't", "will not": "won't", "would not": "wouldn't", "could not": "couldn't",
    "should not": "shouldn't", "cannot": "can't", "can not": "can't", "has not": "hasn't", "have not": "haven't",
}  # fmt: skip


class Deck:
    """Deals items in a shuffled order, again and again."""

    def __init__(self, items: list[str], draw: random.Random) -> None:
        self._items, self._left, self._draw = items, list[str](), draw

    def deal(self) -> str:
        """Return the next item."""
        if not self._left:
            self._left = list(self._items)
            self._draw.shuffle(self._left)
        return self._left.pop()


def dictated_sentences(lexicon: Lexicon) -> Iterator[list[str]]:
    """Yield sentences as lists of recogniser words: every form alone, then every shape, as checked, many times over."""
    draw = random.Random(SEED)
    slots = _slots(lexicon, draw)
    for term in lexicon.terms():
        for form in term.spoken:
            yield recogniser_words(form.text)
    for name, meanings in lexicon.language.items():
        if name not in _WRITTEN_ONLY:
            for forms in meanings.values():
                yield from (recogniser_words(form) for form in forms if "_" not in form)  # ids of concepts have one
    for shape in lexicon.phrases:
        for _ in range(TIMES_A_SHAPE if "{" in shape else TIMES_A_SHAPE // 4):
            yield recogniser_words(_fill(shape, slots, draw))


def whole_sentences(lexicon: Lexicon) -> Iterator[list[str]]:
    """Yield the sentences of dictations as lists of recogniser words, each once.

    Twice over, their slots filled anew, foretells other dictations less well: counts of one are what the discounts live on.
    """
    draw = random.Random(SEED)
    slots = _slots(lexicon, draw)
    yield from (recogniser_words(_fill(line, slots, draw)) for line in lexicon.dictations)


def shape_problem(shape: str) -> str | None:
    """Return what is wrong with a phrase shape: a slot that nothing fills, a brace or a bracket without its other half.

    >>> shape_problem("{finding} (over|at) {place}"), shape_problem("{knee}")[:28]
    (None, "shape '{knee}' has the unkno")
    """
    for slot in _SLOT.findall(shape):
        if slot not in SLOTS:
            return f"shape {shape!r} has the unknown slot {slot}; known: {', '.join(sorted(SLOTS))}"
    depth = 0
    for c in _SLOT.sub("", shape):
        depth += (c == "(") - (c == ")")
        if depth < 0 or c in "{}":
            break
    else:
        if depth == 0:
            return None
    return f"shape {shape!r} has a bracket without its other half; close it or take it out"


def talk_sentences(lexicon: Lexicon) -> Iterator[list[str]]:
    """Yield the sentences of ordinary talk as lists of recogniser words, each also as it is said in haste: "I'm"."""
    for line in lexicon.conversation:
        words = recogniser_words(line)
        yield words
        short = " ".join(words)
        for full, contracted in _CONTRACTED.items():
            short = re.sub(rf"\b{full}\b", contracted, short)
        if short != " ".join(words):
            yield short.split()


def _fill(shape: str, slots: dict[str, Callable[[], str]], draw: random.Random) -> str:
    while "(" in shape:  # innermost choice first, so that a choice may stand inside another
        end = shape.index(")")
        start = shape.rindex("(", 0, end)
        shape = shape[:start] + draw.choice(shape[start + 1 : end].split("|")) + shape[end + 1 :]
    if "{" not in shape:
        return shape
    pieces = _SLOT.split(shape)
    pieces[1::2] = [slots[name]() for name in pieces[1::2]]
    return "".join(pieces)


def _slots(lexicon: Lexicon, draw: random.Random) -> dict[str, Callable[[], str]]:
    def deck(items: list[str]) -> Callable[[], str]:
        return Deck(items or [""], draw).deal

    forms: dict[str, list[str]] = {kind: [] for kind in KINDS}
    observed: list[str] = []
    for concept in lexicon.concepts.values():
        for form in concept.spoken:
            (observed if form.observed else forms[concept.kind]).append(_as_spoken(form.text, draw))
    slots = {kind: deck(texts) for kind, texts in forms.items()}
    places: dict[str, list[str]] = {}
    for name, room in (
        ("joint", lexicon.joints), ("structure", lexicon.structures), ("aspect", lexicon.aspects), ("digit", lexicon.digits)
    ):  # fmt: skip
        places[name] = [form.text for place in room.values() for form in place.spoken]
        slots[name] = deck(places[name] + _more(name, room.values()))
    slots |= {
        "observed": deck(observed),
        "place": deck([text for texts in places.values() for text in texts]),
        "finger": deck(_SAID_FINGERS),
        "finger_joint": deck(["MCP", "PIP", "DIP"]),
        "side": deck(["right", "left"]),
        "sides": deck(["both sides", "both hands", "both wrists", "either side", "either hand", "bilaterally"]),
        "digits": lambda: _digits(draw),
        "which": lambda: _which(draw),
        "number": lambda: _number(draw),
        "small": lambda: draw.choice(ONES),
        "decimal": lambda: _decimal(draw),
        "range": lambda: _range(draw),
        "grade": lambda: _grade(draw),
        "interval": lambda: _interval(draw),
        "age": lambda: ways_to_say(draw.randint(16, 95))[0],
    }
    return slots


def _as_spoken(text: str, draw: random.Random) -> str:
    """Eponyms lose their 's now and then: "Finkelstein negative"."""
    return re.sub(r"'s\b", "", text.replace("’", "'")) if draw.random() < 0.25 else text


def _more(name: str, places: Iterable[object]) -> list[str]:
    if name == "digit":
        # The plain names are said far more often than "fifth digit".
        return [*_FINGERS, *(f"{finger} finger" for finger in _FINGERS), "thumb", "small finger", "long finger"] * 3
    if name == "joint":
        short = [form.text for place in places if isinstance(place, Place) for form in place.spoken if form.text.isupper()]
        return short * 2 + [f"{text} joint" for text in short if not text.endswith("J")] + [f"{text}s" for text in short]
    return []


def _digits(draw: random.Random) -> str:
    count = draw.choice((2, 2, 2, 3, 3, 4))
    start = draw.randint(0, 5 - count)
    chosen = ["thumb", *_FINGERS][start : start + count] if draw.random() < 0.8 else draw.sample(("thumb", *_FINGERS), count)
    tail = draw.choice(("", "", " fingers", " finger"))
    joined = draw.choice((" and ", " and ", " and ", " or ", " and the ")).join((" ".join(chosen[:-1]), chosen[-1]))
    return draw.choice((joined + tail, joined + tail, joined + tail, "all fingers", "all digits", "all five digits",
                        "index to little fingers", "other fingers", "other digits", "remaining fingers"))  # fmt: skip


def _which(draw: random.Random) -> str:
    side = draw.choice(("right", "right", "left", "left", "both"))
    part = draw.choice((*_PARTS[:3], *_PARTS[:2], *_PARTS, *(f"{finger} finger" for finger in _FINGERS)))
    return f"{side} {part}{'s' if side == 'both' else ''}"


def _number(draw: random.Random) -> str:
    number = draw.choice((draw.randrange(0, 181, 5), draw.randrange(0, 181, 5), draw.randint(0, 180), draw.randint(1, 99)))
    return draw.choice(ways_to_say(number))


def _range(draw: random.Random) -> str:
    low = draw.choice(("zero", "zero", "nought", ways_to_say(draw.randrange(5, 50, 5))[0], ways_to_say(draw.randint(1, 40))[0]))
    return f"{low} {draw.choice(('to', 'to', 'to', 'through'))} {_number(draw)}"


def _decimal(draw: random.Random) -> str:
    whole = ways_to_say(draw.randint(0, 40))[0]
    return f"{whole} point {draw.choice((*ONES[:10], 'five', 'five', 'oh ' + draw.choice(ONES[1:10])))}"


def _grade(draw: random.Random) -> str:
    grade = draw.choice(("five", "five", "four", "four", "three", "two", "one", "zero")) + draw.choice(
        ("", "", " plus", " minus")
    )
    return draw.choice((f"{grade} out of five", f"{grade} out of five", grade, f"grade {grade}", f"{grade} over five",
                        f"MRC {grade}", f"MRC grade {grade}", f"m {grade}"))  # fmt: skip


def _interval(draw: random.Random) -> str:
    count = ways_to_say(draw.randint(1, 14))[0]
    return f"{count} {draw.choice(('day', 'week', 'week', 'month', 'year'))}{'' if count == 'one' else 's'}"
