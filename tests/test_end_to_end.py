"""From sound to note: recording -> draft -> decisions -> signature -> note, with the embedded recogniser and no network.

The floors are below what was measured on the same samples (README, "How well it works"); they guard, they are no target.
"""

from __future__ import annotations

import json
import re
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from dictation import draft_from_audio, draft_from_text
from dictation.lexicon.loading import load_lexicon
from dictation.note.text import render_text
from dictation.note.wording import word_field
from dictation.recognition import choose
from dictation.record import DraftRecord
from dictation.review.opening import open_review, read_file, take_in
from dictation.store.journal import Moment
from dictation.store.store import open_store
from tests.scoring import Score, read_cases, score

SAMPLES = Path(__file__).parents[1] / "samples"
FIXTURES = Path(__file__).parent / "fixtures"
CASES: dict[str, dict[str, Any]] = {case["id"]: case for case in read_cases(SAMPLES / "expected.jsonl")}
WHO = "Test Clinician"
NOW = Moment(at="2026-01-05T09:00:00Z", utc_offset_min=0)


def sign_everything(draft: DraftRecord, folder: Path) -> str:
    """Decide on every field as a hasty clinician might, sign, and return the note."""
    lexicon = load_lexicon()
    path = folder / "spoken.draft.json"
    path.write_text(draft.model_dump_json(), encoding="utf-8")
    file = read_file(path)
    encounter = take_in(open_store(folder / "store"), file, None, WHO, NOW)
    review = open_review(encounter, file.sha256, lexicon, lambda field: word_field(field, lexicon))
    for run in review.open_runs():
        review.decide_side(run, draft.runs[run].side, WHO, NOW)
    for field in draft.fields:
        if any(flag.level == "check" for flag in field.flags):
            review.reject(field.id, "doubtful", WHO, NOW)
        else:
            review.confirm(field.id, WHO, NOW)
    for index in list(review.state.uncleared):
        review.clear(index, WHO, NOW)
    return render_text(review.sign(WHO, "registrar", NOW, ending="oken"), lexicon)


@pytest.mark.sound
def test_a_recording_becomes_a_signed_note(tmp_path: Path) -> None:
    draft = draft_from_audio(SAMPLES / "background_noise.opus", recogniser="embedded")
    assert draft.source.recogniser == "embedded"
    assert draft.fields
    for field in draft.fields:
        for evidence in field.evidence:
            i, j = evidence.words
            assert " ".join(w.said for w in draft.transcript.words[i:j]) == evidence.said
            assert evidence.start is not None
            assert evidence.end is not None
            assert 0 <= evidence.start <= evidence.end <= (draft.source.duration_s or 0)
    note = sign_everything(draft, tmp_path)
    assert WHO in note
    kept = [f for f in draft.fields if not any(flag.level == "check" for flag in f.flags)]
    assert kept
    for field in kept:
        if field.side:
            assert field.side.upper() in note


@pytest.mark.sound
def test_a_recording_is_drafted_through_whisper(monkeypatch: pytest.MonkeyPatch) -> None:
    """On the fixture model and sentences of its grammar; nothing here says how well Whisper hears."""
    monkeypatch.setattr(choose, "choose_recogniser", partial(choose.choose_recogniser, fixture_allowed=True))
    monkeypatch.setenv("DICTATION_WHISPER_MODEL", str(FIXTURES / "whisper-fixture-synthetic"))
    draft = draft_from_audio(FIXTURES / "spoken-synthetic" / "slt.opus")
    assert draft.source.recogniser == "whisper"
    assert (draft.source.model or "").startswith("whisper-fixture-synthetic, c")
    heard = [w.said for w in draft.transcript.words]
    assert heard[:4] == ["Mild", "infection", "at", "the"]
    assert len(draft.transcript.second_reading) > len(heard), "the second reading is on unless it is switched off"
    wound = next(f for f in draft.fields if f.concept == "wound")
    assert (wound.side, wound.digit, wound.status) == ("right", "index", "present")
    (evidence,) = wound.evidence
    assert evidence.said == " ".join(heard[evidence.words[0] : evidence.words[1]])
    assert 0 < (evidence.start or 0) < (evidence.end or 0) < (draft.source.duration_s or 0)
    deviation = next(f for f in draft.fields if f.concept == "wrist_ulnar_deviation")
    assert (deviation.side, deviation.value) == ("left", 90)
    assert all(0 < f.confidence < 1 for f in draft.fields)


@pytest.mark.sound
def test_small_talk_alone_makes_no_field() -> None:
    assert draft_from_audio(SAMPLES / "small_talk_only.opus", recogniser="embedded").fields == []


@pytest.mark.sound
def test_a_carpal_tunnel_recording_is_read_without_a_wrong_side() -> None:
    draft = draft_from_audio(SAMPLES / "carpal_tunnel.opus", recogniser="embedded")
    result = score(CASES["carpal_tunnel"], json.loads(draft.model_dump_json()))
    assert result.f1 > 0.7
    assert result.counts["silent_side"] == 0
    assert result.silent_per_100 <= 6


def test_typed_samples_reach_their_bars() -> None:
    total = Score()
    for name, case in CASES.items():
        text = (SAMPLES / f"{name}.txt").read_text(encoding="utf-8")
        total += score(case, json.loads(draft_from_text(text).model_dump_json()))
    assert len(CASES) == 10
    assert total.f1 >= 0.95
    assert total.counts["silent"] == 0


def test_typed_text_becomes_a_note_whose_numbers_and_sides_were_said(tmp_path: Path) -> None:
    text = "Right wrist. Extension sixty two, flexion forty seven. No swelling. Phalen's negative."
    note = sign_everything(draft_from_text(text), tmp_path)
    findings = note[note.upper().index("MOVE") :]
    assert "62" in findings
    assert "47" in findings
    assert "LEFT" not in re.sub(r"(?i)left out", "", note)
