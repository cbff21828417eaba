"""What each word may have been instead: the recogniser's next best hearings of an utterance, word against word.

Names a doubt, and raises none: how far a word can be trusted is for agreement.py. Pure; imports nothing of ours.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from difflib import SequenceMatcher

HEARINGS = 60  # next best hearings looked at; the decoder gives them in a few milliseconds


def rivals(words: Sequence[str], hearings: Iterable[Sequence[str]], same: Callable[[str, str], bool]) -> list[str | None]:
    """Return for each word the one that stands in its place in the best of the other hearings, None where none does.

    hearings: the best first. same: whether two words cannot be told apart by ear ("right", "write"), which is no rival.

    >>> rivals(["flexion", "fifteen"], [["flexion", "fifty"], ["affection", "fifteen"]], lambda a, b: False)
    ['affection', 'fifty']
    """
    found: list[str | None] = [None] * len(words)
    for hearing in hearings:
        if None not in found:
            break
        for kind, i, end, j, other_end in SequenceMatcher(None, words, hearing, autojunk=False).get_opcodes():
            if kind != "replace" or end - i != other_end - j:
                continue  # a word more or less is no rival of one word
            for k, other in zip(range(i, end), hearing[j:other_end], strict=True):
                if found[k] is None and not same(words[k], other):
                    found[k] = other
    return found
