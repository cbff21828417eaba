"""Written words as the words a recogniser is given: one token for each thing said in one breath.

Hyphens and punctuation go, case goes, but abbreviations said letter by letter stay one word in capitals ("MCP", "A1"),
so that the transcript reads as the trade writes. Pure functions; imports nothing of ours.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

LETTERS = {
    "A": "EY", "B": "B IY", "C": "S IY", "D": "D IY", "E": "IY", "F": "EH F", "G": "JH IY", "H": "EY CH", "I": "AY",
    "J": "JH EY", "K": "K EY", "L": "EH L", "M": "EH M", "N": "EH N", "O": "OW", "P": "P IY", "Q": "K Y UW", "R": "AA R",
    "S": "EH S", "T": "T IY", "U": "Y UW", "V": "V IY", "W": "D AH B AH L Y UW", "X": "EH K S", "Y": "W AY", "Z": "Z EH D",
    "0": "Z IH R OW", "1": "W AH N", "2": "T UW", "3": "TH R IY", "4": "F AO R", "5": "F AY V", "6": "S IH K S",
    "7": "S EH V AH N", "8": "EY T", "9": "N AY N",
}  # fmt: skip
_EDGES = ' .,;:!?()[]"“”‘…'


def recogniser_words(text: str) -> list[str]:
    """Return the words of a text as the recogniser knows them.

    >>> recogniser_words("Non-tender A1 pulley, Tinel’s at the MCPJs?")
    ['non', 'tender', 'A1', 'pulley', "tinel's", 'at', 'the', 'MCPJs']
    """
    return [word for piece in text.split() for word in _piece_words(piece)]


@lru_cache(maxsize=20_000)
def _piece_words(piece: str) -> tuple[str, ...]:
    plain = unicodedata.normalize("NFD", piece.replace("’", "'"))
    plain = "".join(c for c in plain if not unicodedata.combining(c))
    found = (part.strip(_EDGES) for part in re.split(r"[\s/–—-]+", plain))
    return tuple(part if is_abbreviation(part) else part.lower() for part in found if part)


def is_abbreviation(word: str) -> bool:
    """Tell whether a word is said letter by letter: two capitals, or a letter with a figure.

    >>> [is_abbreviation(w) for w in ("FDS", "MCPs", "P1", "I", "O'Driscoll", "Tinel's")]
    [True, True, True, False, False, False]
    """
    return word.isalnum() and (
        sum(c.isupper() for c in word) >= 2 or (any(c.isdigit() for c in word) and any(c.isalpha() for c in word))
    )


def spelled_out(word: str) -> str:
    """Return the phones of an abbreviation said letter by letter, a plural s after capitals as one sound.

    >>> spelled_out("PIPs")
    'P IY AY P IY Z'
    """
    plural = len(word) > 2 and word.endswith("s") and word[:-1].isupper()
    stem = word[:-1] if plural else word
    phones = " ".join(LETTERS[c.upper()] for c in stem)
    return f"{phones} {'IH Z' if phones.endswith(('S', 'Z')) else 'Z'}" if plural else phones
