"""The lexicon's words in the order in which a general recogniser needs to be told of them."""

from __future__ import annotations

import re
from collections import Counter

from dictation.lexicon.compiled import compiled
from dictation.lexicon.entries import Lexicon

CORE_COUNTS = 4  # a word of a core concept weighs as much as this many others
OWN_COUNTS = 1_000  # a word that a clinic added comes first: nobody adds what is heard anyway


def bias_words(lexicon: Lexicon) -> tuple[str, ...]:
    """Return rank_bias_words, compiled once."""
    return compiled(lexicon, "bias", lambda: "\n".join(rank_bias_words(lexicon)), lambda text: tuple(text.splitlines()))


def rank_bias_words(lexicon: Lexicon) -> tuple[str, ...]:
    """Return trade words, likeliest to be needed first: those outside everyday English, by how many forms use them.

    Outside everyday English are words whose pronunciation the lexicon had to give, abbreviations, and eponyms.
    """
    counts: Counter[str] = Counter()
    written: dict[str, str] = {}
    core = {concept.id for concept in lexicon.concepts.values() if concept.core}
    known = {word.lower() for word in lexicon.pronunciations}
    known |= {word.lower() for term in lexicon.terms() for word in term.pronunciations}
    for term in lexicon.terms():
        for form in term.spoken:
            for word in re.findall(r"[A-Za-zÀ-ÿ0-9'’]+", form.text):
                stem = re.sub(r"['’]s$", "", word).lower()
                if stem in known or (word.isupper() and len(word) > 1) or re.search(r"^[A-Z].*['’]s$", word):
                    own = OWN_COUNTS if term.id in lexicon.own else 0
                    counts[word.lower()] += own or (CORE_COUNTS if term.id in core else 1)
                    written.setdefault(word.lower(), word if word.isupper() or "'" in word else word.lower())
    return tuple(written[word] for word, _ in sorted(counts.items(), key=lambda item: (-item[1], item[0])))
