"""Statements that say the same of several things become one sentence: "No swelling, erythema or scar on the RIGHT".

Only plain negatives and normals and what was not assessed, of one side and status, without any detail, and only where
the sentence confirmed is the one that the lexicon gives. Never across a side or a status; a positive or a number stays
the sentence that was confirmed, word for word. Pure.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from dictation.lexicon.entries import Lexicon
from dictation.note.document import Sentence
from dictation.note.places import SIDES, lower_first, word_place
from dictation.note.printable import printable
from dictation.note.wording import CLINICAL_WORDS, Words, word_field
from dictation.record import RecordField
from dictation.review.decisions import Decision
from dictation.review.grouping import DETAILS, negative

_APART = {"context", "reported", "impression", "plan"}
_SAME = ("concept", "side", "joint", "structure", "aspect", "status")


@dataclass(frozen=True, slots=True)
class _Said:
    """What one or more fields say, in pieces.

    pattern: with {name} and {place}. digits: those it is said of together. places: of which more than one begin alike, with
    the side.
    """

    pattern: str
    names: tuple[str, ...]
    fields: tuple[RecordField, ...]
    digits: tuple[str, ...] = ()
    places: tuple[str, ...] = ()


def merge_sentences(
    decisions: Sequence[Decision], lexicon: Lexicon, words: Words = CLINICAL_WORDS, errors: Mapping[str, int] | None = None
) -> list[Sentence]:
    """Return the sentences of decisions in their order, a merged one where the first of it stood.

    words: those of the trade, or plain ones (plain.py). errors: what addenda say was entered in error, with their number;
    each of these stands alone, marked, at the end.
    """
    errors = errors or {}
    wrong = [withdrawn(d, lexicon, words, errors) for d in decisions if d.field.id in errors]
    decisions = [d for d in decisions if d.field.id not in errors]
    said = _join([_pieces(decision, lexicon, words) for decision in decisions], _over_digits)
    placed = [
        replace(s, places=(word_place(s.fields[0], lexicon, s.digits, words.places),)) if isinstance(s, _Said) else s
        for s in said
    ]
    merged = _join(_join(placed, _over_names), _over_places)
    return [s if isinstance(s, Sentence) else _sentence(s) for s in merged] + wrong


def withdrawn(decision: Decision, lexicon: Lexicon, words: Words, errors: Mapping[str, int]) -> Sentence:
    """Return the sentence of a statement that was entered in error, marked so, with the number of the addendum."""
    said = _one(decision, lexicon, words, _sayable(decision, lexicon, words))
    return Sentence(f"{words.in_error} (addendum {errors[decision.field.id]}): {said}", (decision.field.id,))


BY_HAND, BY_HAND_PLAINLY = " (added by hand)", " (written in by the clinician)"
"""How a statement is marked that nobody dictated; to a patient with a bad hand the first would speak of an operation."""


def confirmed(decision: Decision, by_hand: str = BY_HAND) -> str:
    """Return the sentence that was confirmed, with its full stop, marked where it was added by hand."""
    return f"{printable(decision.sentence or '')}{by_hand if decision.added else ''}."


def unchanged(decision: Decision, lexicon: Lexicon) -> bool:
    """Return whether the sentence confirmed is still the one that the lexicon gives, so that it may be said otherwise."""
    return decision.sentence == word_field(decision.field, lexicon)


def _pieces(decision: Decision, lexicon: Lexicon, words: Words) -> _Said | Sentence:
    """Take a plain negative apart; any other statement stays as it was confirmed."""
    field, concept = decision.field, lexicon.concepts.get(decision.field.concept)
    same = _sayable(decision, lexicon, words)
    whole = Sentence(_one(decision, lexicon, words, same), (field.id,))
    ordinary = negative(field, lexicon) or field.status == "not_assessed"
    if concept is None or decision.added or not ordinary or field.part in _APART or not same:
        return whole
    if field.mode is not None or any(getattr(field, key) is not None for key in DETAILS):
        return whole
    pattern = words.patterns(concept, lexicon).get(field.status or "", "")
    if pattern.count("{name}") != 1 or not pattern.endswith("{place}") or pattern.count("{") != 2:
        return whole
    return _Said(pattern, (words.name(concept),), (field,), (field.digit,) if field.digit and not concept.digit else ())


def _sayable(decision: Decision, lexicon: Lexicon, words: Words) -> bool:
    """Whether the statement may be said in these words rather than in those confirmed."""
    concept = lexicon.concepts.get(decision.field.concept)
    return concept is not None and words.know(concept) and unchanged(decision, lexicon)


def _one(decision: Decision, lexicon: Lexicon, words: Words, sayable: bool) -> str:
    """One statement by itself; sayable: in these words."""
    if not words.plain:
        return confirmed(decision)
    if not sayable:
        return f"In clinical words: {confirmed(decision, BY_HAND_PLAINLY)}"
    line = word_field(decision.field, lexicon, words)
    return f"{line}{BY_HAND_PLAINLY if decision.added else ''}."


def _join(said: Sequence[_Said | Sentence], both: Callable[[_Said, _Said], _Said | None]) -> list[_Said | Sentence]:
    """Join each with the first before it that both() can join it to."""
    out: list[_Said | Sentence] = []
    for one in said:
        for at, other in enumerate(out):
            if isinstance(one, _Said) and isinstance(other, _Said) and (joined := both(other, one)):
                out[at] = joined
                break
        else:
            out.append(one)
    return out


def _over_digits(one: _Said, other: _Said) -> _Said | None:
    """Both as one where they differ in the digit alone: "at the RIGHT index, middle and ring finger PIP joints"."""
    first, second = one.fields[0], other.fields[0]
    if not one.digits or not other.digits or set(one.digits) & set(other.digits) or first.structure is not None:
        return None
    if any(getattr(first, key) != getattr(second, key) for key in _SAME):
        return None
    return replace(one, fields=(*one.fields, *other.fields), digits=(*one.digits, *other.digits))


def _over_names(one: _Said, other: _Said) -> _Said | None:
    """Both as one where they differ in what is spoken of alone: "No swelling or scar on the RIGHT"."""
    first, second = one.fields[0], other.fields[0]
    if (one.pattern, one.places, first.side, first.status) != (other.pattern, other.places, second.side, second.status):
        return None
    if set(one.names) & set(other.names):
        return None
    return replace(one, names=(*one.names, *other.names), fields=(*one.fields, *other.fields))


def _over_places(one: _Said, other: _Said) -> _Said | None:
    """Both as one where they differ in the place alone: "No tenderness at the RIGHT lunate or anatomical snuffbox"."""
    first, second = one.fields[0], other.fields[0]
    if (one.pattern, one.names, first.side, first.status) != (other.pattern, other.names, second.side, second.status):
        return None
    begins = f" at the {SIDES.get(first.side or '')} "
    if not all(place.startswith(begins) for place in (*one.places, *other.places)) or set(one.places) & set(other.places):
        return None
    return replace(one, fields=(*one.fields, *other.fields), places=(*one.places, *other.places))


def _sentence(said: _Said) -> Sentence:
    inside = not said.pattern.startswith("{name}")
    names = [name if at == 0 and not inside else lower_first(name) for at, name in enumerate(said.names)]
    last = "or" if said.pattern.startswith("No ") else "and"
    begins = f" at the {SIDES.get(said.fields[0].side or '')} "
    place = listed([said.places[0], *(place.removeprefix(begins) for place in said.places[1:])], last)
    text = said.pattern.format(name=listed(names, last), place=place).strip()
    return Sentence(f"{text[:1].upper()}{text[1:]}.", tuple(field.id for field in said.fields))


def listed(words: Sequence[str], last: str) -> str:
    """Return words as a list in a sentence.

    >>> listed(["swelling", "erythema", "scar"], "or")
    'swelling, erythema or scar'
    """
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {last} {words[-1]}"
