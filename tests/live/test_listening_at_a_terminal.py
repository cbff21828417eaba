"""Live dictation at a terminal: what is put out of each state, and what typed words do."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from sounds_for_tests import sample_part
from test_dictating import drafting

from dictation.audio import RATE_HZ, Segment, read_audio
from dictation.errors import InputError
from dictation.lexicon.loading import load_lexicon
from dictation.live.dictating import KEPT_ON, Now
from dictation.live.microphone import microphone, playing
from dictation.live.shown import ANOTHER
from dictation.recognition.listening import Utterance
from dictation.terminal.listen import HELP, Lines, steer
from dictation.transcript import Transcript, Word, joined


def after(*said: str) -> Now:
    """How a dictation stands after these utterances."""
    utterances = []
    for i, text in enumerate(said):
        words = tuple(Word(w, i * 10.0 + k / 2, i * 10.0 + k / 2 + 0.4, 0.99) for k, w in enumerate(text.split()))
        utterances.append(Utterance(Segment(i * 10.0, i * 10.0 + 5), Transcript(words, frozenset({0}))))
    draft, sides = drafting(joined(u.transcript for u in utterances), 60.0, ("scripted", None))
    return Now(version=len(said), state="listening", utterances=tuple(utterances), draft=draft, sides=sides)


@pytest.fixture
def shown() -> list[str]:
    return []


def test_each_state_puts_out_what_is_new(shown: list[str]) -> None:
    lines = Lines(load_lexicon(), lambda line, _: shown.append(line))
    lines(after("left wrist extension fifty"))
    assert shown == ["  “left wrist extension fifty”", "Move: Wrist extension on the LEFT: 50°.", "Side now: LEFT"]
    shown.clear()
    lines(after("left wrist extension fifty", "correction sixty"))
    assert shown[0] == "  “correction sixty”"
    assert shown[1:3] == ["Taken back: Wrist extension on the LEFT: 50°.", "Move: Wrist extension on the LEFT: 60°."]


def test_a_caution_is_shown_at_once_and_once(shown: list[str]) -> None:
    lines = Lines(load_lexicon(), lambda line, _: shown.append(line))
    lines(after("right hand", "tender in the snuffbox"))
    assert [line for line in shown if line.startswith("Caution, if heard right: ")]
    shown.clear()
    lines(after("right hand", "tender in the snuffbox", "no swelling"))
    assert not [line for line in shown if line.startswith("Caution")]


def test_another_patient_is_said_while_dictating(shown: list[str]) -> None:
    lines = Lines(load_lexicon(), lambda line, _: shown.append(line))
    lines(after("left wrist no swelling"))
    assert ANOTHER not in shown
    lines(after("left wrist no swelling", "next patient", "right elbow tender"))
    assert shown.count(ANOTHER) == 1


def test_what_was_not_mentioned_is_told_at_the_end_for_the_purpose(shown: list[str]) -> None:
    lines = Lines(load_lexicon(), lambda line, _: shown.append(line), purpose="nerve")
    lines(after("left wrist", "tinel's negative at the carpal tunnel"))
    shown.clear()
    lines.end()
    assert "Phalen" in shown[0]
    assert "Tinel" not in shown[0]


def test_lateness_and_a_lost_recogniser_are_said_once(shown: list[str]) -> None:
    lines = Lines(load_lexicon(), lambda line, _: shown.append(line))
    for late_s in (6.0, 7.0):
        lines(Now(late_s=late_s, message=KEPT_ON))
    assert shown == [KEPT_ON, "The words come 6 s late; your sound is kept, and they catch up."]


class _Recorder:
    """Stands for a dictation: keeps what it was told to do."""

    def __init__(self) -> None:
        self.told: list[str] = []
        self.now = Now(state="listening", recorded_s=72.0)

    def pause(self) -> None:
        self.told.append("pause")
        self.now = Now(state="paused", recorded_s=72.0)

    def go_on(self) -> None:
        self.told.append("go on")
        self.now = Now(state="listening", recorded_s=72.0)

    def mark(self) -> None:
        self.told.append("mark")


def test_typed_words_steer_it(shown: list[str]) -> None:
    recorder, typed = _Recorder(), iter(["", "p", "p", "stop", "w", "no", "e"])
    assert steer(recorder, lambda _: next(typed), lambda line, _: shown.append(line))  # type: ignore[arg-type]
    assert recorder.told == ["mark", "pause", "go on"]
    assert "Marked at 1:12." in shown
    assert shown.count(HELP) == 2, "once at the start, once for a word that is none"
    assert "Nothing was deleted." in shown


def test_consent_is_withdrawn_only_by_a_yes() -> None:
    typed = iter(["withdraw", "yes"])
    assert not steer(_Recorder(), lambda _: next(typed), lambda *_: None)  # type: ignore[arg-type]


def test_without_a_microphone_it_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "sounddevice", None)
    with pytest.raises(InputError, match=r"\[sound\]"), microphone(lambda _: None):
        pass


def test_a_file_is_played_whole_and_in_order(tmp_path: Path) -> None:
    import av

    path, pcm = tmp_path / "short.wav", sample_part("self_corrections", 0, 1).pcm
    with av.open(str(path), "w") as out:
        stream = out.add_stream("pcm_s16le", rate=RATE_HZ, layout="mono")
        frame = av.AudioFrame.from_ndarray(pcm[None, :], format="s16", layout="mono")
        frame.sample_rate = RATE_HZ
        for packet in (*stream.encode(frame), *stream.encode(None)):
            out.mux(packet)
    heard: list[np.ndarray] = []
    with playing(heard.append, path):
        import time

        until = time.monotonic() + 10
        while sum(map(len, heard)) < len(pcm) and time.monotonic() < until:
            time.sleep(0.02)
    assert np.array_equal(np.concatenate(heard), read_audio(path).pcm)
