"""What was hardly heard is shown as unplaced speech; what was heard well stays a statement, whatever else is doubtful in it."""

from __future__ import annotations

import pytest

from dictation.hardly_heard import REASON
from dictation.lexicon.loading import load_lexicon
from dictation.pipeline import draft
from dictation.record import DraftRecord, FlagCode, Sound, Source
from dictation.transcript import Transcript, Word

SOURCE = Source(name="", sha256="", duration_s=9.0, recogniser="embedded", model=None, program_version="", lexicon_version="")


def drafted(said: str, sure: float | None, over_noise_db: float | None = None) -> DraftRecord:
    """The draft of words as a recogniser gives them, each of one probability; | is a pause."""
    words, breaks = list[Word](), {0}
    for word in said.split():
        if word == "|":
            breaks.add(len(words))
        else:
            words.append(Word(word, len(words) * 0.5, len(words) * 0.5 + 0.4, sure))
    source = SOURCE.model_copy()
    if over_noise_db is not None:
        source.sound = Sound(
            speech_share=0.5, level_db=-20, clipped_share=0, noise_db=-20 - over_noise_db, over_noise_db=over_noise_db,
            poor=False, warnings=[],
        )  # fmt: skip
    return draft(Transcript(tuple(words), frozenset(breaks)), source, load_lexicon())


def test_what_was_hardly_heard_is_no_statement_and_its_words_are_shown_with_their_time() -> None:
    record = drafted("left wrist swollen", 0.5)
    assert record.fields == []
    (left,) = record.unplaced
    assert (left.text, left.start, left.end, left.reason) == ("left wrist swollen", 0.0, 1.4, REASON)


@pytest.mark.parametrize(("sure", "fields"), [(0.6, 0), (0.9, 1), (None, 1)])
def test_typed_words_and_words_heard_well_are_statements(sure: float | None, fields: int) -> None:
    record = drafted("left wrist swollen", sure)
    assert len(record.fields) == fields
    assert len(record.unplaced) == 1 - fields


def test_the_same_words_are_trusted_less_in_loud_noise() -> None:
    assert [len(drafted("left wrist swollen", 0.75, db).fields) for db in (40, 2)] == [1, 0]


def test_what_is_doubtful_for_another_reason_is_asked_about_and_stays() -> None:
    (field,) = drafted("wrist extension twenty", 0.98).fields
    assert {flag.code for flag in field.flags if flag.level == "check"} >= {FlagCode.side_missing}


def test_statements_of_one_stretch_are_shown_once() -> None:
    record = drafted("left index and middle fingers swollen", 0.5)
    assert record.fields == []
    assert len({(u.start, u.end) for u in record.unplaced}) == len(record.unplaced) >= 1
