"""A checked lexicon as one text, and back: so that it need not be read and checked again."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import fields
from pathlib import Path
from typing import Any

from dictation.lexicon.entries import Concept, Form, Lexicon, Place, Term

_NOTHING: Mapping[str, str] = {}  # what most forms carry; one for all is made faster than one for each
_ROOMS = ("concepts", "digits", "joints", "structures", "aspects")
_PLAIN = (
    "version", "checksum", "language", "wording", "conversation", "phrases", "pronunciations", "personal_sha256", "own_forms",
)  # fmt: skip


def pack(lexicon: Lexicon) -> str:
    """Return what a lexicon holds, its cache folder apart, as JSON."""
    rooms = [[_packed(term) for term in getattr(lexicon, room).values()] for room in _ROOMS]
    plain = {name: getattr(lexicon, name) for name in _PLAIN}
    return json.dumps([plain, rooms], ensure_ascii=False, separators=(",", ":"))


def unpack(packed: str, cache: Path | None) -> Lexicon:
    """Return the lexicon that was packed, with the cache folder of this run."""
    plain, (concepts, *places) = json.loads(packed)
    rooms: dict[str, Any] = {"concepts": {values[0]: _unpacked(Concept, values) for values in concepts}}
    for name, terms in zip(_ROOMS[1:], places, strict=True):
        rooms[name] = {values[0]: _unpacked(Place, values) for values in terms}
    language = {name: _tuples(meanings) for name, meanings in plain.pop("language").items()}
    words = _tuples(plain.pop("pronunciations"))
    texts: dict[str, Any] = {name: tuple(plain.pop(name)) for name in ("conversation", "phrases", "own_forms")}
    return Lexicon(**plain, **rooms, **texts, language=language, pronunciations=words, cache=cache)


def _packed(term: Term) -> list[Any]:
    out: list[Any] = []
    for field in fields(term):
        value = getattr(term, field.name)
        if field.name == "spoken":
            value = [[f.text, dict(f.sets), f.observed] if f.sets or f.observed else f.text for f in value]
        elif isinstance(value, frozenset):
            value = sorted(value)
        out.append(value)
    return out


def _unpacked(kind: type[Any], values: list[Any]) -> Any:
    values[2] = tuple([Form(form, _NOTHING) if isinstance(form, str) else Form(*form) for form in values[2]])
    values[3] = tuple(values[3])
    values[4] = _tuples(values[4])
    if kind is Place:
        values[8] = tuple(values[8])
    else:
        values[8], values[9] = frozenset(values[8]), tuple(values[9])
        values[14] = tuple(values[14]) if values[14] else None
    return kind(*values)


def _tuples(mapping: Mapping[str, list[str]]) -> dict[str, tuple[str, ...]]:
    return {key: tuple(values) for key, values in mapping.items()}
