"""Where a clinician says that one examination ends and another begins, and the reference they say for it.

"Next patient" and its like, the end of an examination, and a reference after "reference", spoken in digits, letters or the
words of the radiotelephony spelling alphabet (ITU Radio Regulations, appendix 14; quoted from memory). Only proposed: a
person confirms every cut. Pure. Imports record, store facts.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from dictation.errors import InputError
from dictation.record import DraftRecord
from dictation.store.facts import read_reference

LETTERS = {
    word: word[0].upper()
    for word in (
        "alfa bravo charlie delta echo foxtrot golf hotel india juliett kilo lima mike november oscar papa quebec romeo sierra "
        "tango uniform victor whiskey x-ray yankee zulu"
    ).split()
} | {"alpha": "A", "juliet": "J", "whisky": "W", "xray": "X", "aitch": "H"}  # fmt: skip
DIGITS = {
    "zero": "0", "oh": "0", "nought": "0", "one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6",
    "seven": "7", "eight": "8", "nine": "9", "niner": "9",
}  # fmt: skip
SIGNS = {"dash": "-", "hyphen": "-", "slash": "/", "stroke": "/", "dot": ".", "point": "."}
CUES = {"reference", "encounter"}
BETWEEN = {"number", "is", "reference", "encounter", "code"}
"""Words that may stand between the cue and the first character."""
FEWEST = 3
"""A reference has so many characters at least: "reference two" is more likely something else. Chosen by us, no source."""
NEAR = 12
"""Within so many words of the beginning a reference is that of the examination begun; later it begins another. Chosen by us."""


@dataclass(frozen=True, slots=True)
class Said:
    """One word with its time."""

    text: str
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Mark:
    """One thing said that parts examinations. words: span. before: the cut comes before it, else after it."""

    words: tuple[int, int]
    before: bool
    reference: str | None = None


@dataclass(frozen=True, slots=True)
class Stretch:
    """One examination of a recording: where it begins and ends, in seconds, and its reference where there is one."""

    start_s: float
    end_s: float
    reference: str | None = None


def words_of(draft: DraftRecord) -> list[Said]:
    """Return the corrected words of a draft of sound, each with its time."""
    heard = draft.transcript.words
    found = []
    for word in draft.transcript.corrected:
        first, last = heard[word.from_[0]], heard[max(word.from_[0], word.from_[1] - 1)]
        found.append(Said(word.text, first.start or 0.0, last.end or 0.0))
    return found


def examinations(draft: DraftRecord, resets: Mapping[str, Sequence[str]]) -> list[Stretch]:
    """Return the examinations that a draft speaks of, one where nothing parts it. For typed text their times say nothing."""
    words = words_of(draft)
    begins = [e.words[0] for field in draft.fields for e in field.evidence if e.role == "statement"]
    first = min(begins, default=len(draft.transcript.words))
    begun = next((at for at, word in enumerate(draft.transcript.corrected) if word.from_[1] > first), len(words))
    return propose(words, find_marks(words, resets), draft.source.duration_s or 0.0, begun)


def find_marks(words: Sequence[Said], resets: Mapping[str, Sequence[str]]) -> list[Mark]:
    """Return what parts examinations, in order. resets: the lexicon's phrases, of a new patient and of an end."""
    plain = [_plain(word.text) for word in words]
    marks = [
        Mark((at, at + len(phrase)), meaning != "end")
        for meaning, forms in resets.items()
        for phrase in (form.split() for form in forms)
        for at in range(len(plain) - len(phrase) + 1)
        if plain[at : at + len(phrase)] == phrase
    ]
    marks += [found for at, word in enumerate(plain) if word in CUES and (found := _reference(plain, words, at))]
    return sorted(marks, key=lambda mark: mark.words)


def propose(words: Sequence[Said], marks: Sequence[Mark], duration_s: float, begun: int = 0) -> list[Stretch]:
    """Return the examinations of a recording, from its beginning to its end with nothing left out between.

    begun: the first word that a statement rests on; what stands before it ("nerve clinic, new patient") is no examination.
    """
    cuts: list[int] = [0]
    references: dict[int, str] = {}
    marked = {at for mark in marks for at in range(*mark.words)}
    for mark in marks:
        at = mark.words[0] if mark.before else mark.words[1]
        said = [i for i in range(cuts[-1], mark.words[0]) if i not in marked]
        if mark.reference is not None and (len(said) <= NEAR or not said):
            references.setdefault(cuts[-1], mark.reference)
            continue
        if said and (len(cuts) > 1 or at > begun):
            cuts.append(at)
        if mark.reference is not None:
            references[cuts[-1]] = mark.reference
    if len(cuts) > 1 and all(i in marked for i in range(cuts[-1], len(words))):
        cuts.pop()  # after the last end nothing was said
    bounds = [0.0, *(_gap(words, at) for at in cuts[1:]), duration_s]
    return [Stretch(a, b, references.get(cut)) for a, b, cut in zip(bounds, bounds[1:], cuts, strict=False)]


def _gap(words: Sequence[Said], at: int) -> float:
    """The middle of the pause before a word."""
    return round((words[at - 1].end_s + words[at].start_s) / 2, 2)


def _plain(text: str) -> str:
    return re.sub(r"[^\w/-]", "", text).casefold()


def _reference(plain: Sequence[str], words: Sequence[Said], cue: int) -> Mark | None:
    """The reference said after a cue, None where too little of one follows."""
    at = cue + 1
    while at < len(plain) and plain[at] in BETWEEN:
        at += 1
    first, spelt, times = at, "", 1
    while at < len(plain):
        word = plain[at]
        if word in {"double", "triple"} and times == 1:
            times = 2 if word == "double" else 3
        elif (character := _character(word)) is not None:
            spelt, times = spelt + character * times, 1
        else:
            break
        ended = re.search(r"[.;!?]$", words[at].text)
        at += 1
        if ended and len(word) > 1:  # "H." is a letter, "one." ends the sentence
            break
    try:
        reference = read_reference(spelt.strip("-/."))
    except InputError:
        return None
    return Mark((cue, at), True, reference) if len(reference) >= FEWEST and at > first else None


def _character(word: str) -> str | None:
    if word in DIGITS or word in LETTERS or word in SIGNS:
        return DIGITS.get(word) or LETTERS.get(word) or SIGNS[word]
    if word.isdecimal() or (len(word) == 1 and word.isascii() and word.isalpha()):
        return word.upper()
    if re.fullmatch(r"[a-z0-9]+(?:[/-][a-z0-9]+)*", word) and any(ch.isdigit() for ch in word):
        return word.upper()  # a recogniser that writes "H-2041"
    return None
