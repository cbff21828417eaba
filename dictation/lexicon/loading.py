"""The lexicon, read from its files and checked as a whole.

``load_lexicon()`` gives the shipped lexicon, with a clinic's own file laid over it where there is one. Every fault is a
LexiconError naming file, line and term. A content that was checked once is kept (compiled.py) and not read again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Collection, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from dictation.errors import LexiconError
from dictation.lexicon.checking import FIELD_KEYS, KINDS, PHONES, check_lexicon, pattern_problem
from dictation.lexicon.compiled import content_key, kept_text, uncollected
from dictation.lexicon.dictated_text import shape_problem
from dictation.lexicon.entries import Concept, Form, Lexicon, Place
from dictation.lexicon.packing import pack, unpack
from dictation.lexicon.plain import add_plain
from dictation.lexicon.reading import Content, Mapped, fault, parse_yaml, read_content
from dictation.lexicon.shipped import Shipped, lexicon_folder, read_shipped

Report = Callable[[LexiconError], None]
OPEN_CLASSES = {"variants"}
"""Word classes whose meanings are words of their own; of all others the meanings are fixed by what reads them."""
ROOMS = {"digits": "digit", "joints": "joint", "structures": "structure", "aspects": "aspect"}
_TERM_KEYS = {"id", "preferred", "spoken", "observed", "misheard", "pronunciations", "source"}
_PLACE_KEYS = _TERM_KEYS | {"region", "digits"}
_CONCEPT_KEYS = _TERM_KEYS | {
    "kind", "part", "takes", "statuses", "joint", "digit", "structure", "unit", "plausible", "core", "why", "counts_for",
    "means", "wording",
}  # fmt: skip
_TOP_KEYS = {*"version concepts language wording plain pronunciations mishearings phrases also_spoken".split(), *ROOMS}


def load_lexicon(personal: Path | Content | None = None, folder: Path | None = None, cache: Path | None = None) -> Lexicon:
    """Return the checked lexicon, always the same value for the same content.

    personal: a clinic's own file, read anew each time, or its content; entries of it replace shipped ones of their id or are
    added. cache: folder in which what is compiled may be kept (compiled.py). Raises LexiconError at the first fault.
    """
    read = read_content(personal) if isinstance(personal, Path) else personal
    return _loaded(read_shipped(folder or lexicon_folder()), read, cache)


def lexicon_faults(personal: Path | None = None, folder: Path | None = None) -> list[LexiconError]:
    """Return every fault of the lexicon, each naming file, line and term. Raises LexiconError where a file is no YAML."""
    return faults_with(read_content(personal) if personal else None, folder)


def faults_with(own: Content | None, folder: Path | None = None) -> list[LexiconError]:
    """Return every fault of the lexicon with a clinic's own file of that content. Raises LexiconError as lexicon_faults."""
    found: list[LexiconError] = []
    with uncollected():
        _checked(read_shipped(folder or lexicon_folder()), own, found.append)
    return found


@lru_cache(maxsize=4)
def _loaded(shipped: Shipped, own: Content | None, cache: Path | None) -> Lexicon:
    own_sha256 = hashlib.sha256(own.data).hexdigest() if own else None

    def make() -> str:
        return pack(_checked(shipped, own, _raise))

    with uncollected():
        return unpack(
            kept_text(cache, content_key(shipped.checksum, own_sha256), "lexicon", make),
            cache, shipped.conversation, shipped.dictations,
        )  # fmt: skip


def _raise(error: LexiconError) -> None:
    raise error


def _checked(shipped: Shipped, own: Content | None, report: Report) -> Lexicon:
    files = [*_parsed(shipped), *([parse_yaml(own)] if own else [])]
    own_sha256 = hashlib.sha256(own.data).hexdigest() if own else None
    lexicon = _merge(files, shipped, own_sha256, report)
    check_lexicon(lexicon, _positions(files), report)
    return lexicon


@lru_cache(maxsize=1)
def _parsed(shipped: Shipped) -> tuple[Mapped, ...]:
    """The shipped files' values, which adding a clinic's own term reads several times over; nothing changes them."""
    return tuple(parse_yaml(content) for content in shipped.files)


def _merge(files: list[Mapped], shipped: Shipped, own_sha256: str | None, report: Report) -> Lexicon:
    rooms: dict[str, dict[str, Any]] = {"concepts": {}, **{room: {} for room in ROOMS}}
    language: dict[str, dict[str, tuple[str, ...]]] = {}
    wording, plain = dict[str, Mapping[str, str]](), dict[str, Mapping[str, str]]()
    words: dict[str, tuple[str, ...]] = {}
    phrases: list[str] = []
    version = "0"
    for number, file in enumerate(files):
        own = own_sha256 is not None and number == len(files) - 1
        with _reporting(report):
            _known(file, _TOP_KEYS, None)
        version = str(file.get("version", version)) if not own else version
        seen: set[str] = set()
        for room, known in rooms.items():
            with _reporting(report):
                for entry in _entries(file, room):
                    with _reporting(report):
                        term = _concept(entry) if room == "concepts" else _place(entry, ROOMS[room])
                        if term.id in seen or (term.id in known and not own):
                            raise fault(entry.file, entry.line, term.id, "this id is already used; choose another")
                        seen.add(term.id)
                        known[term.id] = term
        with _reporting(report):
            _add_language(file, language, own=own)
        with _reporting(report):
            _add_wording(file, wording)
            add_plain(file, plain)
        with _reporting(report):
            words.update(_said(file, None))
            phrases += _shapes(file)
    for file in files:
        with _reporting(report):
            _add_listed(file, "mishearings", rooms, _with_mishearings)
            _add_listed(file, "also_spoken", rooms, _with_forms)
    return Lexicon(
        version=version, checksum=shipped.checksum, concepts=rooms["concepts"], digits=rooms["digits"], joints=rooms["joints"],
        structures=rooms["structures"], aspects=rooms["aspects"], language=language, wording=wording, plain=plain,
        conversation=shipped.conversation, dictations=shipped.dictations, phrases=tuple(phrases), pronunciations=words,
        personal_sha256=own_sha256, own_forms=_own_forms(files[-1], rooms) if own_sha256 else (),
    )  # fmt: skip


def _own_forms(own: Mapped, rooms: Mapping[str, dict[str, Any]]) -> tuple[str, ...]:
    """What a clinic's own file adds to what is said: the forms of its entries, and those it adds to others."""
    listed = own.get("also_spoken")
    terms = [(room, entry.get("id")) for room in rooms for entry in own.get(room) or [] if isinstance(entry, Mapped)]
    forms = [form.text for room, name in terms if name in rooms[room] for form in rooms[room][name].spoken]
    more = [item for items in listed.values() for item in items or []] if isinstance(listed, Mapped) else []
    forms += [str(item.get("form")) if isinstance(item, Mapped) else str(item) for item in more]
    return tuple(dict.fromkeys(forms))


def _add_language(file: Mapped, language: dict[str, dict[str, tuple[str, ...]]], *, own: bool) -> None:
    """Add the words around the terms. A clinic's own file adds forms to what is there: it takes no "no" and no side away, and
    gives no class a meaning that nothing reads."""
    classes = _mapping(file, "language")
    for name in classes:
        if own and name not in language:
            raise fault(file.file, classes.key_lines[name], name, "no such class of words; add to those of language.yaml")
        meanings = _mapping(classes, name)
        for meaning, forms in meanings.items():
            at = meanings.key_lines[meaning]
            texts = _texts(file, forms, name)
            known = language.setdefault(name, {})
            if own and meaning not in known and name not in OPEN_CLASSES:
                raise fault(file.file, at, name, f"{meaning} is no meaning of {name}; known: {', '.join(known)}")
            if own and not all(text.strip() for text in texts):
                raise fault(file.file, at, name, f"{meaning} has an empty form; write a word, or take it out")
            known[meaning] = tuple(dict.fromkeys((*known.get(meaning, ()), *texts))) if own else texts


def _add_wording(file: Mapped, wording: dict[str, Mapping[str, str]]) -> None:
    """Add sentence patterns of kinds; those of other statuses stay."""
    listed = _mapping(file, "wording")
    for kind in listed:
        if kind not in KINDS:
            raise fault(file.file, listed.key_lines[kind], kind, f"no such kind; known: {', '.join(KINDS)}")
        patterns = _patterns(listed, kind, kind)
        for status, pattern in patterns.items():
            if problem := pattern_problem(status, pattern, placed=True):
                raise fault(file.file, listed[kind].key_lines[status], kind, problem)
        wording[kind] = {**wording.get(kind, {}), **patterns}


def _shapes(file: Mapped) -> tuple[str, ...]:
    """The phrase shapes of a file, each one that can be filled."""
    listed = file.get("phrases") or []
    shapes = _texts(file, listed, "phrases")
    for shape, line in zip(shapes, getattr(listed, "lines", ()), strict=False):
        if problem := shape_problem(shape):
            raise fault(file.file, line, "phrases", problem)
    return shapes


@contextmanager
def _reporting(report: Report) -> Iterator[None]:
    """Hand a fault to report; where that does not raise, go on after it."""
    try:
        yield
    except LexiconError as err:
        report(err)


def _add_listed(file: Mapped, key: str, rooms: Mapping[str, dict[str, Any]], more: Callable[[Any, Mapped, Any], Any]) -> None:
    """Give terms what a file lists for them apart from their entries: {id: [text, ...]}."""
    listed = _mapping(file, key)
    for term, items in listed.items():
        room = next((room for room in rooms.values() if term in room), None)
        if room is None:
            what = f"{key} are listed for an unknown id" if key == "mishearings" else f"{key} names an unknown id"
            raise fault(file.file, listed.key_lines[term], term, f"{what}; correct it, or add an entry of that id")
        room[term] = more(room[term], listed, items)


def _with_mishearings(term: Any, listed: Mapped, items: Any) -> Any:
    more = _texts(listed, items, term.id)
    return replace(term, misheard=tuple(dict.fromkeys((*term.misheard, *more))))


def _with_forms(term: Any, listed: Mapped, items: Any) -> Any:
    if not isinstance(items, list):
        raise fault(listed.file, listed.key_lines[term.id], term.id, "must be a list of texts in quotes")
    forms = [_form(listed, term.id, item, listed.key_lines[term.id]) for item in items]
    known = {form.text.lower() for form in term.spoken}
    return replace(term, spoken=(*term.spoken, *(form for form in forms if form.text.lower() not in known)))


def _mapping(file: Mapped, key: str) -> Mapped:
    """The mapping under a key; an empty one where there is nothing."""
    value = file.get(key)
    if value is None:
        value = Mapped()
        value.file, value.line, value.key_lines = file.file, file.line, {}
    if not isinstance(value, Mapped):
        raise fault(file.file, file.key_lines[key], file.get("id"), f"{key} must be a mapping")
    return value


def _patterns(entry: Mapped, key: str, term: str) -> Mapping[str, str]:
    found = _mapping(entry, key)
    for status, pattern in found.items():
        if not isinstance(pattern, str):
            raise fault(entry.file, found.key_lines[status], term, f"the wording for {status} must be text; put it in quotes")
    return dict(found)


def _said(entry: Mapped, term: str | None) -> dict[str, tuple[str, ...]]:
    """The pronunciations listed under an entry or a file."""
    found = _mapping(entry, "pronunciations")
    out = {}
    for word, ways in found.items():
        out[word] = _texts(found, ways, term or word)
        for phone in (phone for way in out[word] for phone in way.split()):
            if phone not in PHONES:
                raise fault(
                    entry.file, found.key_lines[word], term or word,
                    f"{word} is said with {phone}, which is no phone; known: {' '.join(sorted(PHONES))}",
                )  # fmt: skip
        if not all(way.split() for way in out[word]):
            raise fault(entry.file, found.key_lines[word], term or word, f"{word} has an empty pronunciation; write its phones")
    return out


def _entries(file: Mapped, room: str) -> list[Mapped]:
    entries = file.get(room) or []
    if not isinstance(entries, list) or not all(isinstance(e, Mapped) for e in entries):
        raise fault(file.file, file.key_lines[room], None, f"{room} must be a list of entries")
    return entries


def _known(entry: Mapped, keys: Collection[str], term: str | None) -> None:
    for key in entry:
        if key not in keys:
            raise fault(entry.file, entry.key_lines[key], term, f"unknown key {key}; known: {', '.join(sorted(keys))}")


def _place(entry: Mapped, kind: str) -> Place:
    term = _identity(entry, _PLACE_KEYS)
    digits = _texts(entry, entry.get("digits") or [], term)
    return Place(**_term(entry, term), kind=kind, region=_text(entry, "region", term), digits=digits)


def _concept(entry: Mapped) -> Concept:
    term = _identity(entry, _CONCEPT_KEYS)
    for key in ("kind", "part", "takes", "statuses"):
        if key not in entry:
            raise fault(entry.file, entry.line, term, f"{key} is missing")
    plausible = entry.get("plausible")
    if plausible is not None and not (
        isinstance(plausible, list)
        and len(plausible) == 2
        and all(isinstance(x, (int, float)) and not isinstance(x, bool) for x in plausible)
    ):
        raise fault(entry.file, entry.key_lines["plausible"], term, "plausible must be two numbers, [low, high]")
    texts = ("joint", "digit", "structure", "unit", "why", "counts_for", "means")
    return Concept(
        **_term(entry, term), kind=_needed(entry, "kind", term), part=_needed(entry, "part", term),
        takes=frozenset(_texts(entry, entry["takes"], term, "takes")),
        statuses=_texts(entry, entry["statuses"], term, "statuses"),
        **{key: _text(entry, key, term) for key in texts},
        plausible=(float(plausible[0]), float(plausible[1])) if plausible else None, core=bool(entry.get("core")),
        wording=_patterns(entry, "wording", term),
    )  # fmt: skip


def _text(entry: Mapped, key: str, term: str) -> Any:
    value = entry.get(key)
    if value is not None and not (isinstance(value, str) and value.strip()):
        what = "is empty; write one" if isinstance(value, str) else "must be text; put it in quotes"
        raise fault(entry.file, entry.key_lines[key], term, f"{key} {what}")
    return value


def _needed(entry: Mapped, key: str, term: str) -> str:
    value = _text(entry, key, term)
    if not isinstance(value, str):
        raise fault(entry.file, entry.key_lines[key], term, f"{key} is empty; write one")
    return value


def _identity(entry: Mapped, keys: set[str]) -> str:
    term = entry.get("id")
    if not isinstance(term, str) or not term.isidentifier():
        raise fault(entry.file, entry.line, None, "an entry needs an id of letters, digits and _")
    _known(entry, keys, term)
    if not isinstance(entry.get("preferred"), str):
        raise fault(entry.file, entry.line, term, "preferred is missing, or not in quotes")
    return term


def _term(entry: Mapped, term: str) -> dict[str, Any]:
    spoken = entry.get("spoken") or []
    if not isinstance(spoken, list):
        raise fault(entry.file, entry.key_lines["spoken"], term, "spoken must be a list of texts in quotes")
    forms = [_form(entry, term, item, line) for item, line in zip(spoken, getattr(spoken, "lines", ()), strict=False)]
    forms += [Form(text, observed=True) for text in _texts(entry, entry.get("observed") or [], term, "observed")]
    if not any(form.text.lower() == entry["preferred"].lower() for form in forms):
        forms.insert(0, Form(entry["preferred"]))
    return {
        "id": term, "preferred": entry["preferred"], "spoken": tuple(forms),
        "misheard": _texts(entry, entry.get("misheard") or [], term, "misheard"), "source": _text(entry, "source", term),
        "pronunciations": _said(entry, term),
    }  # fmt: skip


def _form(entry: Mapped, term: str, item: Any, line: int) -> Form:
    if isinstance(item, str):
        return Form(item)
    if not isinstance(item, Mapped) or not isinstance(item.get("form"), str):
        raise fault(entry.file, line, term, "a spoken form must be text; put it in quotes")
    _known(item, FIELD_KEYS | {"form"}, term)
    return Form(item["form"], {key: _needed(item, key, term) for key in item if key != "form"})


def _texts(entry: Mapped, items: Any, term: str, key: str | None = None) -> tuple[str, ...]:
    if not isinstance(items, list) or not all(isinstance(item, str) for item in items):
        line = entry.key_lines.get(key or term, entry.line)
        raise fault(entry.file, line, term, f"{key + ' ' if key else ''}must be a list of texts in quotes")
    return tuple(items)


def _positions(files: list[Mapped]) -> dict[tuple[str, str], tuple[str, int]]:
    """Where each entry, and each of its forms, stands, so that a fault found later can still name file and line."""
    found: dict[tuple[str, str], tuple[str, int]] = {}
    for file in files:
        for room in ("concepts", *ROOMS):
            for entry in file.get(room) or []:
                kind, term = "concept" if room == "concepts" else ROOMS[room], entry["id"]
                found[kind, term] = (entry.file, entry.line)
                for key in ("spoken", "observed"):
                    _place_forms(found, entry.file, entry.get(key), kind, term)
        for term, forms in (file.get("also_spoken") or {}).items():
            for kind in ("concept", *ROOMS.values()):
                if (kind, term) in found:
                    _place_forms(found, file.file, forms, kind, term)
    return found


def _place_forms(found: dict[tuple[str, str], tuple[str, int]], file: str, forms: Any, kind: str, term: str) -> None:
    for item, line in zip(forms or [], getattr(forms, "lines", ()), strict=False):
        text = item.get("form") if isinstance(item, Mapped) else item
        found[kind, f"{term} {text}"] = (file, line)
