"""The lexicon, read from its files and checked as a whole.

``load_lexicon()`` gives the shipped lexicon, with a clinic's own file laid over it where there is one. Every fault is a
LexiconError naming file, line and term. Imports nothing of ours but errors.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from dictation.errors import LexiconError
from dictation.lexicon.checking import check_lexicon
from dictation.lexicon.entries import Concept, Form, Lexicon, Place
from dictation.lexicon.reading import Mapped, fault, read_yaml

ROOMS = {"digits": "digit", "joints": "joint", "structures": "structure", "aspects": "aspect"}
FIELD_KEYS = {
    "side",
    "digit",
    "joint",
    "structure",
    "aspect",
    "status",
    "severity",
    "certainty",
    "qualifier",
    "mode",
    "position",
}
_TERM_KEYS = {"id", "preferred", "spoken", "observed", "misheard", "pronunciations", "source"}
_PLACE_KEYS = _TERM_KEYS | {"region", "digits"}
_CONCEPT_KEYS = _TERM_KEYS | {
    "kind", "part", "takes", "statuses", "joint", "digit", "structure", "unit", "plausible", "core", "why", "counts_for",
    "means", "wording",
}  # fmt: skip
_TOP_KEYS = {"version", "concepts", "language", "wording", "pronunciations", "mishearings", "phrases", *ROOMS}


def lexicon_folder() -> Path:
    """Return the folder of the shipped lexicon: inside the installed package, else beside it in a checkout."""
    inside = Path(__file__).parent / "data"
    return inside if inside.is_dir() else Path(__file__).parents[2] / "lexicon"


@lru_cache(maxsize=4)
def load_lexicon(personal: Path | None = None, folder: Path | None = None) -> Lexicon:
    """Return the checked lexicon.

    personal: a clinic's own file, same format; its entries replace shipped ones of the same id or are added.
    Raises LexiconError at the first fault.
    """
    folder = folder or lexicon_folder()
    paths = sorted(folder.glob("*.yaml"))
    if not paths:
        raise LexiconError(f"No lexicon files in {folder}; install the program again.")
    files = [read_yaml(path) for path in paths]
    talk = folder / "conversation.txt"
    checksum = hashlib.sha256()
    for path in [*paths, *([talk] if talk.is_file() else [])]:
        checksum.update(path.name.encode() + b"\0" + path.read_bytes() + b"\0")
    personal_sha = None
    if personal is not None:
        files.append(read_yaml(personal))
        personal_sha = hashlib.sha256(personal.read_bytes()).hexdigest()
    conversation = talk.read_text(encoding="utf-8").splitlines() if talk.is_file() else []
    lexicon = _merge(files, checksum.hexdigest(), personal_sha, conversation)
    check_lexicon(lexicon, {**{(kind, i): at for kind, i, at in _positions(files)}})
    return lexicon


def _positions(files: list[Mapped]) -> list[tuple[str, str, tuple[str, int]]]:
    """Where each entry stands, so that a fault found later can still name file and line."""
    return [
        ("concept" if room == "concepts" else ROOMS[room], entry["id"], (entry.file, entry.line))
        for file in files
        for room in ("concepts", *ROOMS)
        for entry in file.get(room) or []
    ]


def _merge(files: list[Mapped], checksum: str, personal_sha: str | None, conversation: list[str]) -> Lexicon:
    rooms: dict[str, dict[str, Place]] = {room: {} for room in ROOMS}
    concepts: dict[str, Concept] = {}
    language: dict[str, dict[str, tuple[str, ...]]] = {}
    wording: dict[str, Mapping[str, str]] = {}
    words: dict[str, tuple[str, ...]] = {}
    phrases: list[str] = []
    version = "0"
    for number, file in enumerate(files):
        own = personal_sha is not None and number == len(files) - 1
        _known(file, _TOP_KEYS, None)
        version = str(file.get("version", version)) if not own else version
        for entry in _entries(file, "concepts"):
            concept = _concept(entry)
            _new(concept.id, concepts, own, entry)
            concepts[concept.id] = concept
        for room, kind in ROOMS.items():
            for entry in _entries(file, room):
                place = _place(entry, kind)
                _new(place.id, rooms[room], own, entry)
                rooms[room][place.id] = place
        for name, meanings in (file.get("language") or {}).items():
            language.setdefault(name, {}).update({key: _texts(file, forms, name) for key, forms in meanings.items()})
        wording.update(file.get("wording") or {})
        words.update({word: _texts(file, phones, word) for word, phones in (file.get("pronunciations") or {}).items()})
        phrases += file.get("phrases") or []
    _add_mishearings(files, [concepts, *rooms.values()])
    return Lexicon(
        version=version, checksum=checksum, concepts=concepts, digits=rooms["digits"], joints=rooms["joints"],
        structures=rooms["structures"], aspects=rooms["aspects"], language=language, wording=wording,
        conversation=tuple(line for line in conversation if line and not line.startswith("#")),
        phrases=tuple(phrases), pronunciations=words, personal_sha256=personal_sha,
    )  # fmt: skip


def _add_mishearings(files: list[Mapped], rooms: list[Any]) -> None:
    """Give each term the mishearings listed for it apart from its entry."""
    for file in files:
        listed: Any = file.get("mishearings") or {}
        for term, phrases in listed.items():
            room = next((room for room in rooms if term in room), None)
            if room is None:
                raise fault(file.file, listed.key_lines[term], term, "mishearings are listed for an unknown id")
            more = _texts(file, phrases, term)
            room[term] = replace(room[term], misheard=tuple(dict.fromkeys((*room[term].misheard, *more))))


def _entries(file: Mapped, room: str) -> list[Mapped]:
    entries = file.get(room) or []
    if not isinstance(entries, list) or not all(isinstance(e, Mapped) for e in entries):
        raise fault(file.file, file.key_lines[room], None, f"{room} must be a list of entries")
    return entries


def _new(term: str, known: Mapping[str, object], own: bool, entry: Mapped) -> None:
    if term in known and not own:
        raise fault(entry.file, entry.line, term, "this id is already used; choose another")


def _known(entry: Mapped, keys: set[str], term: str | None) -> None:
    for key in entry:
        if key not in keys:
            raise fault(entry.file, entry.key_lines[key], term, f"unknown key {key}; known: {', '.join(sorted(keys))}")


def _place(entry: Mapped, kind: str) -> Place:
    term = _identity(entry, _PLACE_KEYS)
    return Place(**_term(entry, term), kind=kind, region=entry.get("region"), digits=tuple(entry.get("digits") or ()))


def _concept(entry: Mapped) -> Concept:
    term = _identity(entry, _CONCEPT_KEYS)
    for key in ("kind", "part", "takes", "statuses"):
        if key not in entry:
            raise fault(entry.file, entry.line, term, f"{key} is missing")
    plausible = entry.get("plausible")
    if plausible is not None and not (
        isinstance(plausible, list) and len(plausible) == 2 and all(isinstance(x, (int, float)) for x in plausible)
    ):
        raise fault(entry.file, entry.key_lines["plausible"], term, "plausible must be two numbers, [low, high]")
    return Concept(
        **_term(entry, term), kind=entry["kind"], part=entry["part"], takes=frozenset(entry["takes"]),
        statuses=tuple(entry["statuses"]), joint=entry.get("joint"), digit=entry.get("digit"),
        structure=entry.get("structure"), unit=entry.get("unit"),
        plausible=(float(plausible[0]), float(plausible[1])) if plausible else None, core=bool(entry.get("core")),
        why=entry.get("why"), counts_for=entry.get("counts_for"), means=entry.get("means"),
        wording=dict(entry.get("wording") or {}),
    )  # fmt: skip


def _identity(entry: Mapped, keys: set[str]) -> str:
    term = entry.get("id")
    if not isinstance(term, str) or not term.isidentifier():
        raise fault(entry.file, entry.line, None, "an entry needs an id of letters, digits and _")
    _known(entry, keys, term)
    if not isinstance(entry.get("preferred"), str):
        raise fault(entry.file, entry.line, term, "preferred is missing, or not in quotes")
    return term


def _term(entry: Mapped, term: str) -> dict[str, Any]:
    forms = [_form(entry, term, item) for item in entry.get("spoken") or []]
    forms += [Form(text, observed=True) for text in _texts(entry, entry.get("observed") or [], term)]
    if not any(form.text.lower() == entry["preferred"].lower() for form in forms):
        forms.insert(0, Form(entry["preferred"]))
    return {
        "id": term, "preferred": entry["preferred"], "spoken": tuple(forms),
        "misheard": _texts(entry, entry.get("misheard") or [], term), "source": entry.get("source"),
        "pronunciations": {w: _texts(entry, p, term) for w, p in (entry.get("pronunciations") or {}).items()},
    }  # fmt: skip


def _form(entry: Mapped, term: str, item: Any) -> Form:
    if isinstance(item, str):
        return Form(item)
    if not isinstance(item, Mapped) or not isinstance(item.get("form"), str):
        raise fault(entry.file, entry.key_lines["spoken"], term, "a spoken form must be text; put it in quotes")
    _known(item, FIELD_KEYS | {"form"}, term)
    return Form(item["form"], {key: value for key, value in item.items() if key != "form"})


def _texts(entry: Mapped, items: Any, term: str) -> tuple[str, ...]:
    if not isinstance(items, list) or not all(isinstance(item, str) for item in items):
        raise fault(entry.file, entry.line, term, "must be a list of texts in quotes")
    return tuple(items)
