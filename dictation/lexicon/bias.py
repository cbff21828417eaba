"""The lexicon's words in the order in which a general recogniser needs to be told of them.

One list for every stretch of a recording: were it ranked by what was heard before, a stretch would depend on how others were
read, and could not be read beside them, nor live as from a file.
"""

from __future__ import annotations

import re
from collections import Counter

from dictation.lexicon.compiled import compiled
from dictation.lexicon.entries import Form, Lexicon
from dictation.lexicon.shipped import lexicon_folder

OWN_FIRST = 30  # of a clinic's own words, so many come before the lexicon's: about half of a short prompt
_WORD = re.compile(r"[A-Za-zÀ-ÿ0-9'’]+")
CORE_COUNTS = 4  # a word of a core concept weighs as much as this many others


def bias_words(lexicon: Lexicon) -> tuple[str, ...]:
    """Return rank_bias_words, compiled once."""
    return compiled(lexicon, "bias", lambda: "\n".join(rank_bias_words(lexicon)), lambda text: tuple(text.splitlines()))


def rank_bias_words(lexicon: Lexicon) -> tuple[str, ...]:
    """Return trade words, likeliest to be needed first: a clinic's own new ones, the last added first, then the others.

    Of the lexicon's, those outside everyday English, by how many forms use them: words whose pronunciation it had to give,
    abbreviations, and eponyms. Of a clinic's own, those that no other form has; many of them wait behind the others. Each is
    written as forms most often write it, so that eponyms have their capital.
    """
    own = _own_words(lexicon)
    return tuple(dict.fromkeys((*own[:OWN_FIRST], *_ranked(lexicon), *own[OWN_FIRST:])))


def _own_words(lexicon: Lexicon) -> list[str]:
    added = set(lexicon.own_forms)
    known = {
        word.lower() for term in lexicon.terms() for form in term.spoken if form.text not in added for word in _words(form)
    }
    written: dict[str, Counter[str]] = {}
    for text in reversed(lexicon.own_forms):
        for word in _WORD.findall(text):
            if len(word) > 1 and word.lower() not in known:
                written.setdefault(word.lower(), Counter())[word] += 1
    return [_usual(writings) for writings in written.values()]


def _words(form: Form) -> list[str]:
    return _WORD.findall(form.text)


def _usual(writings: Counter[str]) -> str:
    """The commonest; a capital, where both are as common, may stand for the beginning of a form alone."""
    return max(sorted(writings, reverse=True), key=lambda word: writings[word])


def _everyday() -> set[str]:
    lines = (lexicon_folder() / "plain_words.txt").read_text(encoding="utf-8").splitlines()
    return {line for line in lines if not line.startswith("#")}


def _ranked(lexicon: Lexicon) -> list[str]:
    counts: Counter[str] = Counter()
    written: dict[str, Counter[str]] = {}
    core = {concept.id for concept in lexicon.concepts.values() if concept.core}
    known = {word.lower() for word in lexicon.pronunciations}
    known |= {word.lower() for term in lexicon.terms() for word in term.pronunciations}
    for term in lexicon.terms():
        for form in term.spoken:
            for word in _words(form):
                stem = re.sub(r"['’]s$", "", word).lower()
                if stem in known or (word.isupper() and len(word) > 1) or re.search(r"^[A-Z].*['’]s$", word):
                    counts[word.lower()] += CORE_COUNTS if term.id in core else 1
                    written.setdefault(word.lower(), Counter())[word] += 1
    ranked = [_usual(written[word]) for word, _ in sorted(counts.items(), key=lambda item: (-item[1], item[0]))]
    everyday = _everyday()
    return [word for word in ranked if word not in everyday]
