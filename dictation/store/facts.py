"""What an encounter is, folded from its journal: reference, details, recordings and drafts.

An encounter is one examination of one patient, under an opaque reference that the clinic chooses. It needs no name, and
none is asked for. What was decided on its drafts is folded by ``review/decisions.py`` from the same journal. Imports
journal and errors.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, fields, replace
from datetime import datetime
from typing import Any

from dictation.errors import InputError, RecordError
from dictation.store.journal import Entry, Moment, broken

OPENED, DETAILED, TAKEN = "encounter opened", "details stated", "draft taken"
SOUND_KEPT, SOUND_NAMED, SOUND_DELETED = "sound kept", "sound named", "sound deleted"
MARKED = "moments marked"

PURPOSES = (
    "nerve", "wound", "trauma", "dupuytren", "rheumatoid", "after operation", "elbow", "child", "general",
)  # fmt: skip
SEXES = ("female", "male", "other")
CONSENTS = ("given", "refused", "withdrawn")
_REFERENCE = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._/-]{0,39}")
_LONGEST = 200


@dataclass(frozen=True, slots=True)
class Details:
    """What was stated of an encounter; None where it was not. age: years. consent: to recording. examined: local time
    of the examination, "2025-03-04 14:30". present: who else was there, by function.
    """

    purpose: str | None = None
    age: int | None = None
    sex: str | None = None
    consent: str | None = None
    examined: str | None = None
    examiner: str | None = None
    role: str | None = None
    present: str | None = None


@dataclass(frozen=True, slots=True)
class Recording:
    """One recording. kept: in the store's own folder, or elsewhere. deleted: why its sound was, None while it is not.

    marked: moments that the examiner marked while dictating, in seconds.
    """

    name: str
    kept: bool
    time: Moment
    deleted: str | None = None
    marked: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Taken:
    """One draft. recording: checksum of what it was drafted from. spoken: from sound, not from typed text."""

    recording: str
    name: str
    spoken: bool
    time: Moment


@dataclass(frozen=True, slots=True)
class Facts:
    """An encounter as it stands: drafts and recordings by checksum, in the order they came."""

    id: str
    reference: str
    details: Details
    opened: Moment
    recordings: dict[str, Recording] = field(default_factory=dict)
    drafts: dict[str, Taken] = field(default_factory=dict)


def fold_facts(entries: Sequence[Entry], name: str, facts: Facts | None = None) -> Facts:
    """Return what the entries state, on top of what earlier ones did.

    Raises RecordError naming the first that does not fit, and the journal by name.
    """
    for entry in entries:
        try:
            facts = _state(facts, entry)
        except (KeyError, TypeError, ValueError, AttributeError, InputError) as err:
            raise broken(name, entry.number, "does not fit an encounter") from err
    if facts is None:
        raise RecordError(f"{name} has no entries; restore the store from a back-up.")
    return facts


def _state(facts: Facts | None, entry: Entry) -> Facts:
    after = entry.after
    if facts is None or entry.what == OPENED:
        if facts is not None or entry.what != OPENED:
            raise ValueError
        details = read_details(after["details"])
        return Facts(after["encounter"], read_reference(after["reference"]), details, entry.time)
    match entry.what:
        case "details stated":
            read_details(after)
            return replace(facts, details=replace(facts.details, **after))
        case "draft taken":
            taken = Taken(after["recording"], after["name"], bool(after["spoken"]), entry.time)
            return replace(facts, drafts={**facts.drafts, after["draft"]: taken})
        case "sound kept" | "sound named":
            recording = Recording(after["name"], entry.what == SOUND_KEPT, entry.time)
            return replace(facts, recordings={**facts.recordings, after["sha256"]: recording})
        case "moments marked":
            marked = replace(facts.recordings[after["sha256"]], marked=tuple(float(at) for at in after["moments"]))
            return replace(facts, recordings={**facts.recordings, after["sha256"]: marked})
        case "sound deleted":
            gone = replace(facts.recordings[after["sha256"]], deleted=after["why"])
            return replace(facts, recordings={**facts.recordings, after["sha256"]: gone})
    return facts


def read_reference(text: str) -> str:
    """Return a reference as it is kept. Raises InputError where it cannot be one; an error does not quote it.

    Letters, digits, space and . _ / - alone: nothing that could act on a screen, a page or a file name.
    """
    found = " ".join(text.split())
    if not _REFERENCE.fullmatch(found):
        raise InputError(
            "An encounter's reference is 1 to 40 letters, digits, spaces, or . _ / -, and begins with a letter or digit; "
            "choose one like that, with no name in it."
        )
    return found


def suggest_reference(name: str) -> str | None:
    """Return a file's name as a reference, None where too little of it is left."""
    found = re.sub(r"[^A-Za-z0-9 ._/-]+", "-", name)[:40].strip(" ._/-")
    return found if _REFERENCE.fullmatch(found) else None


LOOKS_LIKE_A_NAME = "That looks like a name; a reference is one that your clinic chose, and holds no name of a patient."


def looks_like_name(reference: str) -> bool:
    """Return whether a reference reads as a person's name: two or more words of letters, or one word with a capital.

    >>> [looks_like_name(one) for one in ("John Smith", "Mary Jones 1970", "Smith", "H-2041", "HX 12", "clinic 3")]
    [True, True, True, False, False, False]
    """
    words = [word for word in re.split(r"[ ._/]+", reference.strip()) if len(word) > 1 and word.replace("-", "").isalpha()]
    alone = len(words) == 1 and not any(sign.isdigit() for sign in reference)
    return len(words) > 1 or (alone and words[0][:1].isupper() and any(sign.islower() for sign in words[0]))


def reference_ending(reference: str) -> str:
    """Return the last characters of a reference, which a signer types: four, or all of a shorter one.

    >>> reference_ending("H-2041")
    '2041'
    """
    return reference[-4:].strip().casefold()


def stated_details(details: Details) -> dict[str, Any]:
    """Return the details that were stated, by name."""
    return {key: value for key, value in asdict(details).items() if value is not None}


def read_details(stated: Mapping[str, Any]) -> Details:
    """Return the details stated, each checked. Raises InputError naming the one that does not fit."""
    known = {one.name for one in fields(Details)}
    if not set(stated) <= known:
        raise InputError(f"An encounter has no such detail; it has {', '.join(sorted(known))}.")
    for key, allowed in (("purpose", PURPOSES), ("sex", SEXES), ("consent", CONSENTS)):
        if stated.get(key) is not None and stated[key] not in allowed:
            raise InputError(f"The {key} of an encounter is one of: {', '.join(allowed)}.")
    age = stated.get("age")
    if age is not None and (not isinstance(age, int) or isinstance(age, bool) or not 0 <= age <= 130):
        raise InputError("The age of an encounter is whole years, 0 to 130.")
    for key in ("examined", "examiner", "role", "present"):
        text = stated.get(key)
        if text is not None and (not isinstance(text, str) or not text.strip() or len(text) > _LONGEST):
            raise InputError(f"The detail {key} is a text of 1 to {_LONGEST} characters.")
    if stated.get("examined") is not None:
        try:
            datetime.strptime(stated["examined"], "%Y-%m-%d %H:%M")
        except ValueError as err:
            raise InputError("Say when it was examined as year-month-day hour:minute, as in 2025-03-04 14:30.") from err
    return Details(**stated)
