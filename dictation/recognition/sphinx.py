"""The embedded recogniser: pocketsphinx with its own acoustic model and a vocabulary compiled from the lexicon.

Works with no download. Each segment is read by the words of the vocabulary, at several speeds where one leaves doubt, and by a
loop of phones that knows no words; agreement.py says how far they agree. Every segment is decoded in one call with features
normalised over that segment alone, so a segment's words depend on nothing heard before but the noise of the latest quiet.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from dictation.audio import RATE_HZ, Samples, Segment, resampled
from dictation.lexicon.entries import Lexicon
from dictation.lexicon.vocabulary import Vocabulary, compile_vocabulary
from dictation.recognition.agreement import HeardWord, Phone, is_talk, probability, weigh
from dictation.recognition.clean_speech import CleanSpeech
from dictation.recognition.denoise import CLEAN_DB, QUIET_S, Noise, centred, is_narrow, speech_over_noise_db, unfolded
from dictation.recognition.phone_loop import decode, loop_decoder, loop_phones
from dictation.recognition.protocol import Progress
from dictation.recognition.rivals import HEARINGS, rivals
from dictation.recognition.speeds import RATES_HZ, agreed, agreement_alone
from dictation.recognition.stock import stock
from dictation.sounds import Sounds
from dictation.transcript import Transcript, Unread, Word, joined

if TYPE_CHECKING:
    from numpy.typing import NDArray

FRAMES_PER_S = 100
PAUSE_S = 0.3  # silence inside a segment that counts as a break
LEVEL = 0.5 * 32768  # what a segment's loud parts (99.9th percentile) are brought to
SCORE_SHIFT = 1024.0  # pocketsphinx keeps language scores shifted by ten bits
NO_WORD = ("<", "[", "+")  # how silence and noises begin, among the decoder's words
TALK_REASON = "the sound does not agree with any words of an examination"
# More states than this per frame cost time and change no word of the tuning sounds.
WORD_SEARCH: dict[str, Any] = {"maxhmmpf": 10_000, "maxwpf": 20}
GUESS_SEARCH: dict[str, Any] = {"fwdflat": False, "bestpath": False, "maxhmmpf": 3_000}


class EmbeddedRecogniser:
    """See the module. cache_dir: where the compiled vocabulary is kept; default the user's cache folder."""

    name = "embedded"

    def __init__(self, lexicon: Lexicon, cache_dir: Path | None = None) -> None:
        self.model: str | None = f"pocketsphinx en-us, lexicon {lexicon.version}"
        self._sounds = Sounds(lexicon)
        self._vocabulary = compile_vocabulary(lexicon, self._sounds.pronounce, stock(), cache_dir)
        self._words, self._loop = _word_decoder(self._vocabulary), loop_decoder()
        self._following = False  # the decoder of guesses is in the middle of an utterance

    @cached_property
    def _guesses(self) -> Any:
        """A decoder for words so far alone: were it the one of final words, these would wait for its utterance to end."""
        return _word_decoder(self._vocabulary, **GUESS_SEARCH)

    @cached_property
    def clean_speech(self) -> CleanSpeech:
        """What takes noise out of a segment; read from the acoustic model where there is noise."""
        return CleanSpeech()

    def recognise(self, samples: Samples, segments: Sequence[Segment], progress: Progress | None = None) -> Transcript:
        """Return the words in the segments; see Recogniser."""
        listener = self.begin()
        found: list[Transcript] = []
        ended = 0.0
        for segment in segments:
            listener.quiet(samples.part(max(ended, segment.start - QUIET_S), segment.start))
            found.append(listener.utterance(samples.part(segment.start, segment.end), segment.start))
            ended = segment.end
            if progress:
                progress(segment.end, samples.duration_s)
        return joined(found)

    def begin(self) -> EmbeddedListener:
        """Return a listener; see Recogniser."""
        return EmbeddedListener(self)

    def read(self, part: NDArray[np.int16], start_s: float, over_noise_db: float) -> Transcript:
        """Return the words of one segment, start_s into its recording, its readings weighed against each other.

        over_noise_db: how far the voice stood over the noise before that was taken out; CLEAN_DB where that is not known.
        """
        heard, loop = self._readings(part, over_noise_db)
        segment = Segment(start_s, start_s + len(part) / RATE_HZ)
        second = tuple(_word(p.name, p, segment) for p in loop if p.name != "SIL")
        sure = [probability(e) for e in weigh(heard, loop, self._sounds.distance)]
        if is_talk(heard, sure):
            text = " ".join(w.text for w in heard)
            return Transcript((), second_reading=second, unread=(Unread(segment.start, segment.end, text, TALK_REASON),))
        words = tuple(replace(_word(w.text, w, segment, p), rival=w.rival) for w, p in zip(heard, sure, strict=True))
        return Transcript(words, frozenset(_breaks(heard)), second)

    def follow(self, part: NDArray[np.int16], fresh: bool) -> tuple[str, ...]:
        """Return the words so far of an utterance going on; see Listener."""
        guesses = self._guesses
        if fresh:
            if self._following:
                guesses.end_utt()
            guesses.reinit_feat()
            guesses.start_utt()
            self._following = True
        guesses.process_raw(part.tobytes(), full_utt=False)
        found = guesses.hyp()
        return tuple(_shown(word) for word in found.hypstr.split()) if found else ()

    def _readings(self, part: NDArray[np.int16], over_noise_db: float) -> tuple[list[HeardWord], list[Phone]]:
        """The words at the speed that fits the voice best, and the phones of the loop at that speed."""
        readings = [self._reading(part, RATE_HZ)]
        alone = agreement_alone(readings[0].words, over_noise_db)
        if alone is None:
            readings += [self._reading(resampled(part, rate_hz), rate_hz) for rate_hz in RATES_HZ]
        best = max(readings, key=lambda reading: reading.score)
        others = [reading.words for reading in readings if reading is not best]
        heard = [replace(word, agreed=agreed(word, others) if alone is None else alone) for word in best.words]
        share = RATE_HZ / best.rate_hz
        loop = loop_phones(self._loop, resampled(part, best.rate_hz))
        return heard, [Phone(p.name, round(p.start * share), round(p.end * share)) for p in loop]

    def _reading(self, part: NDArray[np.int16], rate_hz: int) -> _Reading:
        """The words of sound played at a speed, their frames those of the sound as it came."""
        found = [seg for seg in decode(self._words, part) if not seg.word.startswith(NO_WORD)]
        if not found:
            return _Reading([], -math.inf, rate_hz)
        instead = self._rivals([_shown(seg.word) for seg in found])
        share, words = RATE_HZ / rate_hz, list[HeardWord]()
        for seg, rival in zip(found, instead, strict=True):
            phones = tuple((self._words.lookup_word(seg.word) or "").split())
            language = math.log(max(seg.lscore, 1e-300)) * SCORE_SHIFT
            start, end = round(seg.start_frame * share), round((seg.end_frame + 1) * share)
            words.append(HeardWord(_shown(seg.word), phones, start, end, seg.prob, language, rival))
        # What is played faster has fewer frames, and a score is lost with each: by the frame, no speed is favoured.
        return _Reading(words, math.log(max(self._words.hyp().score, 1e-300)) * share, rate_hz)

    def _rivals(self, words: Sequence[str]) -> list[str | None]:
        """What the words of the utterance just decoded may have been instead."""
        others = ([_shown(word) for word in one.hypstr.split()] for one in islice(self._words.nbest(), HEARINGS) if one)
        return rivals(words, others, lambda a, b: self._said(a) == self._said(b))

    def _said(self, word: str) -> str:
        return self._words.lookup_word(word) or self._words.lookup_word(word.lower()) or word


@dataclass(frozen=True, slots=True)
class _Reading:
    """What the decoder of words made of an utterance at one speed. score: log-probability, as if at 16 000 Hz."""

    words: list[HeardWord]
    score: float
    rate_hz: int


class EmbeddedListener:
    """One recording heard in order; see Listener."""

    def __init__(self, recogniser: EmbeddedRecogniser) -> None:
        self._recogniser = recogniser
        self._noise = Noise()
        self._gain = 1.0

    def quiet(self, pcm: NDArray[np.int16]) -> None:
        """Measure the noise; see Listener."""
        self._noise.hear(pcm)

    def utterance(self, pcm: NDArray[np.int16], start_s: float) -> Transcript:
        """Take out the noise, bring the sound to one level, and read it; see Listener."""
        pcm = centred(pcm)
        noise = self._noise.frames()
        over_noise_db = CLEAN_DB if noise is None else speech_over_noise_db(pcm, noise)
        part = self._recogniser.clean_speech.estimate(pcm, noise) if noise is not None and over_noise_db < CLEAN_DB else pcm
        if is_narrow(pcm):
            part = unfolded(part)
        return self._recogniser.read(levelled(part), start_s, over_noise_db)

    def follow(self, pcm: NDArray[np.int16], fresh: bool) -> tuple[str, ...]:
        """Return the words so far, noise and all; see Listener."""
        if fresh:
            self._gain = _gain(pcm)
        return self._recogniser.follow(_raised(pcm, self._gain), fresh)


def _word_decoder(vocabulary: Vocabulary, **more: Any) -> Any:
    from pocketsphinx import Decoder

    options = WORD_SEARCH | more
    return Decoder(dict=str(vocabulary.dictionary), lm=str(vocabulary.model), loglevel="FATAL", **options)


def _shown(word: str) -> str:
    """The word without its pronunciation's number, and I in capitals."""
    word = word.split("(")[0]
    return "I" + word[1:] if word == "i" or word.startswith("i'") else word


def _word(text: str, at: HeardWord | Phone, segment: Segment, sure: float | None = None) -> Word:
    start, end = segment.start + at.start / FRAMES_PER_S, segment.start + at.end / FRAMES_PER_S
    return Word(text, round(start, 2), round(min(end, segment.end), 2), None if sure is None else round(sure, 3))


def _breaks(heard: Sequence[HeardWord]) -> set[int]:
    """Indices of the first word of a segment and of words after a pause."""
    return {i for i, word in enumerate(heard) if i == 0 or word.start - heard[i - 1].end > PAUSE_S * FRAMES_PER_S}


def levelled(part: NDArray[np.int16]) -> NDArray[np.int16]:
    """Return sound brought to the level that the decoders like."""
    return _raised(part, _gain(part))


def _gain(part: NDArray[np.int16]) -> float:
    loud = float(np.percentile(np.abs(part.astype(np.float32)), 99.9)) if len(part) else 0.0
    return min(64.0, LEVEL / loud) if loud > 0 else 1.0


def _raised(part: NDArray[np.int16], gain: float) -> NDArray[np.int16]:
    return np.asarray(np.clip(part * gain, -32768, 32767), np.int16)
