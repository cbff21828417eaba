"""The faster-whisper path on the fixture model, and what is refused before it."""

from __future__ import annotations

import hashlib
import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from dictation.audio import Samples, Segment
from dictation.errors import OutputError, RecogniserUnavailable
from dictation.lexicon.bias import bias_words
from dictation.lexicon.loading import lexicon_folder, load_lexicon
from dictation.pipeline import load_recogniser
from dictation.recognition import choose, fetching, whisper
from dictation.recognition.choose import choose_recogniser
from dictation.recognition.fetching import SIZES_MB, Published, check_model, fetch_model
from dictation.recognition.weights import SUMS
from dictation.recognition.whisper import WhisperRecogniser, model_problem
from dictation.settings import read_settings

FIXTURE = Path(__file__).parents[1] / "fixtures" / "whisper-fixture-synthetic"
REMAINS = 'choose "embedded"'


def test_the_fixture_is_refused_outside_tests_under_any_name(tmp_path: Path) -> None:
    assert "made for tests" in (model_problem(FIXTURE) or "")
    assert model_problem(FIXTURE, fixture_allowed=True) is None
    renamed = shutil.copytree(FIXTURE, tmp_path / "large-v3")
    with pytest.raises(RecogniserUnavailable, match="made for tests"):
        choose_recogniser("auto", load_lexicon(), whisper_model=renamed)


def test_a_missing_or_broken_model_is_one_sentence_with_the_way_out(tmp_path: Path) -> None:
    half = tmp_path / "half"
    half.mkdir()
    (half / "model.bin").touch()
    for folder, what in ((tmp_path / "none", "There is no Whisper model"), (half, r"lacks config.json, tokenizer.json")):
        with pytest.raises(RecogniserUnavailable, match=what) as caught:
            choose_recogniser("whisper", load_lexicon(), whisper_model=folder)
        assert REMAINS in str(caught.value)
    with pytest.raises(RecogniserUnavailable, match="No Whisper model is set up"):
        choose_recogniser("whisper", load_lexicon())


def test_auto_never_falls_back_from_a_model_that_is_set_up_but_broken(tmp_path: Path) -> None:
    with pytest.raises(RecogniserUnavailable):
        choose_recogniser("auto", load_lexicon(), whisper_model=tmp_path / "gone")


@pytest.mark.sound
def test_a_damaged_model_file_is_a_sentence(tmp_path: Path) -> None:
    broken = shutil.copytree(FIXTURE, tmp_path / "broken")
    (broken / "model.bin").write_bytes(b"not a model")
    with pytest.raises(RecogniserUnavailable, match="cannot be loaded"):
        WhisperRecogniser(load_lexicon(), broken, fixture_allowed=True)


class Card:
    """Stands in for faster_whisper where the machine has a graphics card. fails: at "load", at "use", or where "" never."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, fails: str, count: Callable[[], int] = lambda: 1) -> None:
        self.fails, self.loaded = fails, []
        monkeypatch.setattr("ctranslate2.get_cuda_device_count", count)
        monkeypatch.setattr("faster_whisper.WhisperModel", self.load)
        monkeypatch.setattr("faster_whisper.BatchedInferencePipeline", lambda model: model)

    def load(self, folder: str, device: str, compute_type: str, local_files_only: bool) -> Card:
        assert local_files_only
        self.loaded.append(f"{device} {compute_type}")
        if device == "cuda" and self.fails == "load":
            raise RuntimeError("CUDA driver version is insufficient for CUDA runtime version")
        return self

    def transcribe(self, _sound: object, language: str) -> tuple[Iterator[Piece], None]:
        def pieces() -> Iterator[Piece]:
            if self.fails == "use":
                raise RuntimeError("Library libcublas.so.12 is not found or cannot be loaded")
            yield from ()

        return pieces(), None


@pytest.mark.parametrize("fails", ["load", "use"])
def test_where_the_graphics_card_cannot_be_used_the_processor_is_and_it_is_said(
    monkeypatch: pytest.MonkeyPatch, fails: str
) -> None:
    card = Card(monkeypatch, fails)
    model, batched, device = whisper._load(FIXTURE)
    assert (model, batched, device) == (card, card, "cpu int8 (the graphics card cannot be used)")
    assert card.loaded == ["cuda float16", "cpu int8"]
    assert device.split()[0] in whisper.TOGETHER


def test_a_graphics_card_that_works_is_used(monkeypatch: pytest.MonkeyPatch) -> None:
    card = Card(monkeypatch, "")
    assert whisper._load(FIXTURE)[2] == "cuda float16"
    assert card.loaded == ["cuda float16"]


def test_without_a_card_or_with_a_driver_that_cannot_tell_it_is_the_processor(monkeypatch: pytest.MonkeyPatch) -> None:
    def cannot_tell() -> int:
        raise RuntimeError("CUDA failed with error unknown error")

    for count in (lambda: 0, cannot_tell):
        card = Card(monkeypatch, "load", count)
        assert whisper._load(FIXTURE)[2] == "cpu int8"
        assert card.loaded == ["cpu int8"]


@dataclass
class Piece:
    """What a model gives of a stretch, as faster-whisper has it; times from the start of the sound it was given."""

    text: str
    start: float
    end: float
    words: list[SpokenWord]
    avg_logprob: float = -0.2
    compression_ratio: float = 1.2
    no_speech_prob: float = 0.01


@dataclass
class SpokenWord:
    word: str
    start: float
    end: float
    probability: float = 0.9


class Model:
    """A model that says what it is told to, alone or several windows together; keeps what it was asked."""

    def __init__(self, pieces: list[Piece], together: list[Piece] | None = None) -> None:
        self._pieces, self._together = pieces, together or []
        self.asked: list[dict[str, Any]] = []

    def transcribe(self, _sound: object, **asked: Any) -> tuple[Iterator[Piece], None]:
        self.asked.append(asked)
        return iter(self._together if "clip_timestamps" in asked else self._pieces), None


def scripted(pieces: list[Piece], together: list[Piece] | None = None) -> WhisperRecogniser:
    """A recogniser on a model that says what it is told to, so that the guards can be tried."""
    recogniser = object.__new__(WhisperRecogniser)
    recogniser.model, recogniser._hotwords, recogniser._together, recogniser._second = "scripted", "", 4, None
    recogniser._model = recogniser._batched = Model(pieces, together)
    return recogniser


def piece(text: str, start: float, end: float, **doubts: float) -> Piece:
    words = text.split()
    step = (end - start) / len(words)
    spoken = [SpokenWord(" " + w, start + i * step, start + (i + 1) * step) for i, w in enumerate(words)]
    return Piece(" " + text, start, end, spoken, **doubts)


SILENT = Samples(np.zeros(16_000 * 20, np.int16), "0" * 64)


def test_words_carry_times_probabilities_and_breaks() -> None:
    heard = scripted([piece("no swelling", 0.0, 1.0), piece("tender wrist", 2.0, 3.0)])
    said = heard.recognise(SILENT, [Segment(5.0, 9.0)])
    assert [(w.said, w.start, w.end) for w in said.words] == [
        ("no", 5.0, 5.5), ("swelling", 5.5, 6.0), ("tender", 7.0, 7.5), ("wrist", 7.5, 8.0),
    ]  # fmt: skip
    assert all(w.probability == 0.9 for w in said.words)
    assert said.breaks == {0, 2}
    assert said.unread == ()


@pytest.mark.parametrize(
    ("doubt", "reason"),
    [
        ({"compression_ratio": 3.0}, "repeated itself"),
        ({"avg_logprob": -1.4}, "unsure"),
        ({"no_speech_prob": 0.8, "avg_logprob": -0.7}, "no speech"),
    ],
)
def test_text_that_the_model_doubts_is_left_unread(doubt: dict[str, float], reason: str) -> None:
    heard = scripted([piece("thank you for watching", 0.0, 1.0, **doubt), piece("no swelling", 1.0, 2.0)])
    said = heard.recognise(SILENT, [Segment(1.0, 4.0)])
    assert [w.said for w in said.words] == ["no", "swelling"]
    (unread,) = said.unread
    assert reason in unread.reason
    assert (unread.text, unread.start, unread.end) == ("thank you for watching", 1.0, 2.0)


def test_words_where_nobody_speaks_are_left_unread() -> None:
    heard = scripted([piece("no swelling in between", 0.0, 8.0)])  # two seconds a word; speech in the first and last
    said = heard.recognise(SILENT, [Segment(0.0, 1.8), Segment(6.2, 8.0)])
    assert [w.said for w in said.words] == ["no", "between"]
    assert [u.text for u in said.unread] == ["swelling", "in"]


def test_speech_of_which_nothing_was_read_is_shown() -> None:
    heard = scripted([piece("no swelling", 0.0, 1.0)])
    said = heard.recognise(SILENT, [Segment(0.0, 1.2), Segment(3.0, 5.0), Segment(6.0, 6.3)])  # the last: a cough perhaps
    (unread,) = said.unread
    assert (unread.start, unread.end, unread.text) == (3.0, 5.0, "")
    assert "read nothing" in unread.reason


FAR = [Segment(0.0, 9.0), Segment(30.0, 39.0), Segment(60.0, 69.0)]  # a window each
LONG = Samples(np.zeros(16_000 * 70, np.int16), "0" * 64)


def test_several_windows_are_read_at_once_each_word_in_its_own() -> None:
    together = [piece("no swelling", 0.0, 8.0), piece("tender wrist", 30.0, 38.0), piece("full fist", 60.0, 68.0)]
    heard = scripted([], together)
    said = heard.recognise(LONG, FAR)
    assert [(w.said, w.start) for w in said.words[::2]] == [("no", 0.0), ("tender", 30.0), ("full", 60.0)]
    assert said.breaks == {0, 2, 4}
    (asked,) = heard._model.asked
    assert [(c["start"], c["end"]) for c in asked["clip_timestamps"]] == [(0.0, 9.0), (30.0, 39.0), (60.0, 69.0)]


def test_a_doubtful_window_of_several_is_read_again_alone_where_the_model_falls_back() -> None:
    together = [piece("no swelling", 0.0, 8.0), piece("so so so so", 30.0, 38.0, compression_ratio=3.0)]
    heard = scripted([piece("tender wrist", 0.0, 8.0)], together)
    said = heard.recognise(LONG, FAR[:2])
    assert [w.said for w in said.words] == ["no", "swelling", "tender", "wrist"]
    assert said.words[2].start == 30.0
    assert said.unread == ()
    assert ["clip_timestamps" in asked for asked in heard._model.asked] == [True, False]


def test_every_reading_has_the_same_guards_and_no_text_of_before() -> None:
    heard = scripted([piece("tender wrist", 0.0, 8.0)], [piece("so", 0.0, 8.0, avg_logprob=-2.0), piece("so", 30.0, 38.0)])
    heard.recognise(LONG, FAR[:2])
    assert len(heard._model.asked) == 2
    for asked in heard._model.asked:
        assert asked["condition_on_previous_text"] is False
        assert (asked["no_speech_threshold"], asked["log_prob_threshold"], asked["compression_ratio_threshold"]) == (
            0.6,
            -1,
            2.4,
        )
        assert "temperature" not in asked, "the library's own: 0, and up in steps of 0.2 where a guard fails"


def test_nothing_spoken_nothing_heard() -> None:
    assert scripted([piece("never asked", 0, 1)]).recognise(SILENT, []).words == ()


def test_windows_hold_whole_segments() -> None:
    segments = [Segment(i * 10.0, i * 10.0 + 9.0) for i in range(7)]
    windows = list(whisper._windows(segments))
    assert [s for w in windows for s in w] == segments
    assert len(windows) == 4
    assert all(w[-1].end - w[0].start <= whisper.WINDOW_S for w in windows)


def test_bias_words_are_the_trades_own_and_fit_the_prompt() -> None:
    words = bias_words(load_lexicon())
    assert len(words) == len(set(words)) > 200
    assert {"Phalen's", "MCP", "crepitus"} <= set(words)
    assert not {"hand", "the", "pain", "no"} & {w.lower() for w in words}
    assert len({w.lower() for w in words}) == len(words)
    assert {"Tinel", "Finkelstein", "PIN", "ulnar"} <= set(words), "eponyms and abbreviations as the lexicon writes them"
    plain = (lexicon_folder() / "plain_words.txt").read_text(encoding="utf-8").splitlines()
    assert not {"pin", *plain} & set(words)

    class Letters:
        def encode(self, text: str, add_special_tokens: bool) -> SimpleNamespace:
            return SimpleNamespace(ids=list(text))

    prompt = whisper._within(words, Letters())
    assert 100 < len(prompt) <= whisper.PROMPT_TOKENS
    assert prompt == ", ".join(words[: prompt.count(",") + 1])


class Worded(Model):
    """A scripted model with a tokeniser that gives every word three tokens."""

    class hf_tokenizer:  # named as the library has it
        @staticmethod
        def encode(_text: str, add_special_tokens: bool) -> SimpleNamespace:
            return SimpleNamespace(ids=[0, 1, 2])


@pytest.mark.parametrize("together", [False, True])
def test_whisper_is_told_of_the_trades_words_in_every_reading(monkeypatch: pytest.MonkeyPatch, together: bool) -> None:
    model = Worded([piece("no swelling", 0.0, 1.0)], [piece("no swelling", 0.0, 8.0), piece("full fist", 30.0, 38.0)])
    monkeypatch.setattr(whisper, "_load", lambda _folder: (model, model, "cpu int8"))
    lexicon = load_lexicon()
    heard = WhisperRecogniser(lexicon, FIXTURE, fixture_allowed=True)
    heard.recognise(LONG, FAR[:2] if together else FAR[:1])
    (asked,) = model.asked
    assert asked["hotwords"] == ", ".join(bias_words(lexicon)[: whisper.PROMPT_TOKENS // 3])
    assert ("clip_timestamps" in asked) is together


@pytest.mark.parametrize(("setting", "second"), [(None, True), ("on", True), ("off", False)])
def test_the_setting_of_a_second_reading_reaches_the_recogniser(
    monkeypatch: pytest.MonkeyPatch, setting: str | None, second: bool
) -> None:
    model = Worded([])
    monkeypatch.setattr(whisper, "_load", lambda _folder: (model, model, "cpu int8"))
    monkeypatch.setattr(whisper, "_second", lambda _lexicon: "the second reading")
    monkeypatch.setattr(choose, "choose_recogniser", partial(choose_recogniser, fixture_allowed=True))
    environ = {"DICTATION_WHISPER_MODEL": str(FIXTURE)} | ({"DICTATION_SECOND_READING": setting} if setting else {})
    made = load_recogniser("auto", load_lexicon(), read_settings(environ))
    assert made._second == ("the second reading" if second else None)


CONTENT = b"invented weights"
SHA256 = hashlib.sha256(CONTENT).hexdigest()
BLOB = hashlib.sha1(b"blob %d\0" % len(CONTENT) + CONTENT).hexdigest()  # as git names a file; no one's secret rests on it
PUBLISHED = {name: Published(len(CONTENT), SHA256 if name == "model.bin" else BLOB) for name in whisper.NEEDED}


def _serve(monkeypatch: pytest.MonkeyPatch, **contents: bytes) -> list[str]:
    """Stand in for the network: a fetch puts these files in place (_ for a dot). Returns the revisions asked for."""
    asked: list[str] = []

    def download(_name: str, revision: str, folder: Path) -> None:
        asked.append(revision)
        for name, content in contents.items():
            (folder / name.replace("_", ".")).write_bytes(content)

    monkeypatch.setattr(fetching, "_published", lambda _name: ("revision 7", PUBLISHED))
    monkeypatch.setattr(fetching, "_download", download)
    return asked


def test_fetching_says_size_place_and_checksum_first_and_goes_on_where_it_stopped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    said: list[str] = []
    _serve(monkeypatch, config_json=CONTENT)
    with pytest.raises(RecogniserUnavailable, match="incomplete"):
        fetch_model("small.en", tmp_path, said.append)
    assert re.search(r"Whisper small\.en, \d+ MB, into .*whisper-small\.en", said[0])
    assert SHA256 in said[1]
    assert not (tmp_path / "whisper-small.en").exists()
    asked = _serve(monkeypatch, model_bin=CONTENT, tokenizer_json=CONTENT)  # config.json is there from before
    place = fetch_model("small.en", tmp_path, said.append)
    assert asked == ["revision 7"]
    assert model_problem(place) is None
    assert "checksums of all 3 files agree" in said[-1]
    assert f"{SHA256}  model.bin" in (place / SUMS).read_text(encoding="utf-8").splitlines()
    monkeypatch.setattr(fetching, "_download", lambda *_: pytest.fail("fetched again"))
    assert fetch_model("small.en", tmp_path, said.append) == place


@pytest.mark.parametrize("name", whisper.NEEDED)
def test_weights_altered_on_their_way_are_refused_and_fetched_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    whole = dict.fromkeys((needed.replace(".", "_") for needed in whisper.NEEDED), CONTENT)
    _serve(monkeypatch, **whole | {name.replace(".", "_"): CONTENT.upper()})
    with pytest.raises(RecogniserUnavailable, match=rf"not what was published \({re.escape(name)} differ\)"):
        fetch_model("small.en", tmp_path, lambda _: None)
    assert model_problem(tmp_path / "whisper-small.en") is not None
    assert not (tmp_path / "whisper-small.en.part" / name).exists()


def _fetched(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    _serve(monkeypatch, **dict.fromkeys((needed.replace(".", "_") for needed in whisper.NEEDED), CONTENT))
    return fetch_model("small.en", tmp_path, lambda _: None)


def test_weights_cut_short_since_they_were_fetched_are_refused_and_can_be_fetched_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = _fetched(tmp_path, monkeypatch)
    (place / "model.bin").write_bytes(CONTENT[:-1])
    with pytest.raises(RecogniserUnavailable, match=r"not as it was fetched \(model\.bin\); fetch it again"):
        choose_recogniser("whisper", load_lexicon(), whisper_model=place)
    assert _fetched(tmp_path, monkeypatch) == place
    assert model_problem(place) is None


def test_weights_are_compared_with_the_checksums_kept_when_they_were_fetched(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = _fetched(tmp_path, monkeypatch)
    assert check_model("small.en", tmp_path) == f"All 3 files in {place} are what was fetched."
    (place / "model.bin").write_bytes(CONTENT.upper())  # of the same size
    assert model_problem(place) is None
    with pytest.raises(RecogniserUnavailable, match=r"not what was fetched \(model\.bin differ\).*delete that folder"):
        check_model("small.en", tmp_path)
    (place / SUMS).unlink()
    with pytest.raises(RecogniserUnavailable, match="No checksums were kept"):
        check_model("small.en", tmp_path)
    with pytest.raises(RecogniserUnavailable, match="There is no Whisper model"):
        check_model("base.en", tmp_path)


def test_weights_fetched_before_sizes_were_kept_are_compared_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = _fetched(tmp_path, monkeypatch)
    sums = [line for line in (place / SUMS).read_text("utf-8").splitlines(keepends=True) if not line.startswith("#")]
    (place / SUMS).write_text("".join(sums), "utf-8")
    assert model_problem(place) is None
    assert "All 3 files" in check_model("small.en", tmp_path)


def test_fetching_refuses_what_it_does_not_know_and_where_it_cannot_write(tmp_path: Path) -> None:
    with pytest.raises(RecogniserUnavailable, match=r"tiny\.en"):
        fetch_model("enormous", tmp_path, lambda _: None)
    (tmp_path / "file").touch()
    with pytest.raises(OutputError, match="cannot be written"):
        fetch_model("tiny.en", tmp_path / "file", lambda _: None)
    assert min(SIZES_MB.values()) > 50
