"""The doubts that show only when a field is seen beside the others, and its confidence.

Adds flags and confidence; never edits a value. Plausible range, repeats, contradictions, low recognition, corrected
terms. What goes in: fields, the corrected transcript, the lexicon. What comes out: the fields that remain.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby

from dictation.confidence import CHECK_BELOW, heard_confidence, support, typed_confidence
from dictation.contradictions import SAME, find_contradictions, said_by
from dictation.deciding import SIDES, deciding_words, plain
from dictation.lexicon.entries import Lexicon
from dictation.lexicon.spoken_numbers import ONES, TENS
from dictation.measurement.tables import normal_ranges
from dictation.record import Flag, FlagCode, RecordField, Sound
from dictation.surroundings import (
    amid_the_examination,
    hardly_heard_after,
    hardly_heard_before,
    place_not_understood,
    side_may_have_changed,
    words_used,
)
from dictation.transcript import CorrectedTranscript, CorrectedWord, Word
from dictation.units import in_unit

LOW_PROBABILITY = 0.8
"""Below this a word is in doubt: a side or a "no" asks to be checked by itself, another is named where the field asks.
Chosen on our synthetic voices (tests/benchmarks)."""
VERY_LOW_PROBABILITY = 0.7
"""Below this any word that decides a statement asks to be checked by itself; chosen as the last."""
NEAR_CERTAIN = 0.08
"""Sound distance up to which a corrected term is taken as near certain."""
SAYS = ("status", "value", "low", "high", "unit", "comparator", "grade_sign", "severity", "certainty")


def check_fields(
    fields: Sequence[RecordField], transcript: CorrectedTranscript, lexicon: Lexicon, sound: Sound | None = None
) -> list[RecordField]:
    """Return the fields with their flags; agreeing repeats become one field. sound: what the recording is like."""
    out = _repeats(fields)
    for f, message in find_contradictions(out, lexicon):
        _flag(f, FlagCode.contradiction, "check", message)
    altered = (c for c in transcript.corrected if c.reason or c.runner_up)
    changed = [_as_one(list(words)) for _, words in groupby(altered, key=lambda c: c.from_)]
    used = words_used(out)
    for f in amid_the_examination(out, transcript):
        _flag(f, FlagCode.low_recognition, "check", f'"{said_by(f)}" is a plan in the midst of the examination; was it said?')
    for f in out:
        _range(f, lexicon)
        _teens(f, transcript)
        _perhaps_no(f, transcript)
        _surroundings(f, used, transcript)
        _corrected(f, transcript, changed)
        _heard(f, transcript, sound)
        if sound is not None and sound.poor and not f.checked():
            _flag(
                f,
                FlagCode.low_recognition,
                "check",
                f'The whole recording is too poor to trust its words, "{said_by(f)}" among them.',
            )
    return out


def _flag(f: RecordField, code: FlagCode, level: str, message: str) -> None:
    known = next((flag for flag in f.flags if flag.code == code), None)
    if known is None:
        f.flags.append(Flag(code=code, level=level, message=message))  # type: ignore[arg-type]
    elif known.level == "info" and level == "check":
        f.flags[f.flags.index(known)] = Flag(code=code, level="check", message=message)


def _identity(f: RecordField) -> tuple[object, ...]:
    return tuple(getattr(f, key) for key in SAME)


def _repeats(fields: Sequence[RecordField]) -> list[RecordField]:
    out: list[RecordField] = []
    at: dict[tuple[object, ...], RecordField] = {}
    seen: dict[str, set[tuple[str, tuple[int, int]]]] = {}
    for f in fields:
        key = (*_identity(f), *(getattr(f, k) for k in SAYS))
        first = at.get(key)
        if first is None:
            at[key] = f
            out.append(f)
            continue
        if first.evidence[0].words != f.evidence[0].words:
            if first.id not in seen:
                seen[first.id] = {(e.role, e.words) for e in first.evidence}
            known = seen[first.id]
            first.evidence += [e for e in f.evidence if (e.role, e.words) not in known]
            known |= {(e.role, e.words) for e in f.evidence}
            _flag(first, FlagCode.repeated, "info", f'"{said_by(first)}" was said again, in agreement: "{said_by(f)}".')
            if not f.checked():
                first.flags = [g for g in first.flags if g.code not in {FlagCode.side_carried, FlagCode.side_missing}]
    return out


def _range(f: RecordField, lexicon: Lexicon) -> None:
    concept = lexicon.concepts[f.concept]
    if concept.plausible is None:
        return
    low, high = concept.plausible
    for number in (f.value, f.low, f.high):
        if number is not None and not low <= in_unit(number, f.unit, concept.unit) <= high:
            _flag(
                f,
                FlagCode.out_of_range,
                "check",
                f'{number:g} in "{said_by(f)}" is outside what is plausible there ({low:g} to {high:g} {concept.unit}).',
            )


def _heard(f: RecordField, transcript: CorrectedTranscript, sound: Sound | None) -> None:
    """Set the field's confidence. One from sound that falls short of CHECK_BELOW asks to be checked, and names the words in
    doubt; a side and a "no" cost most when misheard, and are short: each asks by itself.
    """
    heard = transcript.heard
    found = support(f, heard, None if sound is None else sound.over_noise_db)
    if found is None:
        f.confidence = typed_confidence([flag.level for flag in f.flags])
        return
    f.confidence = heard_confidence(found)
    words = [heard.words[k] for k in deciding_words(f, heard)] or list(heard.words[slice(*f.evidence[0].words)])
    doubtful = [word for word in words if _doubtful(word)]
    if f.confidence >= CHECK_BELOW:
        _doubt(f, [word for word in doubtful if plain(word.said) in SIDES | NO or _sureness(word) < VERY_LOW_PROBABILITY])
    else:
        _doubt(f, doubtful if doubtful or f.checked() else [min(words, key=_sureness)])


def _doubt(f: RecordField, words: Sequence[Word]) -> None:
    if words:
        named = ", ".join(dict.fromkeys(_or_rival(word) for word in words[:4]))
        _flag(f, FlagCode.low_recognition, "check", f"Heard with doubt: {named}.")


def _sureness(word: Word) -> float:
    return 1.0 if word.probability is None else word.probability


def _doubtful(word: Word) -> bool:
    return _sureness(word) < LOW_PROBABILITY


def _or_rival(word: Word) -> str:
    return f'"{word.said}"' if word.rival is None else f'"{word.said}" or "{word.rival}"'


def _surroundings(f: RecordField, used: frozenset[int], transcript: CorrectedTranscript) -> None:
    after = place_not_understood(f, used, transcript) or hardly_heard_after(f, transcript)
    if after:
        _flag(f, FlagCode.low_recognition, "check", f'What follows was not understood: "{after}".')
    if before := hardly_heard_before(f, used, transcript):
        _flag(f, FlagCode.low_recognition, "check", f'What came before was not understood: "{before}".')
    if side_may_have_changed(f, transcript):
        _flag(
            f,
            FlagCode.side_carried,
            "check",
            f'Not all was understood between the words that named the side and "{said_by(f)}"; it may have changed.',
        )


_PAIRS = [(f"{stem}teen", f"{stem}ty") for stem in ("six", "seven", "nine")] + [
    ("thirteen", "thirty"), ("fourteen", "forty"), ("fifteen", "fifty"), ("eighteen", "eighty"),
]  # fmt: skip
TEENS = dict(_PAIRS) | {b: a for a, b in _PAIRS}
SURE_OF_TEEN = 0.93
"""Above this a teen or a ten is taken as heard; chosen on our synthetic voices (tests/benchmarks)."""
SURE_OF_NUMBER = 0.97
"""Above this a number is taken as heard although the next best hearing has another in its place; chosen by us, no source."""
NO = frozenset({"no", "not", "none", "without", "nor", "never", "absent", "negative"})
LIKE_NO = frozenset({"now", "know", "knows", "nor", "know's"})
SURE_OF_NO = 0.97
"""Above this a word that sounds like "no" is taken as heard; chosen by us, no source."""


def _perhaps_no(f: RecordField, transcript: CorrectedTranscript) -> None:
    """ "Now swelling" may have been "no swelling": on sound, such a word before a finding asks to be checked."""
    if f.status in {"absent", "negative"}:
        return
    for e in f.evidence:
        i, j = e.words
        for word in transcript.heard.words[max(0, i - 1) : j] if e.role == "statement" else ():
            doubtful = word.probability is not None and word.probability < SURE_OF_NO
            if doubtful and plain(word.said) in LIKE_NO:
                _flag(f, FlagCode.low_recognition, "check", f'"{word.said}" may have been "no".')


NUMBER_WORDS = frozenset({*ONES, *TENS, "hundred"})


def _other_number(word: Word) -> str | None:
    """The number that a number word may have been instead, None where it was heard surely enough."""
    said, sure = plain(word.said), word.probability
    if sure is None or said not in NUMBER_WORDS:
        return None
    heard = word.rival if word.rival in NUMBER_WORDS and sure < SURE_OF_NUMBER else None
    return heard or (TEENS.get(said) if sure < SURE_OF_TEEN else None)


def _teens(f: RecordField, transcript: CorrectedTranscript) -> None:
    """Fifteen and fifty sound alike: on sound, such a number asks to be checked unless it was heard very surely."""
    if f.value is None and f.low is None:
        return
    for e in f.evidence:
        for word in transcript.heard.words[slice(*e.words)] if e.role == "statement" else ():
            if rival := _other_number(word):
                _flag(f, FlagCode.number_unclear, "check", f'"{word.said}" may have been "{rival}".')
            elif rival := _likelier_number(f, word):
                message = f'"{word.said}" is more than any published normal, and sounds like "{rival}".'
                _flag(f, FlagCode.number_unclear, "check", message)


def _likelier_number(f: RecordField, word: Word) -> str | None:
    """The number that sounds alike and is within the published normals of a movement, where the one heard is beyond them."""
    said = plain(word.said)
    rival = TEENS.get(said)
    if rival not in ONES or word.probability is None or f.value is None or f.value != 10 * TENS.index(said):
        return None
    normals = normal_ranges(f.concept, "thumb" if f.digit == "thumb" else "fingers" if f.digit else "")
    most = max((degrees for degrees, _ in normals.values()), default=None)
    return rival if most is not None and f.value > most >= ONES.index(rival) else None


def _as_one(words: Sequence[CorrectedWord]) -> CorrectedWord:
    """Words that stand for one stretch together, as one."""
    return replace(words[0], text=" ".join(word.text for word in words))


def _corrected(f: RecordField, transcript: CorrectedTranscript, changed: Sequence[CorrectedWord]) -> None:
    """changed: the corrected words that differ from those heard, or nearly do, in order."""
    met: dict[int, CorrectedWord] = {}
    for i, j in (e.words for e in f.evidence):
        first = bisect_right(changed, i, key=lambda c: c.from_[1])
        for k in range(first, bisect_left(changed, j, key=lambda c: c.from_[0])):
            met[k] = changed[k]
    for c in (met[k] for k in sorted(met)):
        heard = " ".join(w.said for w in transcript.heard.words[c.from_[0] : c.from_[1]])
        if c.reason is None:
            _flag(f, FlagCode.low_recognition, "check", f'Near "{heard}" may have been said "{c.runner_up}".')
            continue
        level = "info" if c.distance is not None and c.distance <= NEAR_CERTAIN and not c.runner_up else "check"
        rival = f", or {c.runner_up}" if c.runner_up else ""
        _flag(f, FlagCode.term_corrected, level, f'Heard as "{heard}", read as "{c.text.strip(".,;:")}"{rival}.')
