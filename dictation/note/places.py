"""Where a field is, in words: side, digit, joint, structure and aspect, the side in capitals.

Keys that the concept itself fixes (the wrist of wrist extension) are in its name already and are not said
again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from dictation.lexicon.entries import Concept, Lexicon
from dictation.record import FlagCode, RecordField
from dictation.review.amendment import side_open

DIGITS = {
    "thumb": "thumb",
    "index": "index finger",
    "middle": "middle finger",
    "ring": "ring finger",
    "little": "little finger",
}
JOINTS = {
    "elbow": "elbow", "druj": "distal radioulnar joint", "wrist": "wrist", "cmc": "CMC joint",
    "mcp": "MCP joint",
    "pip": "PIP joint", "dip": "DIP joint", "ip": "IP joint",
}  # fmt: skip
ASPECTS = {aspect: f"{aspect} aspect" for aspect in ("dorsal", "volar", "radial", "ulnar")}
SIDES = {"right": "RIGHT", "left": "LEFT"}
NO_SIDE = "(no side)"
"""Stands where a concept takes a side and the clinician decided that none applies."""

SIDE_NOT_SAID = "(SIDE NOT SAID)"
"""Stands in review until that is decided; a note cannot hold it, since such a field cannot be confirmed."""


@dataclass(frozen=True, slots=True)
class PlaceNames:
    """What places are called: by the trade, or in plain words (plain.py). structures: those not called as the lexicon does."""

    digits: Mapping[str, str]
    joints: Mapping[str, str]
    aspects: Mapping[str, str]
    structures: Mapping[str, str]


CLINICAL = PlaceNames(DIGITS, JOINTS, ASPECTS, {})


def word_place(
    field: RecordField, lexicon: Lexicon, digits: Sequence[str] = (), names: PlaceNames = CLINICAL
) -> str:
    """Return the place with its preposition and a space before, "" where there is none to say.

    digits: those that the place is said of together, the field's own where not given.

    " at the RIGHT ring finger PIP joint", " on the dorsal aspect of the LEFT wrist", " on the RIGHT", " (no
    side)".
    """
    place = name_place(field, lexicon, digits, names)
    side = SIDES.get(field.side or "")
    aspect = names.aspects[field.aspect] if field.aspect else ""
    if aspect and not place.removeprefix(side or "").strip():
        return f" on the {aspect}" + (f" on the {side}" if side else _sideless(field, lexicon))
    if aspect:
        return f" on the {aspect} of the {place}" + ("" if side else _sideless(field, lexicon))
    if side and place == side:
        return f" on the {side}"
    return (f" at the {place}" if place else "") + ("" if side else _sideless(field, lexicon))


def name_place(
    field: RecordField, lexicon: Lexicon, digits: Sequence[str] = (), names: PlaceNames = CLINICAL
) -> str:
    """Return the place alone, without aspect: "RIGHT ring finger PIP joint", "RIGHT", or ""."""
    concept = lexicon.concepts.get(field.concept)
    digit = field.digit if not _fixed(concept, "digit", field.digit) else None
    joint = field.joint if not _fixed(concept, "joint", field.joint) else None
    structure = field.structure if not _fixed(concept, "structure", field.structure) else None
    words = [SIDES[field.side]] if field.side else []
    name = names.structures.get(structure or "") or _structure(structure, lexicon)
    if digit and names.digits[digit] not in name and not (digit == "thumb" and "thumb" in name):
        words.append(name_digits(digits or [digit], names))
        name = name.removeprefix("finger ")
    if joint and names.joints[joint] not in name:
        plural = joint in {"mcp", "pip", "dip"} and (field.digit is None or len(digits) > 1)
        words.append(names.joints[joint] + ("s" if plural else ""))
    if name:
        words.append(name)
    several = sum(one != "thumb" for one in digits) > 1 and words[-1:] == [name_digits(digits, names)]
    return " ".join(words) + ("s" if several else "")


def side_heading(field: RecordField) -> str:
    """Return the side of a field as it heads a screen: "RIGHT", "LEFT", "SIDE NOT SAID" or "no side"."""
    return SIDES[field.side] if field.side else "SIDE NOT SAID" if side_open(field) else "no side"


def name_digits(digits: Sequence[str], names: PlaceNames = CLINICAL) -> str:
    """Return digits as a list in a sentence.

    >>> name_digits(["thumb", "index", "ring"])
    'thumb, index and ring finger'
    """
    called = [names.digits[digit] for digit in digits]
    short = [name.removesuffix(" finger") for name in called[:-1]]
    return f"{', '.join(short)} and {called[-1]}" if short else called[-1]


def _sideless(field: RecordField, lexicon: Lexicon) -> str:
    if field.side is not None:
        return ""
    if any(flag.code is FlagCode.side_missing for flag in field.flags):
        return f" {SIDE_NOT_SAID}"
    if field.part in {"context", "reported"}:
        return ""
    concept = lexicon.concepts.get(field.concept)
    return f" {NO_SIDE}" if concept is None or "side" in concept.takes else ""


def _fixed(concept: Concept | None, key: str, value: str | None) -> bool:
    return concept is not None and value is not None and getattr(concept, key) == value


def _structure(structure: str | None, lexicon: Lexicon) -> str:
    if structure is None:
        return ""
    known = lexicon.structures.get(structure)
    return lower_first(known.preferred) if known else structure.replace("_", " ")


def lower_first(name: str) -> str:
    """Return a name as it stands inside a sentence: a plain word small, an eponym or abbreviation as it is.

    >>> lower_first("Wrist extension"), lower_first("Heberden's nodes"), lower_first("MRI")
    ('wrist extension', "Heberden's nodes", 'MRI')
    """
    first = name.split(" ", 1)[0]
    keep = "'" in first or "’" in first or len(first) == 1 or any(ch.isupper() or ch.isdigit() for ch in first[1:])
    return name if keep else name[:1].lower() + name[1:]
