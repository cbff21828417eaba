"""The table of formats: whole, in step with the command, and each carrying checksum, head, demonstration, addenda."""

from __future__ import annotations

from pathlib import Path

import pytest
from exported import signed_examination
from scripted import LEXICON

from dictation.cli_review import FORMAT_NAMES, LENGTHS
from dictation.errors import RecordError
from dictation.exports.formats import FORMATS, file_name
from dictation.note import document
from dictation.note.options import NoteOptions


def test_the_command_offers_every_format_and_length() -> None:
    assert tuple(FORMATS) == FORMAT_NAMES
    assert document.LENGTHS == LENGTHS


@pytest.mark.parametrize("name", FORMATS)
def test_a_record_changed_after_signing_is_exported_in_no_format(name: str, tmp_path: Path) -> None:
    record = signed_examination(tmp_path)
    record.complete.decisions[5].field.value = 54.0
    with pytest.raises(RecordError):
        FORMATS[name].write(record, LEXICON, NoteOptions())


@pytest.mark.parametrize("name", FORMATS)
def test_the_same_record_gives_the_same_bytes(name: str, tmp_path: Path) -> None:
    record = signed_examination(tmp_path)
    assert FORMATS[name].write(record, LEXICON, NoteOptions()) == FORMATS[name].write(record, LEXICON, NoteOptions())


def test_a_file_s_name_holds_the_reference_and_nothing_that_acts_on_a_path(tmp_path: Path) -> None:
    record = signed_examination(tmp_path)
    assert file_name(record, FORMATS["text"], NoteOptions(length="letter")) == "H-2041.letter.txt"
    assert file_name(record, FORMATS["csv"], NoteOptions()) == "H-2041.csv"
    object.__setattr__(record.complete, "reference", "../a b/c")
    assert file_name(record, FORMATS["csv"], NoteOptions()) == "..-a-b-c.csv"
