"""What a lexicon holds, as frozen values: concepts, places, and the words of the language around them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Form:
    """One way of saying a term. sets: field keys the form carries with it, e.g. {"status": "absent"} for "non-tender".

    observed: the form names the thing looked at ("cascade", "nails"), not the finding; it makes a field only with a
    word such as normal or abnormal, and normal then means that the finding is absent.
    """

    text: str
    sets: Mapping[str, str] = field(default_factory=dict)
    observed: bool = False


@dataclass(frozen=True, slots=True)
class Term:
    """What every entry has. One entry, six uses: see lexicon/README.md.

    spoken: forms as said, the preferred name among them.
    misheard: what recognisers make of it, each repaired to the first spoken form.
    pronunciations: word -> phone strings (ARPABET, no stress), for words the stock dictionary lacks or says otherwise.
    """

    id: str
    preferred: str
    spoken: Sequence[Form]
    misheard: tuple[str, ...] = ()
    pronunciations: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    source: str | None = None


@dataclass(frozen=True, slots=True)
class Place(Term):
    """A digit, joint, structure or aspect. digits: those a joint exists on."""

    kind: str = "structure"
    region: str | None = None
    digits: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Concept(Term):
    """What a field can be about.

    takes: field keys that may be filled. statuses: the only ones it may carry; empty: always null.
    joint, digit, structure: fixed keys, filled whenever the concept is used.
    plausible: (low, high) in unit.
    wording: status (or "value") -> note sentence pattern; see lexicon/README.md.
    """

    kind: str = "finding"
    part: str = "look"
    takes: frozenset[str] = frozenset()
    statuses: tuple[str, ...] = ()
    joint: str | None = None
    digit: str | None = None
    structure: str | None = None
    unit: str | None = None
    plausible: tuple[float, float] | None = None
    core: bool = False
    why: str | None = None
    counts_for: str | None = None
    means: str | None = None
    wording: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Lexicon:
    """The whole lexicon, checked.

    language: name of a word class (lexicon/language.yaml) -> {meaning: forms}.
    wording: kind of concept -> {status or "value": sentence pattern}.
    plain: part of plain.yaml (names, patterns, structures …) -> {id: plain words}, for the patient's summary.
    conversation: sentences of ordinary talk, for the recogniser's language model.
    phrases: phrase shapes of dictation, dictations: whole sentences of it, for the same.
    checksum: SHA-256 over all files read, in order; personal_sha256: of the clinic's own file, own_forms: what that file
    adds to what is said, in its order.
    cache: the folder in which what is compiled from it may be kept (compiled.py); None: nowhere.
    """

    version: str
    checksum: str
    concepts: Mapping[str, Concept]
    digits: Mapping[str, Place]
    joints: Mapping[str, Place]
    structures: Mapping[str, Place]
    aspects: Mapping[str, Place]
    language: Mapping[str, Mapping[str, tuple[str, ...]]]
    wording: Mapping[str, Mapping[str, str]]
    conversation: Sequence[str] = ()
    phrases: tuple[str, ...] = ()
    dictations: Sequence[str] = ()
    pronunciations: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    plain: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    personal_sha256: str | None = None
    own_forms: tuple[str, ...] = ()
    cache: Path | None = field(default=None, compare=False)

    def terms(self) -> tuple[Term, ...]:
        """All concepts and places, in file order."""
        rooms: tuple[Mapping[str, Term], ...] = (
            self.concepts, self.digits, self.joints, self.structures, self.aspects
        )  # fmt: skip
        return tuple(term for room in rooms for term in room.values())
