"""The embedded recogniser: pocketsphinx with its own acoustic model and a vocabulary compiled from the lexicon.

Works with no download. Each segment is read twice: by the words of the vocabulary, and by a loop of phones that knows no
words; agreement.py says how far the two agree. Every segment is decoded in one call with features normalised over that
segment alone, so a segment's words depend on nothing heard before.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from dictation.audio import Samples, Segment
from dictation.lexicon.entries import Lexicon
from dictation.lexicon.vocabulary import Vocabulary, compile_vocabulary
from dictation.recognition.agreement import HeardWord, Phone, is_talk, probability, weigh
from dictation.recognition.denoise import CLEAN_DB, denoised, noise_spectrum, speech_over_noise_db
from dictation.recognition.protocol import Progress
from dictation.recognition.stock import stock
from dictation.sounds import Sounds
from dictation.transcript import Transcript, Unread, Word

FRAMES_PER_S = 100
NOISE_SAMPLES = 16_000 * 600  # of the start of a recording, in which its noise is measured
PAUSE_S = 0.3  # silence inside a segment that counts as a break
LEVEL = 0.5 * 32768  # what a recording's loud parts (99.9th percentile) are brought to
SCORE_SHIFT = 1024.0  # pocketsphinx keeps language scores shifted by ten bits
TALK_REASON = "the sound does not agree with any words of an examination"
# More states than this per frame cost time and change no word of the tuning sounds.
WORD_SEARCH: dict[str, Any] = {"maxhmmpf": 10_000, "maxwpf": 20}
PHONE_SEARCH: dict[str, Any] = {"lw": 2.0, "pip": 0.3, "beam": 1e-20, "pbeam": 1e-20}


class EmbeddedRecogniser:
    """See the module. cache_dir: where the compiled vocabulary is kept; default the user's cache folder."""

    name = "embedded"

    def __init__(self, lexicon: Lexicon, cache_dir: Path | None = None) -> None:
        self.model: str | None = f"pocketsphinx en-us, lexicon {lexicon.version}"
        self._sounds = Sounds(lexicon)
        self._vocabulary = compile_vocabulary(lexicon, self._sounds.pronounce, stock(), cache_dir)
        self._words, self._loop = _decoders(self._vocabulary)

    def recognise(self, samples: Samples, segments: Sequence[Segment], progress: Progress | None = None) -> Transcript:
        """Return the words in the segments; see Recogniser."""
        noise = noise_spectrum(samples.pcm[:NOISE_SAMPLES], _speech_mask(samples, segments))
        gain = _gain(samples)
        words: list[Word] = []
        breaks: set[int] = set()
        second: list[Word] = []
        unread: list[Unread] = []
        for segment in segments:
            part = samples.part(segment.start, segment.end)
            if noise is not None and speech_over_noise_db(part, noise) < CLEAN_DB:
                part = denoised(part, noise)
            part = np.clip(part * gain, -32768, 32767).astype(np.int16)
            heard = list(self._heard(part))
            loop = list(self._phones(part))
            second += [_word(p.name, p, segment) for p in loop if p.name != "SIL"]
            sure = [probability(e) for e in weigh(heard, loop, self._sounds.distance)]
            if is_talk(heard, sure):
                text = " ".join(w.text for w in heard)
                unread.append(Unread(segment.start, segment.end, text, TALK_REASON))
            else:
                breaks |= _breaks(heard, len(words))
                words += [_word(w.text, w, segment, p) for w, p in zip(heard, sure, strict=True)]
            if progress:
                progress(segment.end, samples.duration_s)
        return Transcript(tuple(words), frozenset(breaks), tuple(second), tuple(unread))

    def _heard(self, part: Any) -> Iterator[HeardWord]:
        for seg in _decode(self._words, part):
            if not seg.word.startswith(("<", "[", "+")):
                phones = tuple((self._words.lookup_word(seg.word) or "").split())
                language = math.log(max(seg.lscore, 1e-300)) * SCORE_SHIFT
                yield HeardWord(_shown(seg.word), phones, seg.start_frame, seg.end_frame + 1, seg.prob, language)

    def _phones(self, part: Any) -> Iterator[Phone]:
        for seg in _decode(self._loop, part):
            yield Phone(seg.word, seg.start_frame, seg.end_frame + 1)


def _decoders(vocabulary: Vocabulary) -> tuple[Any, Any]:
    from pocketsphinx import Decoder, get_model_path

    words = Decoder(dict=str(vocabulary.dictionary), lm=str(vocabulary.model), loglevel="FATAL", **WORD_SEARCH)
    loop = Decoder(lm=None, allphone=f"{get_model_path()}/en-us/en-us-phone.lm.bin", loglevel="FATAL", **PHONE_SEARCH)
    return words, loop


def _decode(decoder: Any, part: Any) -> Iterator[Any]:
    """Yield the decoder's segments: word, frames (10 ms, last one included), scores."""
    decoder.reinit_feat()  # forgets the noise and the means of the sound before; takes a tenth of a millisecond
    decoder.start_utt()
    decoder.process_raw(part.tobytes(), full_utt=True)
    decoder.end_utt()
    if decoder.hyp() is not None:
        yield from decoder.seg()


def _shown(word: str) -> str:
    """The word without its pronunciation's number, and I in capitals."""
    word = word.split("(")[0]
    return "I" + word[1:] if word == "i" or word.startswith("i'") else word


def _word(text: str, at: HeardWord | Phone, segment: Segment, sure: float | None = None) -> Word:
    start, end = segment.start + at.start / FRAMES_PER_S, segment.start + at.end / FRAMES_PER_S
    return Word(text, round(start, 2), round(min(end, segment.end), 2), None if sure is None else round(sure, 3))


def _breaks(heard: Sequence[HeardWord], first: int) -> set[int]:
    """Indices of the first word of a segment and of words after a pause; first: words before this segment."""
    return {first + i for i, word in enumerate(heard) if i == 0 or word.start - heard[i - 1].end > PAUSE_S * FRAMES_PER_S}


def _speech_mask(samples: Samples, segments: Sequence[Segment]) -> Any:
    """Where in the first part of a recording somebody speaks: its noise is measured there, and memory stays bounded."""
    mask = np.zeros(min(len(samples.pcm), NOISE_SAMPLES), bool)
    for segment in segments:
        mask[round(segment.start * samples.rate_hz) : round(segment.end * samples.rate_hz)] = True
    return mask


def _gain(samples: Samples) -> float:
    loud = float(np.percentile(np.abs(samples.pcm[:: max(1, len(samples.pcm) // 2_000_000)].astype(np.float32)), 99.9))
    return min(64.0, LEVEL / loud) if loud > 0 else 1.0
