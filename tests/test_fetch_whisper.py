"""Fetching weights: it says what comes and asks, and what was fetched is used from then on."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
import running
from running import Run, one_sentence

from dictation.errors import InputError, RecogniserUnavailable
from dictation.recognition.fetching import Published
from dictation.settings import read_settings

run = running.run  # a fixture
Fetched = list[str]


@pytest.fixture
def fetched(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Fetched:
    """Put a stand-in for the network in place; return the names that were fetched."""
    names: Fetched = []

    def download(name: str, revision: str, folder: Path) -> None:
        names.append(name)
        for file in ("model.bin", "config.json", "tokenizer.json"):
            (folder / file).write_text("invented")

    monkeypatch.setattr("dictation.recognition.fetching._published", lambda name: ("revision", {}))
    monkeypatch.setattr("dictation.recognition.fetching._download", download)
    monkeypatch.setenv("DICTATION_DATA_FOLDER", str(tmp_path / "data"))
    return names


def _answer(monkeypatch: pytest.MonkeyPatch, *answers: str) -> list[str]:
    asked: list[str] = []
    left = iter(answers)

    def answer(prompt: str = "") -> str:
        asked.append(prompt)
        try:
            return next(left)
        except StopIteration:
            raise EOFError from None

    monkeypatch.setattr("builtins.input", answer)
    return asked


def test_it_says_what_how_large_and_where_before_it_asks(
    run: Run, tmp_path: Path, fetched: Fetched, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = _answer(monkeypatch, "yes")
    assert run("fetch-whisper", "small.en") == 0
    assert len(asked) == 1
    assert "small.en is about 485 MB" in asked[0]
    assert str(tmp_path / "data") in asked[0]
    assert fetched == ["small.en"]


@pytest.mark.parametrize(("answer", "code"), [("no", 0), ("", 0), ("maybe", 0), (None, 2)])
def test_nothing_is_fetched_without_a_yes(
    run: Run,
    tmp_path: Path,
    fetched: Fetched,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    answer: str | None,
    code: int,
) -> None:
    _answer(monkeypatch, *([] if answer is None else [answer]))
    assert run("fetch-whisper", "small.en") == code
    assert fetched == []
    assert not (tmp_path / "data").exists()
    if answer is None:
        one_sentence(capsys.readouterr().err)


def test_what_was_fetched_last_is_used_from_then_on(
    run: Run,
    tmp_path: Path,
    fetched: Fetched,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    asked = _answer(monkeypatch)
    assert run("fetch-whisper", "small.en", "--yes") == 0
    small = tmp_path / "data" / "whisper-small.en"
    assert f"From now on recordings are heard with {small}" in capsys.readouterr().out
    assert read_settings().whisper_model == small
    assert run("fetch-whisper", "base.en", "--yes") == 0
    assert read_settings().whisper_model == tmp_path / "data" / "whisper-base.en"
    assert run("fetch-whisper", "small.en") == 0  # there already: no question, and in use again
    assert read_settings().whisper_model == small
    assert (asked, fetched) == ([], ["small.en", "base.en"])


@pytest.mark.usefixtures("fetched")
def test_auto_hears_with_what_was_fetched(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    from dictation.recognition import choose, whisper

    chosen: list[Path] = []

    def load(self: object, lexicon: object, folder: Path, **keys: object) -> None:
        chosen.append(folder)

    monkeypatch.setattr(whisper.WhisperRecogniser, "__init__", load)
    assert run("fetch-whisper", "small.en", "--yes") == 0
    found = read_settings()
    assert found.recogniser == "auto"
    choose.choose_recogniser("auto", None, whisper_model=found.whisper_model)  # type: ignore[arg-type]  # no words needed
    assert chosen == [found.whisper_model]


@pytest.mark.usefixtures("fetched")
def test_settings_that_say_otherwise_win_and_it_says_so(
    run: Run, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("DICTATION_WHISPER_MODEL", "elsewhere")
    assert run("fetch-whisper", "small.en", "--yes") == 0
    assert "names elsewhere, which stays in use" in capsys.readouterr().out
    assert read_settings().whisper_model == Path("elsewhere")
    monkeypatch.delenv("DICTATION_WHISPER_MODEL")
    monkeypatch.setenv("DICTATION_RECOGNISER", "embedded")
    assert run("fetch-whisper", "small.en", "--yes") == 0
    assert "asks for the embedded recogniser" in capsys.readouterr().out


def test_a_fetch_that_fails_changes_nothing(
    run: Run,
    tmp_path: Path,
    fetched: Fetched,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def half(name: str, revision: str, folder: Path) -> None:
        (folder / "config.json").write_text("half")

    monkeypatch.setattr("dictation.recognition.fetching._download", half)
    assert run("fetch-whisper", "small.en", "--yes") == 5
    one_sentence(capsys.readouterr().err)
    assert read_settings().whisper_model is None
    assert run("fetch-whisper", "enormous", "--yes") == 5
    one_sentence(capsys.readouterr().err)
    assert fetched == []


def test_what_was_fetched_can_be_checked_again_without_the_network(
    run: Run, tmp_path: Path, fetched: Fetched, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    invented = Published(8, hashlib.sha256(b"invented").hexdigest())
    monkeypatch.setattr("dictation.recognition.fetching._published", lambda name: ("revision", {"model.bin": invented}))
    assert run("fetch-whisper", "small.en", "--check") == 5
    one_sentence(capsys.readouterr().err)
    assert run("fetch-whisper", "small.en", "--yes") == 0
    capsys.readouterr()
    assert run("fetch-whisper", "small.en", "--check") == 0
    assert "are what was fetched" in capsys.readouterr().out
    (tmp_path / "data" / "whisper-small.en" / "model.bin").write_text("tampered")
    assert run("fetch-whisper", "small.en", "--check") == 5
    one_sentence(capsys.readouterr().err)
    assert fetched == ["small.en"]


def test_weights_that_have_gone_are_said_and_never_quietly_replaced(tmp_path: Path) -> None:
    from dictation.recognition.choose import choose_recogniser

    (tmp_path / "whisper-in-use.txt").write_text("whisper-small.en\n", encoding="utf-8")
    found = read_settings({"DICTATION_DATA_FOLDER": str(tmp_path)})
    assert found.whisper_model == tmp_path / "whisper-small.en"
    with pytest.raises(RecogniserUnavailable, match="fetch-whisper"):
        choose_recogniser("auto", None, whisper_model=found.whisper_model)  # type: ignore[arg-type]  # not reached


@pytest.mark.parametrize("text", ["", "../elsewhere", "a/b", "\xff\xfe"])
def test_a_damaged_note_of_what_is_in_use_is_one_sentence(tmp_path: Path, text: str) -> None:
    (tmp_path / "whisper-in-use.txt").write_bytes(text.encode("latin-1"))
    with pytest.raises(InputError, match=r"whisper-in-use\.txt") as caught:
        read_settings({"DICTATION_DATA_FOLDER": str(tmp_path)})
    assert "\n" not in str(caught.value)
