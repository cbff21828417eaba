"""Drafting files: bad input is one sentence and an exit code, and nothing is ever left half-written."""

from __future__ import annotations

import errno
import json
import re
import resource
import stat
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import running
from running import Run, one_sentence

pipeline, run = running.pipeline, running.run  # fixtures


@pytest.mark.usefixtures("pipeline")
def test_draft_writes_one_owner_only_file_a_sound_or_text(run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "a.wav").write_bytes(b"sound")
    (tmp_path / "b.txt").write_text("Right wrist, no swelling.", encoding="utf-8")
    assert run("draft", "a.wav", "b.txt", "--out-dir", "drafts") == 0
    assert sorted(p.name for p in (tmp_path / "drafts").iterdir()) == ["a.draft.json", "b.draft.json"]
    for path in (tmp_path / "drafts").iterdir():
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
        assert json.loads(path.read_text())["schema_version"]
    assert "11 statements, 2 to check first" in capsys.readouterr().out


def test_draft_reads_txt_as_text_and_anything_else_as_sound(run: Run, tmp_path: Path, pipeline: list[tuple[Any, ...]]) -> None:
    (tmp_path / "a.TXT").write_bytes("\ufeffNo swelling.".encode())
    (tmp_path / "b.xyz").write_bytes(b"sound")
    assert run("draft", "a.TXT", "b.xyz", "--out-dir", ".", "--recogniser", "embedded") == 0
    assert pipeline == [("text", "a.TXT", "No swelling."), ("audio", "b.xyz", "embedded")]


def test_two_inputs_with_one_stem_are_refused_before_any_work(
    run: Run, tmp_path: Path, pipeline: list[tuple[Any, ...]], capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "a.wav").write_bytes(b"sound")
    (tmp_path / "a.txt").write_text("No swelling.")
    assert run("draft", "a.wav", "a.txt", "--out-dir", "drafts") == 3
    one_sentence(capsys.readouterr().err)
    assert pipeline == []
    assert not (tmp_path / "drafts").exists()


def _folder(path: Path) -> None:
    path.mkdir()


BAD = [
    ("missing.wav", lambda path: None, 3, "no file"),
    ("folder.wav", _folder, 3, "is a folder"),
    ("empty.wav", lambda path: path.write_bytes(b""), 3, "is empty"),
    ("latin.txt", lambda path: path.write_bytes("Hänge".encode("latin-1")), 3, "not UTF-8"),
    ("blank.txt", lambda path: path.write_text(" \n"), 3, "no words"),
    ("long.txt", lambda path: path.write_bytes(b"left " * 400_001), 3, "longer than 2 MB"),
    ("binary.txt", lambda path: path.write_bytes(b"\0\1\2"), 3, "not text"),
    ("noise.wav", lambda path: path.write_bytes(b"noise"), 4, "not sound"),
]


@pytest.mark.parametrize(("name", "make", "code", "says"), BAD, ids=[bad[0] for bad in BAD])
@pytest.mark.usefixtures("pipeline")
def test_bad_input_is_one_sentence_and_leaves_nothing(
    run: Run,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    name: str,
    make: Callable[[Path], None],
    code: int,
    says: str,
) -> None:
    make(tmp_path / name)
    assert run("draft", name, "--out-dir", "drafts") == code
    err = capsys.readouterr().err
    one_sentence(err)
    assert says in err
    assert list((tmp_path / "drafts").iterdir()) == []


@pytest.mark.usefixtures("pipeline")
def test_one_bad_file_among_several_does_not_stop_the_others(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "a.wav").write_bytes(b"sound")
    (tmp_path / "b.wav").write_bytes(b"noise")
    (tmp_path / "c.txt").write_text("No swelling.")
    assert run("draft", "b.wav", "a.wav", "none.wav", "c.txt", "--out-dir", "drafts") == 4
    assert sorted(p.name for p in (tmp_path / "drafts").iterdir()) == ["a.draft.json", "c.draft.json"]
    err = capsys.readouterr().err
    assert "2 of 4 files were not drafted." in err
    assert "b.wav is not sound" in err
    assert "There is no file none.wav" in err


@pytest.mark.usefixtures("pipeline")
def test_a_folder_that_cannot_be_written_is_said_before_any_work(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "a.wav").write_bytes(b"sound")
    assert run("draft", "a.wav", "--out-dir", "a.wav/drafts") == 9
    one_sentence(capsys.readouterr().err)

    def refuse(*args: object, **keys: object) -> None:
        raise PermissionError(errno.EACCES, "no")

    monkeypatch.setattr("tempfile.TemporaryFile", refuse)
    assert run("draft", "a.wav", "--out-dir", "drafts") == 9
    err = capsys.readouterr().err
    one_sentence(err)
    assert "no permission" in err


@pytest.mark.usefixtures("pipeline")
def test_a_full_disk_leaves_the_old_draft_and_nothing_half_written(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "a.wav").write_bytes(b"sound")
    (tmp_path / "a.draft.json").write_text("old")
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (500, hard))
    try:
        code = run("draft", "a.wav", "--out-dir", ".")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert code == 9
    one_sentence(capsys.readouterr().err)
    assert (tmp_path / "a.draft.json").read_text() == "old"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.draft.json", "a.wav"]


@pytest.mark.usefixtures("pipeline")
def test_no_space_is_said_in_words(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "a.wav").write_bytes(b"sound")

    def full(descriptor: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    assert run("draft", "a.wav", "--out-dir", ".") == 9
    err = capsys.readouterr().err
    one_sentence(err)
    assert "the disk is full" in err
    assert [p.name for p in tmp_path.iterdir()] == ["a.wav"]


@pytest.fixture
def faulty(pipeline: list[tuple[Any, ...]], monkeypatch: pytest.MonkeyPatch) -> None:
    """Have the pipeline fail: b.txt quoting the dictation, d.txt for want of memory, e.txt on a file."""
    scripted = sys.modules["dictation.pipeline"]
    whole = scripted.draft_text

    def draft_text(text: str, *, name: str = "text", settings: Any = None, lexicon: Any = None) -> Any:
        if name == "b.txt":
            raise IndexError(f"cannot read {text!r}")
        if name == "d.txt":
            raise MemoryError
        if name == "e.txt":
            raise PermissionError(errno.EACCES, "Permission denied", "cache/words")
        return whole(text, name=name, settings=settings)

    monkeypatch.setattr(scripted, "draft_text", draft_text)


@pytest.mark.usefixtures("faulty")
def test_a_fault_of_the_program_in_one_file_does_not_stop_the_others(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for stem in "abcdef":
        (tmp_path / f"{stem}.txt").write_text("Mild swelling.", encoding="utf-8")
    assert run("draft", *(f"{stem}.txt" for stem in "abcdef"), "--out-dir", "drafts") == 1
    assert sorted(p.name for p in (tmp_path / "drafts").iterdir()) == [f"{s}.draft.json" for s in "acf"]
    told = [line for line in capsys.readouterr().err.splitlines() if not line.startswith("Drafting ")]
    assert re.fullmatch(
        r"b\.txt was not drafted: a fault in the program \(IndexError in drafting\.py, line \d+\); "
        r"please report it, without the recording or its text\.",
        told[0],
    )
    assert told[1].startswith("d.txt was not drafted: a fault in the program (MemoryError in drafting.py")
    assert told[2].startswith("e.txt was not drafted. Cannot write cache/words: no permission")
    assert "was not measured, not even on synthetic voices" in told[3]
    assert told[4:] == ["3 of 6 files were not drafted."]


@pytest.mark.usefixtures("faulty")
def test_a_traceback_is_printed_only_where_it_is_asked_for(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "b.txt").write_text("Mild swelling.", encoding="utf-8")
    assert run("draft", "b.txt", "--out-dir", "drafts") == 1
    quiet = capsys.readouterr()
    assert "Traceback" not in quiet.err + quiet.out
    assert "swelling" not in quiet.err + quiet.out
    monkeypatch.setenv("DICTATION_TRACEBACK", "1")
    assert run("draft", "b.txt", "--out-dir", "drafts") == 1
    assert "Traceback" in capsys.readouterr().err
