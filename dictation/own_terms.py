"""A clinic's own terms, added to its own file: checked with the whole lexicon first, then written whole or not at all.

What goes in: what was typed. What comes out: the lexicon with the term in it. Imports lexicon, writing and errors.
"""

from __future__ import annotations

import re
import stat
import unicodedata
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from dictation.errors import LexiconError, OutputError
from dictation.lexicon.appending import NewTerm, parse_or_empty, with_forms, with_term
from dictation.lexicon.checking import form_key
from dictation.lexicon.entries import Concept, Lexicon, Place, Term
from dictation.lexicon.loading import faults_with, load_lexicon
from dictation.lexicon.reading import Content, read_content
from dictation.writing import make_folder, write_whole

PLACE_KIND = "structure"
"""The one kind of place that can be added: digits, joints and aspects are fixed by the record."""
T = TypeVar("T")
HEAD = "# A clinic's own terms, in the format of the lexicon's README. Check it with: dictation lexicon check\n"


def id_of(preferred: str) -> str:
    """Return the id made from a name.

    >>> id_of("Dubois' café-test, 2nd")
    'dubois_cafe_test_2nd'
    """
    plain = "".join(c for c in unicodedata.normalize("NFKD", preferred) if not unicodedata.combining(c))
    name = re.sub(r"[^a-z0-9]+", "_", plain.lower().replace("'", "").replace("’", "")).strip("_")
    return f"t_{name}" if name[:1].isdigit() else name


def completed(term: NewTerm, lexicon: Lexicon) -> NewTerm:
    """Return a concept with what was left out filled in as most concepts of its kind have it: part, takes, statuses."""
    kin = [concept for concept in lexicon.concepts.values() if concept.kind == term.kind]
    if term.kind == PLACE_KIND or not kin:
        return term
    return replace(
        term,
        part=term.part or _commonest(kin, lambda c: c.part),
        takes=term.takes or tuple(sorted(_commonest(kin, lambda c: c.takes - {"joint", "structure"}))),
        statuses=term.statuses or _commonest(kin, lambda c: c.statuses),
    )


def _commonest(kin: list[Concept], of: Callable[[Concept], T]) -> T:
    return Counter(map(of, kin)).most_common(1)[0][0]


def term_of(lexicon: Lexicon, name: str) -> Term | None:
    """Return the concept or place with an id."""
    return next((term for term in lexicon.terms() if term.id == name), None)


def add_term(path: Path, term: NewTerm, in_use: Path | None) -> Term:
    """Add a term to a clinic's own file and return it. in_use: the file in use now. Raises as add_to."""
    known = load_lexicon(in_use if in_use is not None and in_use.exists() else None)
    kinds = sorted({concept.kind for concept in known.concepts.values()} | {PLACE_KIND})
    if term.kind not in kinds:
        raise LexiconError(f"Nothing was added. There is no kind {term.kind}; known: {', '.join(kinds)}.")
    term = completed(replace(term, id=term.id or id_of(term.preferred)), known)
    if term_of(known, term.id) is not None:
        raise LexiconError(
            f"Nothing was added. A term of the id {term.id} is there already; use --to {term.id}, or choose an --id."
        )
    return _term_in(add_to(path, lambda content: with_term(content, term)), term.id)


def add_forms(
    path: Path,
    name: str,
    spoken: Sequence[str],
    misheard: Sequence[str],
    said: Mapping[str, tuple[str, ...]],
    in_use: Path | None,
) -> Term:
    """Add ways of saying a term, shipped or own, to a clinic's own file, and return it. Raises as add_to."""
    known = load_lexicon(in_use if in_use is not None and in_use.exists() else None)
    term = term_of(known, name)
    if term is None:
        raise LexiconError(f"Nothing was added. There is no term of the id {name}; dictation lexicon list shows them.")
    have = {form_key(form.text) for form in term.spoken}
    if again := [form for form in spoken if form_key(form) in have]:
        raise LexiconError(f"Nothing was added. {term.preferred} is said {again[0]!r} already.")
    return _term_in(add_to(path, lambda content: with_forms(content, name, spoken, misheard, said)), name)


def _term_in(lexicon: Lexicon, name: str) -> Term:
    term = term_of(lexicon, name)
    if term is None:
        raise LexiconError(f"The term {name} was written and is not in the lexicon; check the file.")
    return term


def add_to(path: Path, change: Callable[[Content], Content]) -> Lexicon:
    """Change a clinic's own file and return the lexicon with it; the file is made where there is none.

    Raises LexiconError, with the file as it was, where it has a fault or would have one; OutputError.
    """
    path = path.resolve()
    there = path.exists()
    content = read_content(path) if there else Content(path.name, HEAD.encode())
    if parse_or_empty(content):
        _refuse(content, "Nothing was added, for the file has a fault already")
    changed = change(content)
    _refuse(changed, "Nothing was added")
    make_folder(path.parent)
    if there and read_content(path) != content:
        raise OutputError(f"{path} was changed by something else meanwhile; run the command again.")
    mode = stat.S_IMODE(path.stat().st_mode) if there else 0o600
    write_whole(path, changed.data.decode("utf-8"), mode=mode)
    return load_lexicon(path)


def _refuse(content: Content, why: str) -> None:
    if faults := faults_with(content):
        raise LexiconError(f"{why}. {faults[0]}")


def listed_terms(
    own_file: Path | None, cache: Path | None, *, text: str = "", part: str | None = None, kind: str | None = None,
    own: bool = False,
) -> list[tuple[str, str, str, str, str]]:  # fmt: skip
    """Return (id, name, kind, part, how many ways it is said) of the terms asked for, in the lexicon's order.

    own: only those that a clinic's own file adds or changes. part and kind: exactly; text: anywhere in what is said.
    """
    lexicon = load_lexicon(own_file, cache=cache)
    shipped = {(type(term), term.id): term for term in load_lexicon(cache=cache).terms()} if own else {}
    wanted = text.casefold()
    rows = []
    for term in lexicon.terms():
        its_kind = term.kind if isinstance(term, Concept | Place) else ""
        its_part = term.part if isinstance(term, Concept) else "-"
        said = (term.id, term.preferred, *(form.text for form in term.spoken))
        if (
            (not part or part == its_part)
            and (not kind or kind == its_kind)
            and (not own or shipped.get((type(term), term.id)) != term)
            and any(wanted in one.casefold() for one in said)
        ):
            ways = len(term.spoken)
            rows.append((term.id, term.preferred, its_kind, its_part, f"{ways} way{'' if ways == 1 else 's'}"))
    return rows
