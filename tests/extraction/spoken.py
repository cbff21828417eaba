"""What a phrase comes to, in one short line a field, so that a test states the whole set of fields.

``facts("Left wrist not swollen.")`` gives ``["swelling left wrist absent"]``: concept, then every key that is set, in the
order of the record, numbers with their unit. Flags are asked for apart.
"""

from __future__ import annotations

from functools import lru_cache

from dictation import draft_from_text
from dictation.extraction.matching import TermMatcher
from dictation.extraction.numbers import Reading, find_numbers
from dictation.extraction.tokens import Token, tokenise
from dictation.lexicon.loading import load_lexicon
from dictation.record import DraftRecord, RecordField
from dictation.transcript import CorrectedTranscript, CorrectedWord, read_text

PLACE = ("side", "digit", "joint", "structure", "aspect")
REST = ("severity", "certainty", "mode")


@lru_cache(maxsize=1)
def _matcher() -> TermMatcher:
    return TermMatcher(load_lexicon())


@lru_cache(maxsize=4096)
def draft(text: str) -> DraftRecord:
    """Return the draft of a phrase."""
    return draft_from_text(text)


def facts(text: str) -> list[str]:
    """Return one line a field, in the order spoken."""
    return [fact(field) for field in draft(text).fields]


def flags(text: str) -> list[str]:
    """Return "code level" of every flag of every field, sorted."""
    return sorted(f"{flag.code} {flag.level}" for field in draft(text).fields for flag in field.flags)


def unplaced(text: str) -> list[tuple[str, str]]:
    """Return the speech that looks clinical and became no field, with the reason."""
    return [(u.text, u.reason) for u in draft(text).unplaced]


def fact(field: RecordField) -> str:
    """Return a field as one line."""
    said = [field.concept, *(value for key in PLACE if (value := getattr(field, key)))]
    if field.status:
        said.append(field.status)
    if field.value is not None:
        said.append(f"{field.comparator or ''}{field.value:g}{field.grade_sign or ''}")
    if field.low is not None:
        said.append(f"{field.low:g}..{field.high:g}")
    said += [value for key in ("unit", *REST) if (value := getattr(field, key))]
    if field.trial is not None:
        said.append(f"trial={field.trial}")
    if field.position:
        said.append(f"@{field.position}")
    return " ".join(said)


def corrected(text: str) -> CorrectedTranscript:
    """Return typed words as they stand, without any correction."""
    heard = read_text(text)
    return CorrectedTranscript(heard, tuple(CorrectedWord(w.said, (i, i + 1)) for i, w in enumerate(heard.words)))


def tokens(text: str) -> list[Token]:
    """Return the tokens of typed words."""
    matcher = _matcher()
    return tokenise(corrected(text), matcher.variants, matcher.spelled)


def readings(text: str) -> list[Reading]:
    """Return the numbers in typed words."""
    return find_numbers(tokens(text), load_lexicon().language)
