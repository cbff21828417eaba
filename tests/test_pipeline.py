"""The order of the steps: what goes into a draft from text and from sound, and that nothing is lost between."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest

from dictation import __version__, draft_from_text
from dictation.lexicon.loading import load_lexicon
from dictation.pipeline import draft, draft_text
from dictation.record import Source
from dictation.transcript import Transcript, Unread, Word

LEXICON = load_lexicon()
TEXT = "Left wrist swollen. Right hand felons test positive."
SOURCE = Source(
    name="invented.wav", sha256="0", duration_s=4.0, recogniser="scripted", model="none", program_version="0",
    lexicon_version="0",
)  # fmt: skip


def test_the_source_of_a_text_names_what_it_was_drafted_with() -> None:
    record = draft_text(TEXT, name="one.txt")
    assert record.source == Source(
        name="one.txt", sha256=hashlib.sha256(TEXT.encode()).hexdigest(), duration_s=None, recogniser="text", model=None,
        program_version=__version__, lexicon_version=LEXICON.version, lexicon_sha256=LEXICON.checksum,
        personal_lexicon_sha256=None,
    )  # fmt: skip


def test_the_transcript_keeps_the_words_heard_beside_those_corrected() -> None:
    transcript = draft_from_text(TEXT).transcript
    assert [w.said for w in transcript.words] == TEXT.split()
    changed = [c for c in transcript.corrected if c.reason]
    assert {transcript.words[i].said for c in changed for i in range(*c.from_)} >= {"felons"}


def test_every_heard_word_is_accounted_for_by_the_corrected_ones() -> None:
    transcript = draft_from_text(TEXT).transcript
    assert {i for c in transcript.corrected for i in range(*c.from_)} == set(range(len(transcript.words)))


def test_a_field_found_through_a_correction_says_both() -> None:
    field = draft_from_text(TEXT).fields[-1]
    assert field.concept == "phalen_test"
    assert "felons" in field.evidence[0].said
    assert "felons" not in field.evidence[0].corrected


def test_times_of_words_become_times_of_fields() -> None:
    words = tuple(Word(w, float(i), i + 0.5, 0.9) for i, w in enumerate("Left wrist swollen.".split()))
    (field,) = draft(Transcript(words), SOURCE, LEXICON).fields
    assert (field.evidence[0].start, field.evidence[0].end) == (0.0, 2.5)


def test_sound_that_could_not_be_read_is_unplaced_and_stands_where_it_was() -> None:
    words = tuple(Word(w, 10.0 + i, 10.5 + i, 0.9) for i, w in enumerate("Hold your left wrist straight.".split()))
    unread = (Unread(2.0, 4.0, "(mumbled)", "could not be read"),)
    unplaced = draft(Transcript(words, unread=unread), SOURCE, LEXICON).unplaced
    assert [(u.start, u.reason) for u in unplaced] == [(2.0, "could not be read"), (10.0, "a command to the patient")]


def test_a_pause_ends_a_sentence() -> None:
    said = "no swelling left wrist tender".split()
    words = tuple(Word(w, float(i), i + 0.5, 0.9) for i, w in enumerate(said))
    record = draft(Transcript(words, breaks=frozenset({2})), SOURCE, LEXICON)
    assert {f.concept: f.status for f in record.fields} == {"swelling": "absent", "tenderness": "present"}


def test_the_second_reading_is_kept() -> None:
    words = (Word("Left", 0.0, 0.5, 0.9), Word("wrist", 0.5, 1.0, 0.9), Word("swollen.", 1.0, 1.5, 0.9))
    record = draft(Transcript(words, second_reading=(Word("left", 0.0, 0.5),)), SOURCE, LEXICON)
    assert [(w.said, w.start) for w in record.transcript.second_reading] == [("left", 0.0)]


def test_runs_name_only_fields_that_remain() -> None:
    record = draft_from_text("Left wrist. Snuffbox tender. Snuffbox tender. Phalen's negative.")
    ids = {f.id for f in record.fields}
    assert record.runs
    assert all(set(run.fields) <= ids for run in record.runs)


def test_a_draft_decides_and_computes_nothing() -> None:
    data = json.loads(draft_from_text(TEXT).model_dump_json())
    assert {f["decision"] for f in data["fields"]} == {"pending"}
    assert data["computed"] == []
    assert data["schema_version"] == "1.1"


def test_a_personal_lexicon_is_named_by_its_checksum(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    own = tmp_path / "own.yaml"
    own.write_text(
        'concepts:\n  - id: wibble_test\n    preferred: "Wibble test"\n    kind: test\n    part: special_tests\n'
        "    takes: [side, status]\n    statuses: [positive, negative]\n",
        encoding="utf-8",
    )
    monkeypatch.setenv("DICTATION_LEXICON", str(own))
    record = draft_text("Left wibble test positive.")
    assert record.source.personal_lexicon_sha256 == hashlib.sha256(own.read_bytes()).hexdigest()
    assert [(f.concept, f.side, f.status) for f in record.fields] == [("wibble_test", "left", "positive")]
    assert draft_text("Left wibble test positive.", settings=None).fields == record.fields


def test_the_same_words_give_the_same_record() -> None:
    assert draft_from_text(TEXT) == draft_from_text(TEXT)
