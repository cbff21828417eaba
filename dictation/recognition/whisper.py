"""The recogniser for daily use: faster-whisper on a model folder, guarded against text that nobody said.

A model is only ever named by its folder; nothing here touches the network (fetching.py does, when told to). Words outside
voice activity, and stretches the model itself doubts, go to the transcript's unread sound and not to its words.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from dictation.audio import RATE_HZ, Samples, Segment
from dictation.errors import RecogniserUnavailable
from dictation.lexicon.bias import bias_words
from dictation.lexicon.entries import Lexicon
from dictation.recognition.protocol import Progress
from dictation.recognition.weights import of_another_size
from dictation.transcript import Transcript, Unread, Word, joined

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from dictation.recognition.second_reading import SecondReading

NEEDED = ("model.bin", "config.json", "tokenizer.json")
FIXTURE_MARK = "ONLY_FOR_TESTS"  # a file of this name in a model folder
REMAINS = 'the embedded recogniser needs no model: choose "embedded"'
TOGETHER = {"cpu": 4, "cuda": 8}  # windows decoded at once: under two minutes of sound on a processor, so that Ctrl-C is heard
WINDOW_S = 28.0  # Whisper reads 30 s at a time; segments are gathered up to this
PAUSE_S = 0.3
ROUNDING_S = 0.01
LEEWAY_S = 0.1  # word times are about this good
PROMPT_TOKENS = 180  # Whisper takes 223 tokens of prompt; the rest is left free
LEAST_READ_S = 0.5  # shorter speech of which nothing was read may have been a cough
LEAST_LOG_PROBABILITY = -1.0  # as published with Whisper (Radford et al. 2022, section 4.5), also for what follows
MOST_COMPRESSION = 2.4
NO_SPEECH = 0.6


class WhisperRecogniser:
    """See the module. folder: a model in CTranslate2 format. Raises RecogniserUnavailable where it is not one.

    fixture_allowed: accept the model that tests use, which knows one small made-up grammar and no human voice.
    second_reading: have each word compared with what the loop of phones heard (second_reading.py).
    """

    name = "whisper"

    def __init__(self, lexicon: Lexicon, folder: Path, *, fixture_allowed: bool = False, second_reading: bool = False) -> None:
        problem = model_problem(folder, fixture_allowed=fixture_allowed)
        if problem:
            raise RecogniserUnavailable(problem)
        self._model, self._batched, device = _load(folder)
        self.model: str | None = f"{folder.name}, {device}"
        self._together = TOGETHER[device.split()[0]]
        self._second = _second(lexicon) if second_reading else None
        self._hotwords = _within(bias_words(lexicon), self._model.hf_tokenizer)

    def recognise(self, samples: Samples, segments: Sequence[Segment], progress: Progress | None = None) -> Transcript:
        """Return the words in the segments; see Recogniser."""
        found: list[Transcript] = []
        windows = list(_windows(segments))
        for at in range(0, len(windows), self._together):
            batch = windows[at : at + self._together]
            found += self._read_together(samples, batch) if len(batch) > 1 else [self._read_alone(samples, batch[0])]
            if progress:
                progress(batch[-1][-1].end, samples.duration_s)
        return joined(found)

    def begin(self) -> WhisperListener:
        """Return a listener; see Recogniser."""
        return WhisperListener(self)

    def read(self, pcm: NDArray[np.int16], window: Sequence[Segment]) -> Transcript:
        """Return the words in the segments of one window; pcm: int16, from the start of the first to the end of the last."""
        return self._weighed(_transcript(self._pieces(_values(pcm)), window), pcm, window)

    def _weighed(self, found: Transcript, pcm: NDArray[np.int16], window: Sequence[Segment]) -> Transcript:
        return found if self._second is None else self._second.weigh(pcm, window, found)

    def _read_alone(self, samples: Samples, window: Sequence[Segment]) -> Transcript:
        return self.read(samples.part(window[0].start, window[-1].end), window)

    def _read_together(self, samples: Samples, windows: Sequence[Sequence[Segment]]) -> list[Transcript]:
        """Return the words of several windows decoded at once, at temperature 0.

        A window with a doubtful piece is read again alone: only there does the model fall back to higher temperatures.
        """
        first = windows[0][0].start
        clips = [{"start": w[0].start - first, "end": w[-1].end - first} for w in windows]
        pieces: list[list[Any]] = [[] for _ in windows]
        for piece in self._pieces(_values(samples.part(first, windows[-1][-1].end)), clips):
            pieces[_clip_of(piece, clips)].append(piece)
        read: list[Transcript] = []
        for found, window, clip in zip(pieces, windows, clips, strict=True):
            if any(map(_doubt, found)):
                read.append(self._read_alone(samples, window))
            else:
                pcm = samples.part(window[0].start, window[-1].end)
                read.append(self._weighed(_transcript(_moved(found, -clip["start"]), window), pcm, window))
        return read

    def _pieces(self, sound: Any, clips: list[dict[str, float]] | None = None) -> Iterator[Any]:
        """What the model makes of the sound: as one window, or of each clip of it at once where there are clips."""
        guards: dict[str, Any] = {
            "language": "en", "beam_size": 5, "word_timestamps": True, "condition_on_previous_text": False,
            "hotwords": self._hotwords or None, "vad_filter": False, "no_speech_threshold": NO_SPEECH,
            "log_prob_threshold": LEAST_LOG_PROBABILITY, "compression_ratio_threshold": MOST_COMPRESSION,
        }  # fmt: skip
        try:
            if clips is None:
                pieces, _ = self._model.transcribe(sound, **guards)
            else:
                pieces, _ = self._batched.transcribe(
                    sound, clip_timestamps=clips, batch_size=len(clips), without_timestamps=False, **guards
                )
            yield from pieces
        except RuntimeError as err:  # the pieces come lazily, so a fault of the model shows here
            raise RecogniserUnavailable(f"The Whisper model {self.model} failed while reading; {REMAINS}.") from err


class WhisperListener:
    """One recording heard in order, each utterance a window of its own; see Listener."""

    def __init__(self, recogniser: WhisperRecogniser) -> None:
        self._recogniser = recogniser

    def quiet(self, pcm: NDArray[np.int16]) -> None:
        """Nothing is measured in it."""

    def utterance(self, pcm: NDArray[np.int16], start_s: float) -> Transcript:
        """Return the words of one segment; see Listener."""
        return self._recogniser.read(pcm, [Segment(start_s, start_s + len(pcm) / RATE_HZ)])

    def follow(self, pcm: NDArray[np.int16], fresh: bool) -> tuple[str, ...]:
        """Whisper reads whole windows: there is no guess before an utterance has ended."""
        return ()


def model_problem(folder: Path, *, fixture_allowed: bool = False) -> str | None:
    """Return what is wrong with a model folder, as a sentence that says what to do; None where it can be tried."""
    if not folder.is_dir():
        return f"There is no Whisper model at {folder}; fetch one (dictation fetch-whisper --help), or {REMAINS}."
    missing = [name for name in NEEDED if not (folder / name).is_file()]
    if missing:
        return f"The Whisper model at {folder} lacks {', '.join(missing)}; fetch it again, or {REMAINS}."
    changed = of_another_size(folder)
    if changed:
        return f"The Whisper model at {folder} is not as it was fetched ({', '.join(changed)}); fetch it again, or {REMAINS}."
    if (folder / FIXTURE_MARK).exists() and not fixture_allowed:
        return f"The model at {folder} is made for tests and knows no human voice; fetch another, or {REMAINS}."
    return None


def _load(folder: Path) -> tuple[Any, Any, str]:
    """Return the model, what decodes several windows with it at once, and where it runs: "cuda float16" or "cpu int8".

    Where there is a graphics card that turns out not to be usable, it runs on the processor, and says so.
    """
    from faster_whisper import BatchedInferencePipeline

    if _cards():
        try:
            model = _on(folder, "cuda", "float16")
            for _ in model.transcribe(np.zeros(RATE_HZ, np.float32), language="en")[0]:
                pass  # what a card lacks, such as a library of its maker, shows only when it is used
            return model, BatchedInferencePipeline(model), "cuda float16"
        except (RuntimeError, ValueError, OSError):
            device = "cpu int8 (the graphics card cannot be used)"
    else:
        device = "cpu int8"
    try:
        model = _on(folder, "cpu", "int8")
    except (RuntimeError, ValueError, OSError) as err:
        raise RecogniserUnavailable(f"The Whisper model at {folder} cannot be loaded; fetch it again, or {REMAINS}.") from err
    return model, BatchedInferencePipeline(model), device


def _cards() -> int:
    import ctranslate2

    try:
        return int(ctranslate2.get_cuda_device_count())
    except RuntimeError:  # a driver older than the library
        return 0


def _on(folder: Path, device: str, kind: str) -> Any:
    from faster_whisper import WhisperModel

    return WhisperModel(str(folder), device=device, compute_type=kind, local_files_only=True)


def _second(lexicon: Lexicon) -> SecondReading:
    from dictation.recognition.second_reading import SecondReading

    return SecondReading(lexicon)


def _within(words: Sequence[str], tokenizer: Any) -> str:
    """As many words, in order, as fit the prompt."""
    chosen: list[str] = []
    tokens = 0
    for word in words:
        tokens += len(tokenizer.encode(f" {word},", add_special_tokens=False).ids)
        if tokens > PROMPT_TOKENS:
            break
        chosen.append(word)
    return ", ".join(chosen)


def _values(pcm: NDArray[np.int16]) -> NDArray[np.float32]:
    return pcm.astype(np.float32) / np.float32(32768)


def _clip_of(piece: Any, clips: Sequence[dict[str, float]]) -> int:
    """Which clip a piece belongs to: the last that begins no later than it does."""
    return max((i for i, clip in enumerate(clips) if clip["start"] <= piece.start + ROUNDING_S), default=0)


def _moved(pieces: Sequence[Any], by_s: float) -> Iterator[Any]:
    """The pieces with their times, and those of their words, moved."""
    for piece in pieces:
        words = [replace(word, start=word.start + by_s, end=word.end + by_s) for word in piece.words or ()]
        yield replace(piece, start=piece.start + by_s, end=piece.end + by_s, words=words)


def _transcript(pieces: Iterable[Any], window: Sequence[Segment]) -> Transcript:
    """Return the words of the pieces of a window, whose times count from its start; what is in doubt left unread."""
    words: list[Word] = []
    breaks: set[int] = set()
    unread: list[Unread] = []
    start, end = window[0].start, window[-1].end
    for piece in pieces:
        reason = _doubt(piece)
        if reason:
            unread.append(Unread(start + piece.start, min(end, start + piece.end), piece.text.strip(), reason))
            continue
        first = True
        for word in (_word(word, start, end) for word in piece.words or ()):
            if not _spoken(word, window):
                unread.append(Unread(word.start or 0.0, word.end or 0.0, word.said, "heard where nobody speaks"))
                continue
            if first or (words and (word.start or 0) - (words[-1].end or 0) > PAUSE_S):
                breaks.add(len(words))
            words.append(word)
            first = False
    for segment in window:
        heard: list[Word | Unread] = [*words, *unread]
        if segment.end - segment.start >= LEAST_READ_S and not any(_within_span(segment, one) for one in heard):
            unread.append(Unread(segment.start, segment.end, "", "somebody speaks, and the recogniser read nothing"))
    return Transcript(tuple(words), frozenset(breaks), (), tuple(sorted(unread, key=lambda one: one.start)))


def _within_span(segment: Segment, heard: Word | Unread) -> bool:
    return (heard.start or 0.0) < segment.end and (heard.end or 0.0) > segment.start


def _windows(segments: Sequence[Segment]) -> Iterator[list[Segment]]:
    window: list[Segment] = []
    for segment in segments:
        if window and segment.end - window[0].start > WINDOW_S:
            yield window
            window = []
        window.append(segment)
    if window:
        yield window


def _word(word: Any, start: float, end: float) -> Word:
    return Word(
        word.word.strip(), round(min(end, start + word.start), 2), round(min(end, start + word.end), 2),
        round(float(word.probability), 3),
    )  # fmt: skip


def _doubt(piece: Any) -> str | None:
    if piece.compression_ratio > MOST_COMPRESSION:
        return "the recogniser repeated itself"
    if piece.avg_logprob < LEAST_LOG_PROBABILITY:
        return "the recogniser was unsure of all of it"
    if piece.no_speech_prob > NO_SPEECH and piece.avg_logprob < LEAST_LOG_PROBABILITY / 2:
        return "the recogniser heard no speech in it"
    return None


def _spoken(word: Word, window: Sequence[Segment]) -> bool:
    start, end = word.start or 0.0, word.end or 0.0
    return any(start < s.end + LEEWAY_S and end > s.start - LEEWAY_S for s in window)
