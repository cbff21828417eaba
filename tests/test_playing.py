"""A stretch of a recording is played through whatever the machine has, or a sentence says that it has nothing."""

from __future__ import annotations

import sys
import types
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from sounds_for_tests import write_sound

from dictation.audio import RATE_HZ, read_audio
from dictation.errors import AudioError, InputError
from dictation.playing import player, widened


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    """Four seconds, each sample its own number, so that what was played can be told."""
    path = tmp_path / "a.wav"
    write_sound(path, np.arange(4 * RATE_HZ, dtype=np.int64).astype(np.int16).reshape(1, -1), RATE_HZ, "pcm_s16le")
    return path


@pytest.fixture
def silent(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[Path]:
    """A machine with no sound library; gives the only folder where programs are looked for."""
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    folder = tmp_path / "programs"
    folder.mkdir()
    monkeypatch.setenv("PATH", str(folder))
    return folder


def _program(folder: Path, name: str, script: str) -> None:
    path = folder / name
    path.write_text(f"#!/bin/sh\n{script}\n")
    path.chmod(0o700)


@pytest.mark.parametrize("name", ["aplay", "pacat"])
def test_the_system_s_player_is_given_the_stretch_with_a_margin(
    recording: Path, silent: Path, tmp_path: Path, name: str
) -> None:
    _program(silent, name, f'/bin/cat > "{tmp_path}/heard"; echo "$@" > "{tmp_path}/asked"')
    player(lambda: recording)([(1.0, 2.0)])
    heard = np.frombuffer((tmp_path / "heard").read_bytes(), dtype="<i2")
    assert np.array_equal(heard, read_audio(recording).part(0.3, 2.7))
    assert len(heard) == round(2.4 * RATE_HZ)
    assert str(RATE_HZ) in (tmp_path / "asked").read_text()


def test_a_sound_library_is_preferred(recording: Path, silent: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    _program(silent, "aplay", "exit 1")
    heard: list[bytes] = []

    class Stream:
        def __init__(self, **asked: object) -> None:
            assert asked == {"samplerate": RATE_HZ, "channels": 1, "dtype": "int16"}

        def __enter__(self) -> Stream:
            return self

        def __exit__(self, *_: object) -> None: ...

        def write(self, pcm: bytes) -> None:
            heard.append(pcm)

    library = types.SimpleNamespace(RawOutputStream=Stream, PortAudioError=RuntimeError)
    monkeypatch.setitem(sys.modules, "sounddevice", library)
    player(lambda: recording)([(1.0, 1.5), (3.0, 3.2)])
    assert [len(pcm) // 2 for pcm in heard] == [round(1.9 * RATE_HZ), round(1.6 * RATE_HZ)]


def test_where_the_sound_library_finds_no_way_the_system_s_player_is_used(
    recording: Path, silent: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_way(**asked: object) -> None:
        raise RuntimeError

    library = types.SimpleNamespace(RawOutputStream=no_way, PortAudioError=RuntimeError)
    monkeypatch.setitem(sys.modules, "sounddevice", library)
    with pytest.raises(AudioError, match="the sound library found no way to play it"):
        player(lambda: recording)([(1.0, 1.5)])
    _program(silent, "aplay", f'/bin/cat > "{tmp_path}/heard"')
    player(lambda: recording)([(1.0, 1.5)])
    assert (tmp_path / "heard").stat().st_size == 2 * round(1.9 * RATE_HZ)


def test_where_nothing_can_play_a_sentence_says_where_to_listen(recording: Path, silent: Path) -> None:
    with pytest.raises(AudioError, match=r"nothing to play sound with.*0:00"):
        player(lambda: recording)([(1.0, 2.0)])


def test_a_player_that_fails_is_a_sentence(recording: Path, silent: Path) -> None:
    _program(silent, "aplay", "echo secret >&2; exit 1")
    with pytest.raises(AudioError, match="could not be played: aplay") as caught:
        player(lambda: recording)([(2.0, 2.5)])
    assert "secret" not in str(caught.value)


def test_a_recording_that_is_gone_says_so_when_it_is_to_be_played(silent: Path) -> None:
    def gone() -> Path:
        raise InputError("Its sound was deleted.")

    play = player(gone)
    with pytest.raises(InputError, match="deleted"):
        play([(1.0, 2.0)])


def test_stretches_that_meet_are_played_once() -> None:
    assert widened([(5.0, 6.0), (1.0, 2.0), (2.5, 3.0)]) == [(0.3, 3.7), (4.3, 6.7)]
    assert widened([(0.2, 0.4)])[0][0] == 0
