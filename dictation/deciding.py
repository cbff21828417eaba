"""Which of the heard words decide a field: all of its statement but the small ones, and of what set its side the side alone.

Pure; imports record and transcript.
"""

from __future__ import annotations

from dictation.record import RecordField
from dictation.transcript import Transcript

SIDES = frozenset({"left", "right", "both"})
SMALL = frozenset("the a an of is are and to in at on over there it his her he she with for or this that i can was has".split())


def plain(word: str) -> str:
    """Return a word for comparing: lower case, without stops and possessive.

    >>> plain("Tinel’s,")
    'tinel'
    """
    bare = word.strip('.,;:?!()"').lower().replace("’", "'")
    return bare.removesuffix("'s")


def deciding_words(f: RecordField, heard: Transcript) -> list[int]:
    """Return the indices of the heard words that decide a field, in order of its evidence."""
    return [
        k
        for e in f.evidence
        for k in range(*e.words)
        if (plain(heard.words[k].said) in SIDES if e.role == "side" else plain(heard.words[k].said) not in SMALL)
    ]
