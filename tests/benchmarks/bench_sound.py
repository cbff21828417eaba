"""Recordings drafted and scored, by the embedded recogniser and by the stock language model side by side:
``python -m tests.benchmarks.bench_sound [ID ...]``.

Each recogniser runs in a process of its own, held to one core, so that its memory and time are its own.
"Stock" is pocketsphinx as it comes: its own language model and dictionary on the same segments, without our
vocabulary, noise filter or second reading; its words go through the same correction and extraction, with the
decoder's own word posteriors.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import resource
import subprocess
import sys
import time
from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path
from typing import Any

from tests.benchmarks.bench_text import HEAD, line
from tests.scoring import Score, plain_words, read_cases, score

SAMPLES = Path(__file__).parents[2] / "samples"
RECOGNISERS = ("embedded", "stock")


def recognise_stock(samples: Any, segments: Iterable[Any]) -> Any:
    """Return the transcript of the stock decoder; breaks as the embedded recogniser sets them."""
    import math

    from dictation.recognition.sphinx import FRAMES_PER_S, PAUSE_S
    from dictation.transcript import Transcript, Word

    words: list[Word] = []
    breaks: set[int] = set()
    decoder = _stock_decoder()
    for segment in segments:
        decoder.start_utt()
        decoder.process_raw(samples.part(segment.start, segment.end).tobytes(), full_utt=True)
        decoder.end_utt()
        last = -math.inf
        for heard in decoder.seg() if decoder.hyp() else ():
            if heard.word.startswith(("<", "[", "+")):
                continue
            if heard.start_frame - last > PAUSE_S * FRAMES_PER_S:
                breaks.add(len(words))
            last = heard.end_frame + 1
            start, end = segment.start + heard.start_frame / FRAMES_PER_S, segment.start + last / FRAMES_PER_S
            words.append(Word(heard.word.split("(")[0], start, end, min(1.0, heard.prob)))
    return Transcript(tuple(words), frozenset(breaks))


_made: list[Any] = []


def _stock_decoder() -> Any:
    if not _made:
        from pocketsphinx import Decoder

        _made.append(Decoder(loglevel="FATAL"))
    return _made[0]


def measure(recogniser: str, names: list[str]) -> dict[str, Any]:
    """Return what one recogniser gives on the samples: drafts, words heard, seconds, peak memory in MB."""
    from dictation.audio import find_speech, read_audio
    from dictation.lexicon.loading import load_lexicon
    from dictation.pipeline import draft
    from dictation.record import Source

    began = time.process_time()
    lexicon = load_lexicon()
    recognise: Callable[..., Any]
    if recogniser == "embedded":
        from dictation.recognition.sphinx import EmbeddedRecogniser

        recognise = EmbeddedRecogniser(lexicon).recognise
    else:
        _stock_decoder()
        recognise = recognise_stock
    out: dict[str, Any] = {"load_s": time.process_time() - began, "samples": {}}
    for name in names:
        began, wall = time.process_time(), time.perf_counter()
        samples = read_audio(SAMPLES / f"{name}.opus")
        segments = find_speech(samples)
        found = time.process_time()
        heard = recognise(samples, segments)
        read, clock = time.process_time(), time.perf_counter()
        source = Source(
            name=name, sha256=samples.sha256, duration_s=samples.duration_s, recogniser=recogniser,
            model=None, program_version="", lexicon_version="",
        )  # fmt: skip
        record = draft(heard, source, lexicon)
        out["samples"][name] = {
            "draft": json.loads(record.model_dump_json()),
            "heard": " ".join(word.said for word in heard.words),
            "sound_s": samples.duration_s, "speech_s": sum(s.end - s.start for s in segments),
            "find_s": found - began, "recognise_s": read - found, "draft_s": time.process_time() - read,
            "wall_s": clock - wall,
        }  # fmt: skip
    out["peak_mb"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return out


def word_errors(reference: str, hypothesis: str) -> tuple[int, int]:
    """Return the words to change, leave out or put in, and the words of the reference."""
    from rapidfuzz.distance import Levenshtein

    want = plain_words(reference)
    return Levenshtein.distance(want, plain_words(hypothesis)), len(want)


def _in_own_process(recogniser: str, names: list[str]) -> dict[str, Any]:
    one_core = hasattr(os, "sched_setaffinity")
    pin = partial(os.sched_setaffinity, 0, {min(os.sched_getaffinity(0))}) if one_core else None
    command = [sys.executable, "-m", "tests.benchmarks.bench_sound", "--only", recogniser, *names]
    answer = subprocess.run(command, stdout=subprocess.PIPE, check=True, cwd=SAMPLES.parent, preexec_fn=pin)
    found: dict[str, Any] = json.loads(answer.stdout)
    return found


def _costs(found: dict[str, Any]) -> str:
    rows = list(found["samples"].values())
    total = {key: sum(row[key] for row in rows) for key in rows[0] if key.endswith("_s")}
    sound, speech = total["sound_s"], total["speech_s"]
    return (
        f"recognition {total['recognise_s'] / speech:.3f} of speech time (processor; {speech:.0f} s of "
        f"speech in {sound:.0f} s of sound); finding speech {total['find_s'] / sound:.3f} and the clock "
        f"{total['wall_s'] / sound:.3f} of sound time; load {found['load_s']:.1f} s; draft from words "
        f"{total['draft_s']:.1f} s for all, loading included; peak memory {found['peak_mb']:.0f} MB."
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", metavar="ID", help="samples to measure; all unless given")
    parser.add_argument("--only", choices=RECOGNISERS, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    cases = [c for c in read_cases(SAMPLES / "expected.jsonl") if not asked.names or c["id"] in asked.names]
    names = [case["id"] for case in cases]
    if asked.only:
        print(json.dumps(measure(asked.only, names)))
        return
    print(f"{len(names)} samples, synthetic voices; {platform.machine()}, one core.")
    print(HEAD)
    measured = {}
    for recogniser in RECOGNISERS:
        found = measured[recogniser] = _in_own_process(recogniser, names)
        total = Score()
        for case in cases:
            total += score(case, found["samples"][case["id"]]["draft"])
        print(f"{line(recogniser, len(cases), total)}\n{recogniser}: {_costs(found)}", flush=True)
    print(f"\n{'':26} {'F1':>14} {'silent':>14} {'word errors':>16}")
    print(f"{'sample':26}    ours   stock   ours  stock     ours   stock")
    for case in cases:
        rows = [measured[r]["samples"][case["id"]] for r in RECOGNISERS]
        scores = [score(case, row["draft"]) for row in rows]
        errors = [word_errors(case["text"], row["heard"]) for row in rows]
        print(
            f"{case['id']:26} "
            + " ".join(f"{s.f1:7.3f}" for s in scores) + " "
            + " ".join(f"{s.counts['silent']:6}" for s in scores) + "   "
            + " ".join(f"{100 * wrong / words:6.1f}%" for wrong, words in errors)
        )  # fmt: skip
    small_talk = measured["embedded"]["samples"].get("small_talk_only")
    if small_talk:
        print(f"\nFields from the small talk alone: {len(small_talk['draft']['fields'])} (must be 0).")


if __name__ == "__main__":
    main()
