"""The frame around a stretch of words: how far its surroundings expect a term of the trade there.

"felons test positive" stands where a test is named; "filing out the form" does not. Common practice, no
source.
"""

from __future__ import annotations

from collections.abc import Collection

from dictation.lexicon.sound_index import key


def _keys(text: str) -> frozenset[str]:
    return frozenset(map(key, text.split()))


_NUMBERS = _keys(
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen "
    "seventeen eighteen nineteen twenty thirty forty fifty sixty seventy eighty ninety hundred minus"
)
_RESULT = _keys("positive negative equivocal")
_TESTED = _keys("test testing sign manoeuvre maneuver")
_SIDE = _keys("left right bilateral bilaterally both either")
_MODE = _keys("active passive actively passively resisted")
_OVER = _keys("over tender tenderness swelling")
_THERE = _keys("no mild moderate severe some obvious significant marked slight gross nil without any")
_PLACE = _keys("finger thumb wrist elbow hand joint tendon ligament nerve muscle deformity node nodule")
# kind of term -> words just before it, words just after it that expect it
_EXPECT: dict[str, tuple[Collection[str], Collection[str]]] = {
    "test": (_SIDE | _keys("for resisted reverse"), _RESULT | _TESTED | _keys("is was")),
    "movement": (_MODE | _SIDE | _PLACE | {"full"}, _NUMBERS | _keys("degrees full limited is to")),
    "power": (_SIDE | {"resisted", "power"}, _NUMBERS | _keys("power strength grade intact is")),
    "strength": (_SIDE, _NUMBERS | _keys("strength kilograms kilos pounds")),
    "structure": (_OVER | _SIDE | {"the", "at"}, _PLACE | _OVER | {"is"}),
    "finding": (_THERE | _SIDE, _PLACE | _keys("of over at in on")),
    "impression": (_THERE | _SIDE | _keys("impression diagnosis suspected likely"), _keys("of on")),
}
_ELSE: tuple[Collection[str], Collection[str]] = (_THERE | _SIDE, _RESULT | _NUMBERS)
_STRONG = _RESULT | _TESTED | _MODE | _keys("degrees tender tenderness bilaterally deformity power impression swelling")


def telling(word: str) -> bool:
    """Tell whether a word (as compared) on its own says that an examination is being dictated."""
    return word in _STRONG


def expected(before: str, after: str, kinds: Collection[str]) -> float:
    """Return how far the words just before and after expect a term of one of these kinds: 0, 1 (one side
    does) or 2.

    Words are as compared (sound_index.key), "" where speech begins, ends or pauses.
    """
    best = 0
    for kind in kinds:
        left, right = _EXPECT.get(kind, _ELSE)
        number = after[:1].isdigit() and "five" in right
        best = max(best, (before in left) + (after in right or number))
    return float(best)


_STRONG_EDGE = _RESULT | _TESTED | _SIDE | _MODE | _OVER | _THERE | _NUMBERS | _keys("degrees is are was impression power hand")
_WEAK_EDGE = _keys("the a an of on at in and or with to has reduced normal full over")


def edge(word: str) -> float:
    """Return how well a term may begin after this word, or end before it: 1 well ("" is where speech begins, ends or
    pauses), 0.5 perhaps, 0 not."""
    if not word:
        return 0.75
    return 1.0 if word in _STRONG_EDGE or word[0].isdigit() else 0.5 if word in _WEAK_EDGE else 0.0
