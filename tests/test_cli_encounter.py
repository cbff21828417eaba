"""The commands over encounters: from a draft to the note, to another machine and back; and settings for sound."""

from __future__ import annotations

from pathlib import Path

import pytest
import running
from running import Run, one_sentence
from scripted import ENDING, REFERENCE, WHEN, decide_all, invented_examination

from dictation.reviewing import draft_of, review_of
from dictation.settings import read_settings
from dictation.store.facts import Details
from dictation.store.journal import Step
from dictation.store.package import write_package
from dictation.store.store import open_store

pipeline, run = running.pipeline, running.run  # fixtures
WHO = ("--who", "Dr A")


def _sign(folder: Path) -> None:
    store = open_store(folder)
    encounter = store.encounter(REFERENCE)
    review = review_of(encounter, draft_of(encounter, signed=False), read_settings())
    decide_all(review)
    for caution in review.cautions():
        review.answer_caution(caution, "acting", "Dr A", WHEN)
    review.sign("Dr A", "Hand surgeon", WHEN, ending=ENDING, examined="2025-03-04 14:00")
    store.close()


def _answers(monkeypatch: pytest.MonkeyPatch, *answers: str) -> None:
    given = iter(answers)
    monkeypatch.setattr("builtins.input", lambda prompt="": next(given))


@pytest.mark.usefixtures("pipeline")
def test_an_encounter_from_opening_to_erasing(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DICTATION_REVIEWER", "Dr A")
    monkeypatch.setenv("DICTATION_STORE_FOLDER", str(tmp_path / "s"))
    monkeypatch.setenv("DICTATION_KEEP_SOUND", "yes")
    (tmp_path / "a.wav").write_bytes(b"sound")
    assert run("encounter", "new", REFERENCE, "--age", "54", "--consent", "given") == 0
    assert run("encounter", "change", REFERENCE, "--purpose", "nerve", "--present", "a nurse") == 0
    assert run("draft", "a.wav", "--out-dir", "d", "--encounter", REFERENCE) == 0
    capsys.readouterr()
    assert run("encounter", "show", REFERENCE) == 0
    shown = capsys.readouterr().out
    assert "age       54" in shown
    assert "purpose   nerve" in shown
    assert "its sound is there" in shown
    assert "not signed yet" in shown
    _sign(tmp_path / "s")
    capsys.readouterr()
    assert run("encounter", "show", REFERENCE) == 0
    assert "examined  2025-03-04 14:00 (stated at signing)" in capsys.readouterr().out
    _answers(monkeypatch)  # a wrong id is refused before anything is asked
    assert run("encounter", "addendum", REFERENCE, "--entered-in-error", "f99") == 8
    refused = capsys.readouterr()
    one_sentence(refused.err)
    assert "f3   No erythema on the RIGHT." in refused.out
    _answers(monkeypatch, "Seen again.", "Dr B", "Registrar", "9999", ENDING)  # a wrong ending is asked again alone
    assert run("encounter", "addendum", REFERENCE) == 0
    assert run("note", REFERENCE) == 0
    assert "Seen again. Dr B, Registrar." in capsys.readouterr().out
    assert run("note", REFERENCE, "--as-signed") == 0
    assert "SUPERSEDED" in capsys.readouterr().out
    assert run("encounter", "export", REFERENCE, "--out", "e.zip") == 0
    assert run("store", "back-up", "copy") == 0
    assert run("--store", "other", "encounter", "import", "e.zip", *WHO) == 0
    assert run("--store", "other", "store", "verify") == 0
    assert "No fault in 1 encounters" in capsys.readouterr().out
    assert run("encounter", "withdraw-consent", REFERENCE) == 0
    _answers(monkeypatch, "2040")
    assert run("encounter", "erase", REFERENCE) == 8
    one_sentence(capsys.readouterr().err)
    _answers(monkeypatch, ENDING)
    assert run("encounter", "erase", REFERENCE) == 0
    capsys.readouterr()
    assert run("encounter", "list") == 0
    assert REFERENCE not in capsys.readouterr().out
    assert run("--store", "copy", "encounter", "list") == 0
    assert REFERENCE in capsys.readouterr().out
    assert (tmp_path / "a.wav").exists()  # the store deleted its own copy


def test_a_review_says_that_the_sound_is_gone_and_goes_on(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / f"{REFERENCE}.draft.json").write_text(invented_examination().draft().model_dump_json(), encoding="utf-8")
    _answers(monkeypatch, "stop", "stop")
    assert run("review", f"{REFERENCE}.draft.json", "--reviewer", "Dr A") == 0
    assert "The recording of this draft is not in its encounter" in " ".join(capsys.readouterr().out.split())
    assert run("review", REFERENCE, "--reviewer", "Dr A") == 0
    assert "0 of 11 decided" in capsys.readouterr().out


def test_escapes_in_an_encounter_handed_over_reach_the_screen_as_text(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    escape = "\x1b]0;x\x07\x1b[2J"
    there = open_store(tmp_path / "there")
    encounter = there.open_encounter(REFERENCE, Details(examiner=f"Dr{escape}", present=escape), f"Dr{escape}", WHEN)
    content = invented_examination().draft().model_dump_json().encode()
    sha256 = encounter.take_draft(content, "0" * 64, f"a{escape}.wav", spoken=True, who=f"Dr{escape}", time=WHEN)
    encounter.append([Step("confirmed", "f2", None, {"sentence": f"No{escape}"}, sha256)], f"Dr{escape}", WHEN)
    write_package(encounter, tmp_path / "e.zip", [], "0")
    there.close()
    _answers(monkeypatch, "progress", "undo", "stop")
    for command in (("encounter", "import", "e.zip", *WHO), ("encounter", "show", REFERENCE), ("encounter", "list"),
                    ("review", REFERENCE, "--reviewer", "Dr A"), ("store", "verify")):  # fmt: skip
        assert run(*command) == 0
    said = capsys.readouterr()
    assert "Taken back" in said.out
    assert not {"\x1b", "\x07"} & set(said.out + said.err)


def test_what_a_crash_left_is_swept(run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--store", "s", "encounter", "new", REFERENCE, *WHO) == 0
    (tmp_path / "s" / "sound" / "x").mkdir(parents=True)
    (tmp_path / "s" / "sound" / "x" / "y").write_bytes(b"left")
    assert run("--store", "s", "store", "verify") == 0
    assert "dictation store sweep" in capsys.readouterr().out
    assert run("--store", "s", "store", "sweep", *WHO) == 0
    assert "1 file of sound" in capsys.readouterr().out
    assert not (tmp_path / "s" / "sound" / "x" / "y").exists()


def test_a_store_with_a_fault_is_named_and_has_its_code(run: Run, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    (tmp_path / "bad").mkdir()
    (tmp_path / "bad" / "encounters.sqlite").write_bytes(b"swelling " * 900)
    assert run("--store", "bad", "store", "verify") == 10
    err = capsys.readouterr().err
    one_sentence(err)
    assert "swelling" not in err


@pytest.mark.parametrize(("setting", "value"), [("KEEP_SOUND", "maybe"), ("DELETE_SOUND", "soon"), ("DELETE_SOUND", "0")])
def test_a_setting_of_sound_that_means_nothing_is_refused(
    run: Run, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, setting: str, value: str
) -> None:
    monkeypatch.setenv(f"DICTATION_{setting}", value)
    assert run("encounter", "list") == 3
    one_sentence(capsys.readouterr().err)
