"""What one spoken phrase means to the program, and how it is heard.

What goes in: a phrase as it would be dictated. What comes out: plain values. Imports pipeline and what is below it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dictation.correction.correct import correct, corrector_for
from dictation.extraction.extract import readers
from dictation.extraction.tokens import tokenise
from dictation.lexicon.entries import Concept, Lexicon
from dictation.note.printable import printable
from dictation.note.wording import word_field
from dictation.own_terms import term_of
from dictation.pipeline import draft
from dictation.record import RecordField, Source
from dictation.sounds import Sounds
from dictation.transcript import read_text

NEAR = 0.3
"""Sound distance up to which another term is named; 0 is the same, 1 unlike. Correction goes little farther."""
FEW = 5
KINDS = ("concept", "digit", "joint", "structure", "aspect")


@dataclass(frozen=True, slots=True)
class Named:
    """A term that stands in the phrase. words: those that name it; sets: field keys that they carry."""

    words: str
    id: str
    preferred: str
    kind: str
    sets: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Heard:
    """How one word is said, the likeliest first, as phones; known: by a dictionary, not by rule."""

    word: str
    said: tuple[str, ...]
    known: bool


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a phrase means. corrected: as correction leaves it; near: terms that sound like it, each with its distance."""

    corrected: str
    named: tuple[Named, ...]
    fields: tuple[RecordField, ...]
    sentences: tuple[str, ...]
    unplaced: tuple[str, ...]
    heard: tuple[Heard, ...]
    near: tuple[tuple[str, float], ...]


def meaning_of(phrase: str, lexicon: Lexicon) -> Meaning:
    """Return what a phrase means. Raises TextTooLong, and nothing else for any words."""
    corrected = correct(read_text(phrase), lexicon)
    drafted = draft(read_text(phrase), Source(
        name="phrase", sha256="", duration_s=None, recogniser="text", model=None, program_version="",
        lexicon_version=lexicon.version,
    ), lexicon)  # fmt: skip
    matcher, _ = readers(lexicon)
    tokens = tokenise(corrected, matcher.variants, matcher.spelled)
    named = []
    end = 0
    for m in matcher.find(tokens):
        term = term_of(lexicon, m.id) if m.kind in KINDS else None
        if term is not None and m.end > end:  # one inside a longer one says nothing of its own
            by = " ".join(token.written or token.text for token in tokens[m.start : m.end])
            kind = term.kind if isinstance(term, Concept) else m.kind
            named.append(Named(by, term.id, term.preferred, kind, tuple(m.sets.items())))
            end = max(end, m.end)
    sounds = Sounds(lexicon)
    words = [word.text for word in corrected.corrected]
    heard = tuple(Heard(w, tuple(" ".join(way) for way in sounds.pronounce(w)), sounds.known(w)) for w in words)
    return Meaning(
        " ".join(words), tuple(named), tuple(drafted.fields), tuple(word_field(f, lexicon) for f in drafted.fields),
        tuple(f"{u.text}: {u.reason}" for u in drafted.unplaced), heard, _near(words, lexicon, sounds),
    )  # fmt: skip


def _near(words: Sequence[str], lexicon: Lexicon, sounds: Sounds) -> tuple[tuple[str, float], ...]:
    """Other spoken forms that sound like the whole phrase, nearest first."""
    said = [phone for word in words for phone in (sounds.pronounce(word) or ((),))[0]]
    own = " ".join(words).casefold()
    found = corrector_for(lexicon).near(said, NEAR) if said else ()
    return tuple((text, round(distance, 2)) for text, distance in found if text.casefold() != own)[:FEW]


def show_meaning(phrase: str, meaning: Meaning) -> list[str]:
    """Return lines for the screen."""
    lines = [f"Said       {printable(phrase)}"]
    if meaning.corrected.casefold() != phrase.casefold():
        lines.append(f"Corrected  {printable(meaning.corrected)}")
    for one in meaning.named:
        carried = "".join(f", {key} {value}" for key, value in one.sets)
        lines.append(f"Names      {one.preferred} ({one.kind} {one.id}{carried}), by {printable(one.words)!r}")
    for field, sentence in zip(meaning.fields, meaning.sentences, strict=True):
        flags = [flag.code.value for flag in field.flags if flag.level == "check"]
        lines.append(f"Note       {sentence}{'   to check: ' + ', '.join(flags) if flags else ''}")
    lines += [f"No field   {printable(text)}" for text in meaning.unplaced]
    if not meaning.fields and not meaning.unplaced:
        lines.append("No field   nothing in it says what was found")
    for word in meaning.heard:
        how = " or ".join(word.said) or "not said"
        lines.append(f"Heard as   {printable(word.word)}: {how}{'' if word.known else '   (by rule; no dictionary has it)'}")
    lines += [f"Near       {text}, {distance:.2f} apart" for text, distance in meaning.near]
    return lines
