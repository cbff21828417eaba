"""A clinic's own check: what it counts, what it keeps, and how it walks through the reading."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import running
from running import Run, one_sentence

import dictation.pipeline
from dictation import draft_from_text
from dictation.errors import AudioError, InputError
from dictation.lexicon.loading import load_lexicon
from dictation.record import DraftRecord, Source
from dictation.settings import Settings, read_settings
from dictation.terminal.reading_aloud import read_aloud
from dictation.voice_check import (
    COUNTED,
    ENOUGH,
    SYNTHETIC,
    TOO_FEW,
    VoiceCheck,
    check_voice,
    compare,
    given_dictations,
    keep,
    kept_check,
    measured_line,
    texts_of,
)

run, pipeline = running.run, running.pipeline  # fixtures
TRUE = "Left wrist swollen. Tinel's positive. Flexion sixty degrees."


@pytest.fixture
def hears(monkeypatch: pytest.MonkeyPatch) -> Callable[[Callable[[str], str]], None]:
    """Have a recording heard as its true text, changed by a function."""

    def set_up(change: Callable[[str], str]) -> None:
        def draft_audio(path: Path, **_: Any) -> DraftRecord:
            return draft_from_text(change(path.with_suffix(".txt").read_text(encoding="utf-8")))

        monkeypatch.setattr(dictation.pipeline, "draft_audio", draft_audio)

    return set_up


def made_check(**counts: Any) -> VoiceCheck:
    """A kept check, of forty statements unless told otherwise."""
    usual = dict.fromkeys(COUNTED, 0) | {"dictations": 12, "words": 200, "fields": 40, "drafted": 40}
    made = {
        "at": "2026-01-02T03:04:05Z", "recogniser": "embedded", "model": None, "program_version": "1", "lexicon_version": "1",
        "over_noise_db": None,
    }  # fmt: skip
    return VoiceCheck(**(made | usual | counts))


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return read_settings({"DICTATION_DATA_FOLDER": str(tmp_path / "data")})


def test_twelve_dictations_are_given_and_their_typed_drafts_hold_no_doubt() -> None:
    given = given_dictations()
    assert len(given) == 12
    fields = [f for text in given for f in draft_from_text(text).fields]
    assert len(fields) > 36
    assert len({f.concept for f in fields}) > 30
    assert [f.concept for f in fields if f.checked()] == []


@pytest.mark.parametrize(
    ("heard", "wrong_words", "missed_terms", "missed_fields", "drafted", "wrong_fields", "silent"),
    [
        (TRUE, 0, 0, 0, 3, 0, 0),
        ("Left wrist swollen. Tinel's negative. Flexion sixty degrees.", 1, 0, 1, 3, 1, 1),
        ("Left wrist swollen. Flexion sixty degrees.", 2, 1, 1, 2, 0, 0),
        ("Right wrist swollen. Tinel's positive. Flexion sixty degrees.", 1, 0, 3, 3, 3, 3),
        ("Left wrist swollen. Tinel's positive. Flexion sixty degrees. No scars.", 2, 0, 0, 4, 1, 1),
        ("", 8, 1, 3, 0, 0, 0),
    ],
)
def test_what_is_counted(
    heard: str, wrong_words: int, missed_terms: int, missed_fields: int, drafted: int, wrong_fields: int, silent: int
) -> None:
    found = compare(draft_from_text(TRUE), draft_from_text(heard or " "), {"tinel's"})
    assert found["words"] == 8
    assert found["terms"] == 1
    assert found["fields"] == 3
    assert found["wrong_words"] == wrong_words
    assert found["missed_terms"] == missed_terms
    assert found["missed_fields"] == missed_fields
    assert found["drafted"] == drafted
    assert found["wrong_fields"] == wrong_fields
    assert found["silent"] == silent


def test_more_invented_than_was_said_is_a_figure_that_can_be_read(settings: Settings) -> None:
    invented = "Left wrist swollen. No scars. No deformity. Phalen's positive. Flexion ten degrees. Extension twenty degrees."
    counts = compare(draft_from_text("Left wrist swollen."), draft_from_text(invented), set())
    check = made_check(dictations=1, **counts)
    keep(check, settings)
    assert (counts["fields"], counts["drafted"], counts["wrong_fields"], counts["silent"]) == (1, 6, 5, 5)
    told = " ".join([*check.sentences, measured_line(heard_by("embedded"), settings)])
    parts = [(int(part), int(whole)) for part, whole in re.findall(r"(\d+) of (\d+)", told)]
    assert (5, 6) in parts
    assert [(part, whole) for part, whole in parts if part > whole] == []
    assert "%" not in told
    assert "too few" in told


def test_a_rate_is_given_of_enough_statements_alone() -> None:
    few, enough = (made_check(drafted=n, wrong_fields=3, silent=3) for n in (ENOUGH - 1, ENOUGH))
    assert [s for s in few.sentences if "3 of" in s and "%" in s] == []
    assert len([s for s in enough.sentences if f"3 of {ENOUGH} (10%)" in s]) == 2
    assert TOO_FEW in few.sentences
    assert TOO_FEW not in enough.sentences


def test_a_wrong_field_with_a_mark_to_check_is_not_silent() -> None:
    found = compare(draft_from_text("Right wrist flexion sixty degrees."), draft_from_text("Right wrist flexion 190."), set())
    assert found["wrong_fields"] == 1
    assert found["silent"] == 0


def test_recordings_with_true_texts_are_added_up_and_kept_without_words(
    tmp_path: Path, hears: Callable[[Callable[[str], str]], None], settings: Settings
) -> None:
    for name in "ab":
        (tmp_path / f"{name}.txt").write_text(TRUE, encoding="utf-8")
        (tmp_path / f"{name}.flac").touch()
    (tmp_path / "c.txt").write_text(TRUE, encoding="utf-8")  # not recorded yet
    hears(lambda text: text.replace("positive", "negative"))
    found, left_out = check_voice(texts_of(tmp_path), "embedded", settings, load_lexicon(), "2026-01-01T00:00:00Z")
    assert left_out == []
    assert found is not None
    assert (found.dictations, found.words, found.wrong_words, found.fields, found.silent) == (2, 16, 2, 6, 2)
    path = keep(found, settings)
    assert kept_check(settings) == found
    assert path.stat().st_mode & 0o077 == 0
    assert not {"swollen", "Tinel"} & set(path.read_text(encoding="utf-8").replace('"', " ").split())
    assert sum("2 of 6" in sentence for sentence in found.sentences) == 3


def heard_by(recogniser: str, model: str | None = None, lexicon: str = "1") -> Source:
    """The source of a draft."""
    return Source(
        name="", sha256="", duration_s=1.0, recogniser=recogniser, model=model, program_version="", lexicon_version=lexicon
    )  # fmt: skip


def test_without_a_check_the_line_for_screens_is_of_unseen_synthetic_voices_with_its_counts(settings: Settings) -> None:
    line = measured_line(heard_by("embedded"), settings)
    figure = SYNTHETIC["embedded"]
    assert "synthetic voices alone (embedded, clean sound)" in line
    assert f"{figure.silent} statements wrong or invented with no mark to check, where {figure.said} were said" in line
    assert "voice-check" in line
    assert "was not measured, not even on synthetic voices" in measured_line(heard_by("whisper"), settings)


@pytest.mark.parametrize(
    ("made_with", "drafted_with", "own"),
    [
        (("embedded", "pocketsphinx en-us, lexicon 1", "1"), ("embedded", "pocketsphinx en-us, lexicon 1", "1"), True),
        (("embedded", "pocketsphinx en-us, lexicon 1", "1"), ("embedded", "pocketsphinx en-us, lexicon 2", "2"), True),
        (("embedded", "pocketsphinx en-us, lexicon 1", "1"), ("whisper", "small.en, cpu int8", "1"), False),
        (("whisper", "small.en, cpu int8", "1"), ("whisper", "small.en, cpu int8", "2"), True),
        (("whisper", "small.en, cpu int8", "1"), ("whisper", "tiny.en, cpu int8", "1"), False),
        (("whisper", "small.en, cpu int8", "1"), ("whisper", "small.en, cuda float16", "1"), False),
    ],
)
def test_a_check_is_shown_beside_drafts_of_its_own_model_alone(
    made_with: tuple[str, str, str], drafted_with: tuple[str, str, str], own: bool, settings: Settings
) -> None:
    recogniser, model, lexicon = made_with
    keep(made_check(recogniser=recogniser, model=model, lexicon_version=lexicon, silent=3), settings)
    line = measured_line(heard_by(*drafted_with), settings)
    assert ("3 of 40 statements" in line) is own
    assert ("synthetic voices" in line) is not own
    if own:
        change = ", before a change of lexicon" if lexicon != drafted_with[2] else ""
        assert line.startswith(f"Measured on your own voice check of 2026-01-02{change} ({recogniser}, 12 dictations): ")


def test_a_check_of_next_to_nothing_gives_no_figure(settings: Settings) -> None:
    keep(made_check(dictations=1, drafted=ENOUGH - 1, silent=3), settings)
    line = measured_line(heard_by("embedded"), settings)
    assert line.startswith(
        "Too few statements for a figure in your own voice check of 2026-01-02 (embedded, 1 dictation): 29. "
    )
    assert "synthetic voices alone" in line
    assert "3 of" not in line


def test_the_synthetic_figure_on_screen_is_that_of_the_readme() -> None:
    readme = " ".join((Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8").split())
    figure = SYNTHETIC["embedded"]
    of_unseen = readme[readme.index("In unseen voices and texts, clean") :]
    assert of_unseen.index(f"{figure.said} expected statements, `{figure.command}`") < 100
    assert of_unseen.index(f"; {figure.silent} statements were silently wrong") < 300


def test_no_figure_or_a_damaged_one_is_none(settings: Settings) -> None:
    assert kept_check(settings) is None
    settings.data_folder.mkdir()
    damaged = json.dumps(dict.fromkeys(VoiceCheck.__dataclass_fields__, None))
    for text in ("", "[]", '{"words": 3}', "{}", damaged):
        (settings.data_folder / "voice-check.json").write_text(text)
        assert kept_check(settings) is None


def test_without_texts_or_recordings_it_says_what_to_do(tmp_path: Path, settings: Settings) -> None:
    with pytest.raises(InputError, match=r"holds no \.txt file; put"):
        texts_of(tmp_path)
    (tmp_path / "a.txt").write_text(TRUE, encoding="utf-8")
    with pytest.raises(InputError, match="No recording lies beside"):
        check_voice(texts_of(tmp_path), "embedded", settings, load_lexicon(), "")


def test_the_command_shows_what_to_read_and_waits_for_the_recording(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
    hears: Callable[[Callable[[str], str]], None],
) -> None:  # fmt: skip
    monkeypatch.setenv("DICTATION_DATA_FOLDER", str(tmp_path / "data"))
    hears(lambda text: text)
    asked: list[str] = []

    def ask(question: str) -> str:
        asked.append(question)
        if len(asked) == 2:  # the first time Enter was pressed too soon
            (tmp_path / "mine" / "01.wav").touch()
        return {3: "skip", 4: "stop"}.get(len(asked), "")

    monkeypatch.setattr("dictation.terminal.screen.ask", ask)
    assert run("voice-check", "mine") == 0
    out = capsys.readouterr().out
    assert len(asked) == 4
    assert out.count("1 of 12. Read aloud:") == 1
    assert out.count("There is no recording 01 in mine yet") == 1
    assert " ".join(given_dictations()[0].split()) in " ".join(out.split())
    assert "Over 1 dictation in" in out
    kept = json.loads((tmp_path / "data" / "voice-check.json").read_text(encoding="utf-8"))
    assert VoiceCheck(**kept).wrong_fields == 0
    assert len(list((tmp_path / "mine").glob("*.txt"))) == 12


def test_stopping_before_any_recording_is_a_sentence(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("dictation.terminal.screen.ask", lambda _: "stop")
    assert run("voice-check", "mine") == 3
    one_sentence(capsys.readouterr().err)


def test_after_drafting_the_line_stands_once_for_all_recordings(
    run: Run, tmp_path: Path, pipeline: list[tuple[Any, ...]], capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("a.wav", "b.wav"):
        (tmp_path / name).write_bytes(b"sound")
    assert run("draft", "a.wav", "b.wav", "--out-dir", "drafts") == 0
    assert len(pipeline) == 2
    assert capsys.readouterr().err.count("How often scripted is wrong with no mark to check was not measured") == 1


def test_a_recording_that_cannot_be_used_is_named_and_the_others_are_counted(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("DICTATION_DATA_FOLDER", str(tmp_path / "data"))
    mine = tmp_path / "mine"
    mine.mkdir()
    for name in ("good", "silent", "twice", "unwritten"):
        (mine / f"{name}.txt").write_text("" if name == "unwritten" else TRUE, encoding="utf-8")
        (mine / f"{name}.wav").touch()
    for name in ("twice.flac", "good.txt~", ".good.wav", "._good.txt"):  # the last three are nobody's
        (mine / name).touch()

    def draft_audio(path: Path, **_: Any) -> DraftRecord:
        if path.stem == "silent":
            raise AudioError(f"{path.name} holds no speech; check the microphone and record again.")
        return draft_from_text(TRUE)

    monkeypatch.setattr(dictation.pipeline, "draft_audio", draft_audio)
    assert run("voice-check", "mine") == AudioError.exit_code, "that of the first left out"
    out, err = capsys.readouterr()
    assert "Over 1 dictation in this voice" in out
    assert "3 left out" in out
    told = err.splitlines()
    assert [line for line in told if not line.startswith("Left out: ")] == []
    assert [name for name in ("silent.wav", "twice.flac, twice.wav", "unwritten.txt") if name not in err] == []
    assert len(told) == 3
    kept = kept_check(read_settings())
    assert kept is not None
    assert (kept.dictations, kept.left_out, kept.wrong_fields) == (1, 3, 0)


def test_where_no_recording_can_be_used_nothing_is_kept(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("DICTATION_DATA_FOLDER", str(tmp_path / "data"))
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "a.txt").write_text(TRUE, encoding="utf-8")
    (tmp_path / "mine" / "a.wav").write_bytes(b"no sound at all")
    assert run("voice-check", "mine") == AudioError.exit_code
    one_sentence(capsys.readouterr().err)
    assert kept_check(read_settings()) is None


def test_a_text_that_cannot_be_read_aloud_stops_no_other(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_bytes(b"Ph\xe4len")
    (tmp_path / "b.txt").write_text(TRUE, encoding="utf-8")
    shown: list[str] = []
    read_aloud(texts_of(tmp_path), lambda _: "skip", lambda line, _: shown.append(line))
    assert "a.txt as UTF-8" in shown[0]
    assert shown[1:] == ["2 of 2. Read aloud:", TRUE]
