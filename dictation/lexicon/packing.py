"""A checked lexicon as one text, and back: so that it need not be read and checked again.

Most of a lexicon is spoken forms, and once its uses are compiled few of them are asked for: each term's forms stay text
until they are.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import fields
from pathlib import Path
from typing import Any, overload

from dictation.lexicon.entries import Concept, Form, Lexicon, Place, Term

_NOTHING: Mapping[str, str] = {}  # what most forms carry; one for all is made faster than one for each
_ROOMS = ("concepts", "digits", "joints", "structures", "aspects")
_PLAIN = (
    "version", "checksum", "language", "wording", "plain", "phrases", "pronunciations", "personal_sha256", "own_forms",
)


class Forms(Sequence[Form]):
    """The forms of a term, read when they are first asked for; equal to any sequence of the same forms."""

    __slots__ = ("_forms", "_text")

    def __init__(self, text: str) -> None:
        self._text, self._forms = text, None

    _forms: tuple[Form, ...] | None

    def _read(self) -> tuple[Form, ...]:
        if self._forms is None:
            listed = json.loads(self._text)
            self._forms = tuple([Form(form, _NOTHING) if isinstance(form, str) else Form(*form) for form in listed])
        return self._forms

    def __len__(self) -> int:
        return len(self._read())

    @overload
    def __getitem__(self, at: int) -> Form: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[Form]: ...
    def __getitem__(self, at: int | slice) -> Form | Sequence[Form]:
        return self._read()[at]

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and self._read() == tuple(other)

    def __hash__(self) -> int:
        return hash(self._text)


def pack(lexicon: Lexicon) -> str:
    """Return what a lexicon holds, as lines of JSON: all but the forms; each term's forms. Its cache folder and the sentences
    of its texts are not in it."""
    rooms = [[_packed(term) for term in getattr(lexicon, room).values()] for room in _ROOMS]
    plain = {name: getattr(lexicon, name) for name in _PLAIN}
    forms = (
        [[f.text, dict(f.sets), f.observed] if f.sets or f.observed else f.text for f in term.spoken]
        for term in lexicon.terms()
    )
    return "\n".join(map(_json, ([plain, rooms], *forms)))


def unpack(packed: str, cache: Path | None, conversation: Sequence[str], dictations: Sequence[str]) -> Lexicon:
    """Return the lexicon that was packed, with the cache folder of this run and the sentences of its texts."""
    head, *lines = packed.split("\n")
    plain, packed_rooms = json.loads(head)
    forms = map(Forms, lines)
    rooms: dict[str, Any] = {}
    for name, terms in zip(_ROOMS, packed_rooms, strict=True):
        kind = Concept if name == "concepts" else Place
        rooms[name] = {values[0]: _unpacked(kind, values, spoken) for values, spoken in zip(terms, forms, strict=False)}
    language = {name: _tuples(meanings) for name, meanings in plain.pop("language").items()}
    words = _tuples(plain.pop("pronunciations"))
    texts: dict[str, Any] = {name: tuple(plain.pop(name)) for name in ("phrases", "own_forms")}
    return Lexicon(**plain, **rooms, **texts, language=language, pronunciations=words, cache=cache,
                   conversation=conversation, dictations=dictations)  # fmt: skip


_json = json.JSONEncoder(ensure_ascii=False, separators=(",", ":")).encode


def _packed(term: Term) -> list[Any]:
    values = [getattr(term, field.name) for field in fields(term) if field.name != "spoken"]
    return [sorted(value) if isinstance(value, frozenset) else value for value in values]


def _unpacked(kind: type[Any], values: list[Any], spoken: Forms) -> Any:
    values.insert(2, spoken)
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
