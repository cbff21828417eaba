"""The command that says what a recording is like, and the same in a draft and beside it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import running
from running import Run, one_sentence
from sounds_for_tests import sample_part, write_sound

from dictation import pipeline
from dictation.audio import Samples
from dictation.pipeline import draft_audio
from dictation.settings import read_settings
from dictation.transcript import Transcript, Word

run = running.run  # fixture


def in_noise(over_db: float) -> np.ndarray:
    """Ten seconds of a sample with white noise so far under its voice."""
    pcm = sample_part("normal_hand", 0, 10).pcm.astype(np.float64)
    level = np.sqrt(np.mean(pcm[np.abs(pcm) > 300] ** 2)) * 10 ** (-over_db / 20)
    noisy = pcm + np.random.default_rng(1).normal(0, level, len(pcm))
    return (noisy * 0.5).clip(-32768, 32767).astype(np.int16)[None, :]


def test_good_and_bad_sound_are_told_apart(run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_sound(tmp_path / "good.wav", in_noise(60), 16_000, "pcm_s16le")
    write_sound(tmp_path / "bad.wav", in_noise(3), 16_000, "pcm_s16le")
    assert run("sound-check", "good.wav", "bad.wav") == 0
    good, bad = capsys.readouterr().out.split("bad.wav")
    assert "Nothing to warn of." in good
    assert "noise is loud" in bad
    assert "too poor to trust" in bad
    assert sorted(p.name for p in tmp_path.iterdir()) == ["bad.wav", "good.wav"], "nothing is written"


def test_what_is_no_sound_is_a_sentence(run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "letter.wav").write_text("Dear Doctor")
    assert run("sound-check", "letter.wav") == 4
    one_sentence(capsys.readouterr().err)


def test_a_bad_file_stops_no_other(run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "letter.wav").write_text("Dear Doctor")
    write_sound(tmp_path / "good.wav", in_noise(60), 16_000, "pcm_s16le")
    assert run("sound-check", "letter.wav", "missing.wav", "good.wav") == 4, "the code of the first that failed"
    found = capsys.readouterr()
    assert "good.wav: 10 s" in found.out
    assert [line.split()[0] for line in found.err.splitlines()] == ["letter.wav", "There"]


class Scripted:
    name, model = "embedded", None

    def recognise(self, samples: Samples, segments: object, progress: object) -> Transcript:
        words = "Left wrist swollen".split()
        return Transcript(tuple(Word(w, float(i), i + 0.5, 0.97) for i, w in enumerate(words)))


@pytest.mark.parametrize(("over_db", "poor"), [(60.0, False), (3.0, True)])
def test_a_draft_holds_it_and_flags_every_field_of_poor_sound(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, over_db: float, poor: bool
) -> None:
    from dictation.recognition import choose

    monkeypatch.setattr(choose, "choose_recogniser", lambda *_, **__: Scripted())
    path = write_sound(tmp_path / "a.wav", in_noise(over_db), 16_000, "pcm_s16le")
    record = draft_audio(path, settings=read_settings({}))
    assert record.source.sound is not None
    assert record.source.sound.poor is poor
    assert bool(record.source.sound.warnings) is poor
    assert [f.checked() for f in record.fields] == [poor]
    assert pipeline.draft_text("Left wrist swollen.").source.sound is None
