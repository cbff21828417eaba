"""Nothing in a note that is not in the signed record, and nothing of the record missing, whatever its length."""

from __future__ import annotations

import re
from typing import get_args

from exported import signed, statements
from hypothesis import given, settings
from hypothesis import strategies as st
from scripted import SHIPPED, Script

from dictation.note.document import LENGTHS, Document, Facts, Heading, Length, Sentence, Table, sentences_of
from dictation.note.numbers import number
from dictation.note.options import NoteOptions
from dictation.note.plain import MODES
from dictation.note.templating import note_document
from dictation.record import RecordField

_NUMBER = re.compile(r"\d+(?:\.\d+)?")


def test_the_lengths_are_those_of_their_type() -> None:
    assert get_args(Length) == LENGTHS


def _sides(text: str) -> set[str]:
    return {side.lower() for side in re.findall(r"\bRIGHT\b|\bLEFT\b", text)}


def _spoken(field: RecordField) -> set[str]:
    """The numbers that a sentence of a field may hold: its own, and those in the names of what it is about."""
    concept = SHIPPED.concepts[field.concept]
    said = {number(abs(n)) for n in (field.value, field.low, field.high) if n is not None}
    top = {number(concept.plausible[1])} if field.unit == "{score}" and concept.plausible else set()
    plain = SHIPPED.plain["names"][field.concept]
    names = " ".join([concept.preferred, *concept.wording.values(), plain])
    return said | top | set(_NUMBER.findall(names))


def check_true(document: Document, fields: dict[str, RecordField]) -> None:
    """Assert that each sentence holds the sides and numbers of the fields it names, and no other."""
    named: set[str] = set()
    for block in document.blocks:
        cells: list[tuple[str, Sentence]] = [("", sentence) for sentence in sentences_of(block)]
        if isinstance(block, Table):
            cells = [(block.head[at], cell) for row in block.rows for at, cell in enumerate(row) if at]
        for head, sentence in cells:
            mine = [fields[name] for name in sentence.fields]
            named |= set(sentence.fields)
            if not mine:
                assert not _sides(sentence.text), sentence
                continue
            assert _sides(f"{head} {sentence.text}") == {field.side for field in mine}, sentence
            allowed = set().union(*map(_spoken, mine))
            text = re.sub(r" \[f[\d, f]*\]", "", sentence.text)
            assert set(_NUMBER.findall(text)) <= allowed, (sentence, allowed)
            for field in mine:
                for n in (field.value, field.low, field.high):
                    assert n is None or number(abs(n)) in _NUMBER.findall(text), sentence
                assert field.severity is None or field.severity in sentence.text.lower()
                said = [mode for mode in (field.mode, MODES.get(field.mode or "")) if mode and mode in sentence.text.lower()]
                assert field.mode is None or said, sentence
        if isinstance(block, Heading):
            assert not _sides(block.text)
    assert named == set(fields)
    assert sum(isinstance(block, Facts) for block in document.blocks) == 1


@settings(deadline=None, max_examples=40)
@given(statements(), st.sets(st.integers(0, 13), max_size=4), st.sampled_from(LENGTHS), st.booleans())
def test_every_number_and_side_in_a_note_is_in_the_signed_record(
    script: Script, rejected: set[int], length: Length, name_fields: bool
) -> None:
    record = signed(script, rejected)
    document = note_document(record, SHIPPED, NoteOptions(length=length, name_fields=name_fields))
    check_true(document, {decision.field.id: decision.field for decision in record.complete.kept})


@settings(deadline=None, max_examples=40)
@given(statements())
def test_what_is_said_together_is_of_one_side_and_one_status(script: Script) -> None:
    record = signed(script)
    fields = {decision.field.id: decision.field for decision in record.complete.kept}
    for length in LENGTHS:
        document = note_document(record, SHIPPED, NoteOptions(length=length))
        for block in document.blocks:
            if not isinstance(block, Table):
                for sentence in sentences_of(block):
                    together = [fields[name] for name in sentence.fields]
                    assert len({(field.side, field.status, field.severity, field.mode) for field in together}) <= 1
                    assert len(together) < 2 or all(field.value is None for field in together)
