"""The words of a recording: as heard, as corrected, and how each leads back to the other.

Spans count words, end excluded. Times are seconds from the start of the recording, null for typed text.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from dictation.errors import TextTooLong

LONGEST_QUOTE = 80
LONGEST_TEXT = 2_000_000
"""Bytes of UTF-8 that a typed dictation may have: some forty hours of speech; chosen by us, no source."""


@dataclass(frozen=True, slots=True)
class Word:
    """One word as heard (or typed).

    probability: 0 to 1, how sure the recogniser and its second reading are of it together; null for typed text.
    rival: the word it may have been instead, where the recogniser knows one.
    """

    said: str
    start: float | None = None
    end: float | None = None
    probability: float | None = None
    rival: str | None = None


@dataclass(frozen=True, slots=True)
class CorrectedWord:
    """One word as corrected; ``from_`` is the span of heard words it stands for.

    reason, distance and runner_up are set where it differs from what was heard: distance is a sound distance,
    0 (same sound) to 1, not comparable with any probability. A runner_up without a reason: the word is as heard, and a
    term that sounds near may have been said there.
    """

    text: str
    from_: tuple[int, int]
    reason: str | None = None
    distance: float | None = None
    runner_up: str | None = None


@dataclass(frozen=True, slots=True)
class Unread:
    """Sound with speech in it that could not be read, or whose two readings do not agree at all."""

    start: float
    end: float
    text: str
    reason: str


@dataclass(frozen=True, slots=True)
class Transcript:
    """What a recogniser heard.

    words: in order. breaks: indices into words before which there was a pause or a new segment.
    second_reading: the other reading of the same sound, or empty. unread: see Unread.
    """

    words: tuple[Word, ...]
    breaks: frozenset[int] = frozenset()
    second_reading: tuple[Word, ...] = ()
    unread: tuple[Unread, ...] = ()


@dataclass(frozen=True, slots=True)
class CorrectedTranscript:
    """The heard words and the corrected words side by side."""

    heard: Transcript
    corrected: tuple[CorrectedWord, ...] = field(default=())


def joined(parts: Iterable[Transcript]) -> Transcript:
    """Return one transcript of several, in their order.

    >>> one = joined([Transcript((Word("no"),), frozenset({0})), Transcript((Word("pain"),), frozenset({0}))])
    >>> [w.said for w in one.words], sorted(one.breaks)
    (['no', 'pain'], [0, 1])
    """
    words: list[Word] = []
    breaks: set[int] = set()
    second: list[Word] = []
    unread: list[Unread] = []
    for part in parts:
        breaks.update(len(words) + i for i in part.breaks)
        words += part.words
        second += part.second_reading
        unread += part.unread
    return Transcript(tuple(words), frozenset(breaks), tuple(second), tuple(unread))


def shortened(said: str) -> str:
    """Return words as a sentence quotes them: without the stop at their end, and cut where they are many.

    >>> shortened("Left wrist, tender.")
    'Left wrist, tender'
    """
    plain = " ".join(said.replace('"', "'").split()).rstrip(" .,;:?!")
    return plain if len(plain) <= LONGEST_QUOTE else f"{plain[: LONGEST_QUOTE - 1].rsplit(' ', 1)[0]}…"


def read_text(text: str) -> Transcript:
    """Return the transcript of typed text: one word per run of non-space characters. Raises TextTooLong.

    >>> [w.said for w in read_text("Left wrist, tender.").words]
    ['Left', 'wrist,', 'tender.']
    """
    check_length(len(text.encode("utf-8", "replace")))
    return Transcript(tuple(Word(w) for w in text.split()))


def check_length(size: int, what: str = "The text") -> None:
    """Raise TextTooLong for text of more than LONGEST_TEXT bytes. what: its file, where it has one."""
    if size > LONGEST_TEXT:
        raise TextTooLong(
            f"{what} is longer than {LONGEST_TEXT // 1_000_000} MB, more than anyone dictates at once; "
            "check that it is the right text, or draft it in parts."
        )
