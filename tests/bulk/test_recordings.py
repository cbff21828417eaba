"""Which recordings a run is about, and when one that is still being written is taken up."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from dictation.bulk.recordings import Recordings, find_recordings
from dictation.bulk.watching import Watch
from dictation.errors import InputError


def _files(folder: Path, *names: str) -> None:
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(b"sound")


def _names(found: Recordings) -> list[str]:
    return [one.name for one in found.found]


def test_folders_are_read_with_all_that_is_in_them_and_drafts_mirror_them(tmp_path: Path) -> None:
    _files(tmp_path, "in/b/1.wav", "in/a/1.WAV", "in/notes.doc", "in/.hidden.wav", "in/.trash/1.wav", "single.mp3")
    found = find_recordings([tmp_path / "in", tmp_path / "single.mp3"], tmp_path / "out")
    assert _names(found) == ["a/1.WAV", "b/1.wav", "single.mp3"]
    targets = [one.target.relative_to(tmp_path).as_posix() for one in found.found]
    assert targets == ["out/a/1.draft.json", "out/b/1.draft.json", "out/single.draft.json"]
    assert (found.clashing, found.others) == ([], 1)


def test_patterns_name_files_and_a_file_named_itself_needs_none(tmp_path: Path) -> None:
    _files(tmp_path, "in/a.txt", "in/b.wav", "in/c.dat", "d.dat")
    assert _names(find_recordings([tmp_path / "in"], tmp_path / "out", ["*.TXT", "c.*"])) == ["a.txt", "c.dat"]
    assert _names(find_recordings([tmp_path / "d.dat"], tmp_path / "out")) == ["d.dat"]


def test_drafts_beside_their_recordings_are_not_taken_for_recordings(tmp_path: Path) -> None:
    _files(tmp_path, "a.txt", "a.draft.json", "drafts/x.txt")
    found = find_recordings([tmp_path], tmp_path, ["*"])
    assert _names(found) == ["a.txt", "drafts/x.txt"]
    assert _names(find_recordings([tmp_path], tmp_path / "drafts", ["*.txt"])) == ["a.txt"]


def test_two_recordings_of_one_draft_are_both_named_and_neither_is_drafted(tmp_path: Path) -> None:
    _files(tmp_path, "in/a.wav", "in/a.mp3", "in/b.wav")
    found = find_recordings([tmp_path / "in"], tmp_path / "out")
    assert (_names(found), [one.name for one in found.clashing]) == (["b.wav"], ["a.mp3", "a.wav"])


def test_the_same_file_named_twice_is_one_recording(tmp_path: Path) -> None:
    _files(tmp_path, "in/a.wav")
    assert _names(find_recordings([tmp_path / "in", tmp_path / "in" / "a.wav"], tmp_path / "out")) == ["a.wav"]


def test_what_is_not_there_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="There is no folder or file"):
        find_recordings([tmp_path / "none"], tmp_path)


def test_a_recording_is_taken_up_once_nothing_writes_to_it_any_more(tmp_path: Path) -> None:
    watch = Watch(lambda: find_recordings([tmp_path], tmp_path / "out"))
    _files(tmp_path, "a.wav", "b.wav")
    assert _names(watch.look()) == []  # they may still be growing
    (tmp_path / "b.wav").write_bytes(b"more sound")
    assert _names(watch.look()) == ["a.wav"]
    assert _names(watch.look()) == ["b.wav"]
    assert _names(watch.look()) == []  # each is given once
    os.utime(tmp_path / "a.wav", (1, 1))
    assert _names(watch.look()) == []
    assert _names(watch.look()) == ["a.wav"]  # changed since
