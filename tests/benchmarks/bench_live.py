"""How soon the final words come in live dictation: ``python -m tests.benchmarks.bench_live [--minutes M] [--real]``.

From the last sample of speech to the utterance's final words, endpoint silence included, on the samples' sound (synthetic
voices), embedded recogniser. As it is, the clock is reckoned: sound arrives in tenths of a second, and the decoder takes
the processor time it really takes, as on one free core; so the figure does not depend on what else the machine does.
--real plays the sound in real time through the process that decodes, and takes the wall clock as it is.
"""

from __future__ import annotations

import argparse
import platform
import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import numpy as np

from dictation.audio import PADDING_S, RATE_HZ, Samples, read_audio
from dictation.lexicon.loading import load_lexicon
from dictation.recognition.choose import choose_recogniser
from dictation.recognition.listening import Listening, Utterance, WordsSoFar
from dictation.recognition.streaming import Stream

SAMPLES = Path(__file__).parents[2] / "samples"
PIECE = RATE_HZ // 10


def played(minutes: float) -> Iterator[Samples]:
    """Give samples until there are minutes of sound."""
    left_s = minutes * 60
    for path in sorted(SAMPLES.glob("*.opus")):
        if left_s <= 0:
            return
        samples = read_audio(path)
        yield Samples(samples.part(0, left_s), samples.sha256)
        left_s -= samples.duration_s


def reckoned(samples: Samples, listening: Listening) -> tuple[list[float], list[float]]:
    """Return, in seconds, from last speech to final words for each utterance, and from its start to the first guess."""
    finals, guesses, guessed = [], [], -1.0
    clock, taken = 0.0, 0
    while taken < len(samples.pcm):
        arrived = min(len(samples.pcm), int(clock * 10 + 1e-6) * PIECE)
        if arrived <= taken:
            clock = (taken + PIECE) / RATE_HZ
            continue
        began, base = time.process_time(), clock
        for utterance in listening.push(samples.pcm[taken:arrived]):
            clock = base + time.process_time() - began
            finals.append(clock - (utterance.segment.end - PADDING_S))
        taken = arrived
        guess = listening.ahead()
        clock = base + time.process_time() - began
        if guess is not None and guess.start != guessed:
            guessed = guess.start
            guesses.append(clock - guess.start)
    return finals, guesses


def real(samples: Samples, stream: Stream) -> tuple[list[float], list[float]]:
    """The same by the wall clock."""
    finals, guesses, guessed = [], [], -1.0
    began = time.monotonic()
    for at in range(0, len(samples.pcm), PIECE):
        due = began + (at + PIECE) / RATE_HZ
        while (left := due - time.monotonic()) > 0:
            for event in stream.take(left):
                clock = time.monotonic() - began
                if isinstance(event, Utterance):
                    finals.append(clock - (event.segment.end - PADDING_S))
                elif isinstance(event, WordsSoFar) and event.start != guessed:
                    guessed = event.start
                    guesses.append(clock - event.start)
        stream.push(samples.pcm[at : at + PIECE])
    return finals, guesses


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=4.0)
    parser.add_argument("--real", action="store_true", help="play in real time, by the wall clock")
    asked = parser.parse_args()
    make = partial(choose_recogniser, "embedded", load_lexicon())
    finals: list[float] = []
    guesses: list[float] = []
    recogniser = None if asked.real else make()
    for samples in played(asked.minutes):
        if recogniser is None:
            with Stream(make) as stream:
                stream.push(np.zeros(2 * RATE_HZ, np.int16))
                while stream.behind_s > 1.2:  # the decoder has loaded; that is no part of the figure
                    stream.take(0.1)
                more = real(samples, stream)
        else:
            more = reckoned(samples, Listening(recogniser.begin()))
        finals += more[0]
        guesses += more[1]
    how = "wall clock, whole machine as it was" if asked.real else "processor time of one core"
    print(f"{len(finals)} utterances, synthetic voices, embedded recogniser; {platform.machine()}, {how}.")
    for name, values in (("last speech to final words", finals), ("start of speech to first words", guesses)):
        middle, late = np.percentile(values, [50, 95])
        print(f"{name:32} median {middle:.2f} s, 95th percentile {late:.2f} s, most {max(values):.2f} s")


if __name__ == "__main__":
    main()
