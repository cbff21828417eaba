"""The embedded recogniser around its decoders: breaks, levels, unread talk. What it hears is in test_contract.py."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from sounds_for_tests import SAMPLES, sample_part

from dictation.audio import RATE_HZ, Samples, Segment, find_speech
from dictation.lexicon.loading import load_lexicon
from dictation.recognition import sphinx
from dictation.recognition.agreement import HeardWord
from dictation.recognition.denoise import CLEAN_DB
from dictation.recognition.sphinx import EmbeddedRecogniser

QUIET = Samples(np.random.default_rng(4).normal(0, 20, 16_000 * 10).astype(np.int16), "0" * 64)


class Scripted:
    """A decoder that hears what it is told to. said: (word, first frame, last frame, posterior). others: next best hearings.

    at_speed: (said, score) by the length of the sound in samples, where it is not what is said otherwise.
    """

    def __init__(self, said: list[tuple[str, int, int, float]], others: tuple[str, ...] = ()) -> None:
        self._said, self.others = said, others
        self.at_speed: dict[int, tuple[list[tuple[str, int, int, float]], float]] = {}
        self.heard: list[bytes] = []

    @property
    def said(self) -> list[tuple[str, int, int, float]]:
        return self.at_speed.get(len(self.heard[-1]) // 2, (self._said, 0.5))[0]

    def reinit_feat(self) -> None: ...
    def start_utt(self) -> None: ...
    def end_utt(self) -> None: ...

    def process_raw(self, sound: bytes, full_utt: bool) -> None:
        assert full_utt
        self.heard.append(sound)

    def hyp(self) -> object:
        score = self.at_speed.get(len(self.heard[-1]) // 2, (self._said, 0.5))[1]
        return SimpleNamespace(score=score) if self.said else None

    def seg(self) -> list[SimpleNamespace]:
        return [SimpleNamespace(word=w, start_frame=a, end_frame=b, prob=p, lscore=0.98) for w, a, b, p in self.said]

    def nbest(self) -> Iterator[SimpleNamespace]:
        return (SimpleNamespace(hypstr=other) for other in self.others)

    def lookup_word(self, word: str) -> str | None:
        return {"no": "N OW", "know": "N OW", "swelling(2)": "S W EH L IH NG", "i": "AY"}.get(word)


def recogniser(words: list[tuple[str, int, int, float]], loop: list[tuple[str, int, int, float]]) -> EmbeddedRecogniser:
    made = object.__new__(EmbeddedRecogniser)
    from dictation.sounds import Sounds

    made._sounds = Sounds(load_lexicon())
    made._words, made._loop, made._following = Scripted(words), Scripted(loop), False
    return made


AGREED_WORDS = [
    ("<s>", 0, 9, 1.0),
    ("no", 10, 29, 1.0),
    ("<sil>", 30, 65, 1.0),
    ("swelling(2)", 66, 125, 1.0),
    ("</s>", 126, 130, 1.0),
]
AGREED_LOOP = [("SIL", 0, 9, 1.0), ("N", 10, 19, 1.0), ("OW", 20, 29, 1.0), ("SIL", 30, 65, 1.0)] + [
    (p, 66 + 10 * i, 75 + 10 * i, 1.0) for i, p in enumerate("S W EH L IH NG".split())
]


def test_words_times_and_breaks() -> None:
    heard = recogniser(AGREED_WORDS, AGREED_LOOP).recognise(QUIET, [Segment(1.0, 2.4), Segment(3.0, 4.4)])
    assert [w.said for w in heard.words] == ["no", "swelling"] * 2
    assert [(w.start, w.end) for w in heard.words[:2]] == [(1.1, 1.3), (1.66, 2.26)]
    assert heard.breaks == {0, 1, 2, 3}  # two segments, a pause of 0.36 s in each
    assert [w.said for w in heard.second_reading[:4]] == ["N", "OW", "S", "W"]
    assert min(w.probability or 0 for w in heard.words) > 0.8


def test_the_speed_whose_reading_scores_best_is_taken_at_the_times_of_the_sound_as_it_came() -> None:
    unsure = [(w, a, b, 0.5) for w, a, b, _ in AGREED_WORDS]
    played_faster = [("now", 10, 27, 0.9), ("swelling(2)", 62, 117, 0.9)]
    made = recogniser(unsure, AGREED_LOOP)
    made._words.at_speed = {15_000: (played_faster, 0.7), 17_000: (unsure, 0.4)}
    heard = made.recognise(QUIET, [Segment(0.0, 1.0)])
    assert [w.said for w in heard.words] == ["now", "swelling"]
    assert heard.words[0].start == pytest.approx(0.10 * 16 / 15, abs=0.006)
    assert heard.words[1].end == pytest.approx(1.0, abs=0.006)
    assert [len(one) // 2 for one in made._words.heard] == [16_000, 15_000, 17_000]
    assert [len(one) // 2 for one in made._loop.heard] == [15_000], "the loop reads the sound at the speed that is taken"


def test_a_speed_is_not_taken_for_having_fewer_frames() -> None:
    unsure = [(w, a, b, 0.5) for w, a, b, _ in AGREED_WORDS]
    made = recogniser(unsure, AGREED_LOOP)
    made._words.at_speed = {15_000: ([("now", 10, 27, 0.5)], 0.52), 17_000: ([("now", 10, 31, 0.5)], 0.47)}
    assert [w.said for w in made.recognise(QUIET, [Segment(0.0, 1.0)]).words] == ["no", "swelling"]


def test_words_on_which_the_speeds_agree_are_trusted_more() -> None:
    unsure = [(w, a, b, 0.5) for w, a, b, _ in AGREED_WORDS]
    made = recogniser(unsure, AGREED_LOOP)
    other = [("now", 10, 29, 0.5), ("swelling(2)", 66, 125, 0.5)]
    made._words.at_speed = {15_000: (other, 0.1), 17_000: (other, 0.1)}
    heard, _ = made._readings(QUIET.part(1.0, 2.0), CLEAN_DB)
    assert [w.agreed for w in heard] == [0, 1]


@pytest.mark.parametrize(
    ("posterior", "over_noise_db", "readings"), [(0.95, 30, 1), (0.93, 30, 3), (0.93, 14, 1), (0.95, 0.5, 1)]
)
def test_a_reading_that_is_sure_or_in_loud_noise_is_the_only_one(posterior: float, over_noise_db: float, readings: int) -> None:
    made = recogniser([(w, a, b, posterior) for w, a, b, _ in AGREED_WORDS], AGREED_LOOP)
    heard, _ = made._readings(QUIET.part(1.0, 2.0), over_noise_db)
    assert len(made._words.heard) == readings
    agreement = 0.0 if over_noise_db < 1 else 0.4 if posterior < 0.94 and over_noise_db < 15 else 1.0
    assert {word.agreed for word in heard} == {agreement}


def test_what_else_a_word_may_have_been_comes_from_the_next_best_hearings() -> None:
    heard = recogniser(AGREED_WORDS, AGREED_LOOP)
    heard._words.others = ("no swelling", "know welling(2)", "now swelling here", "low swelling", "no weld")
    words = heard.recognise(QUIET, [Segment(1.0, 3.0)]).words
    assert [(w.said, w.rival) for w in words] == [("no", "now"), ("swelling", "welling")], "know sounds the same: no rival"


def test_sound_that_no_words_fit_is_left_unread() -> None:
    other = [(p, 10 + 12 * i, 21 + 12 * i, 1.0) for i, p in enumerate("K AE CH DH AH B AH S K AO".split())]
    far = [(w, a, b, 0.2) for w, a, b, _ in AGREED_WORDS]
    heard = recogniser(far, other).recognise(QUIET, [Segment(1.0, 2.4)])
    assert heard.words == ()
    (unread,) = heard.unread
    assert (unread.start, unread.end, unread.text) == (1.0, 2.4, "no swelling")


def test_nothing_heard_is_nothing() -> None:
    heard = recogniser([], []).recognise(QUIET, [Segment(1.0, 2.0)])
    assert (heard.words, heard.unread, heard.breaks) == ((), (), frozenset())


def test_a_quiet_recording_is_brought_up_before_it_is_read() -> None:
    tone = np.sin(2 * np.pi * 200 * np.arange(16_000) / 16_000)
    for peak in (300, 20_000):
        sound = Samples((tone * peak).astype(np.int16), "0" * 64)
        made = recogniser(AGREED_WORDS, AGREED_LOOP)
        made.recognise(sound, [Segment(0.0, 1.0)])
        got = np.frombuffer(made._words.heard[0], "<i2")
        assert np.max(np.abs(got)) == pytest.approx(sphinx.LEVEL, rel=0.05)


def voice(seconds: float, top_hz: float = 8000.0) -> np.ndarray:
    """A harmonic sound that swells and fades, and a hiss over it as of an s; nothing of it over top_hz."""
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    sound = sum(np.sin(2 * np.pi * 150 * k * t) / k for k in range(1, 12)) * (0.5 + 0.5 * np.sin(2 * np.pi * 3 * t)) * 4000
    sound += np.random.default_rng(8).normal(0, 200, len(t))
    spectrum = np.fft.rfft(sound)
    spectrum[np.fft.rfftfreq(len(t), 1 / RATE_HZ) > top_hz] = 0
    return np.fft.irfft(spectrum, len(t))


def decoded(quiet: np.ndarray, spoken: np.ndarray) -> np.ndarray:
    """What reaches the decoder of a voice after some quiet, brought back to its own level."""
    pcm = np.concatenate([quiet, spoken]).round().astype(np.int16)
    made = recogniser(AGREED_WORDS, AGREED_LOOP)
    made.recognise(Samples(pcm, "0" * 64), [Segment(len(quiet) / RATE_HZ, len(pcm) / RATE_HZ)])
    got = np.frombuffer(made._words.heard[0], "<i2").astype(float)
    assert made._loop.heard == made._words.heard, "both readings are of the same sound"
    return got / sphinx._gain(pcm[len(quiet) :])


def error_db(got: np.ndarray, clean: np.ndarray) -> float:
    """Power of the clean sound over that of what is wrong, at whatever level it came."""
    got = got * np.dot(got, clean) / np.dot(got, got)
    return 10 * float(np.log10(np.mean(clean**2) / np.mean((got - clean) ** 2)))


def test_noise_heard_before_a_voice_is_taken_out_before_it_is_read() -> None:
    clean = voice(2.0)
    noise = np.random.default_rng(9).normal(0, np.sqrt(np.mean(clean**2) / 10), 3 * RATE_HZ)  # 10 dB under it
    noisy = clean + noise[RATE_HZ:]
    assert error_db(noisy, clean) == pytest.approx(10, abs=0.5)
    assert error_db(decoded(noise[:RATE_HZ], noisy), clean) > 12
    assert error_db(decoded(noise[:0], noisy), clean) < 10.5, "without quiet before it the noise is not known"


def test_clean_sound_is_read_as_it_is() -> None:
    clean = voice(2.0)
    room = np.random.default_rng(9).normal(0, 10, RATE_HZ)
    assert np.max(np.abs(decoded(room, clean) - clean)) < 3


def test_a_constant_offset_reaches_no_decoder() -> None:
    clean = voice(2.0)
    room = np.random.default_rng(9).normal(0, 10, RATE_HZ)
    assert np.mean(decoded(room + 330, clean + 330)) == pytest.approx(0, abs=1.0)


def test_a_telephones_empty_upper_half_is_filled_before_it_is_read() -> None:
    got = decoded(np.zeros(0), voice(2.0, 3400.0))
    power = np.abs(np.fft.rfft(got)) ** 2
    assert 10 * np.log10(power[len(power) // 2 :].sum() / power.sum()) == pytest.approx(-20, abs=1)


def test_i_is_written_with_a_capital() -> None:
    assert [sphinx._shown(w) for w in ("i", "i'm", "is", "swelling(2)", "IF")] == ["I", "I'm", "is", "swelling", "IF"]


def test_breaks_are_the_first_word_and_those_after_a_pause() -> None:
    words = [HeardWord(w, (), start, end, 1.0, 0.0) for w, start, end in (("a", 0, 10), ("b", 41, 50), ("c", 80, 90))]
    assert sphinx._breaks(words) == {0, 1}


@pytest.mark.sound
def test_segments_depend_on_no_speech_before_them(tmp_path: Path) -> None:
    made = EmbeddedRecogniser(load_lexicon(), tmp_path)
    samples = sample_part("self_corrections", 0, 15)
    segments = find_speech(samples)
    whole = made.recognise(samples, segments)
    louder = Samples(samples.pcm.copy(), samples.sha256)
    last = segments[-1]
    for segment in segments[:-1]:  # other speech before it: the same, upside down and half as loud
        louder.part(segment.start, segment.end)[:] //= -2
    again = made.recognise(louder, segments)
    assert len(segments) > 2
    assert [w for w in whole.words if w.start >= last.start] == [w for w in again.words if w.start >= last.start]
    assert any(w.start >= last.start for w in whole.words)


@pytest.mark.sound
def test_a_sample_is_mostly_heard_right(tmp_path: Path) -> None:
    """A guard against a broken vocabulary, not a figure: those are the benchmark's."""
    made = EmbeddedRecogniser(load_lexicon(), tmp_path)
    samples = sample_part("normal_hand", 0, 30)
    heard = {w.said for w in made.recognise(samples, find_speech(samples)).words}
    script = (SAMPLES / "normal_hand.txt").read_text(encoding="utf-8")
    for word in ("dominant", "erythema", "synovitis", "cascade", "deformity"):
        assert word in script
        assert word in heard
