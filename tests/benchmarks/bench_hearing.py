"""How well and how honestly recordings are heard, over synthetic voices and bad sound:
``python -m tests.benchmarks.bench_hearing [--minutes M] [--set tuning|unseen] [--stock] [--only CONDITION ...]``

For each condition (clean; white, fan and babble noise at 20, 10 and 5 dB; reverberation; telephone) dictations are spoken by
synthetic voices, recognised, drafted and scored: words wrong, exact F1, silent errors, right fields with a `check` flag. Half
of the voices, of the conditions and all of the texts of "unseen" were not looked at while tuning; their faults are never
printed. Then talk and reading, in which every field is an error. Last, calibration: of fields with a confidence of 0.9, are
nine in ten right (expected calibration error over ten bins), with a plot as an SVG file.

The sounds are drawn anew from fixed seeds; spoken sentences are kept in a folder between runs. --dump keeps what was heard,
for fitting (fit_agreement.py, then fit_confidence.py).
"""

from __future__ import annotations

import argparse
import json
import pickle
import re
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, field
from itertools import zip_longest
from pathlib import Path
from typing import Any

import numpy as np

from dictation.audio import Samples, find_speech
from dictation.lexicon.entries import Lexicon
from dictation.lexicon.loading import load_lexicon
from dictation.pipeline import draft, sound_record
from dictation.quality import sound_quality
from dictation.recognition.agreement import HeardWord, Phone
from dictation.recognition.sphinx import EmbeddedRecogniser
from dictation.record import Source
from tests.benchmarks.bench_sound import recognise_stock, word_errors
from tests.benchmarks.reliability import expected_calibration_error, reliability_svg
from tests.benchmarks.voices import (
    CONDITIONS,
    ROBOTIC_VOICE,
    TUNING_CONDITIONS,
    TUNING_VOICES,
    UNSEEN_VOICES,
    as_said,
    dictation,
    in_condition,
    talk_sentences,
)  # fmt: skip
from tests.scoring import Score, checked, read_cases, score

CASES = Path(__file__).parents[1] / "cases"
TEXTS = {
    "tuning": ["dictations_tuning.jsonl", "dictations_third.jsonl"],  # the others are in lexicon/dictations.txt
    "unseen": ["dictations_blind.jsonl"],
}
VOICES = {"tuning": TUNING_VOICES, "unseen": UNSEEN_VOICES}
HEARD_IN = {"tuning": TUNING_CONDITIONS, "unseen": CONDITIONS}
WORDS_A_MINUTE = 150
TALK = "talk and reading"
ROBOTIC = "a robotic voice"
SENTENCE = re.compile(r"(?<=[.?!;]) +(?=\S)")


@dataclass(frozen=True, slots=True)
class Item:
    """One dictation in one voice and condition; fields: the expected ones, none for talk."""

    name: str
    text: str
    fields: list[dict[str, Any]]
    voice: str
    condition: str


@dataclass(slots=True)
class Row:
    """What came of one condition."""

    score: Score = field(default_factory=Score)
    wrong_words: int = 0
    words: int = 0
    items: int = 0
    sound_s: float = 0.0
    speech_s: float = 0.0
    cpu_s: float = 0.0
    fields: int = 0
    unflagged: int = 0


def chosen(set_name: str, minutes: float, only: Sequence[str]) -> Iterator[Item]:
    """Give dictations until each condition has its minutes: voices and texts in turn, another start for each condition."""
    files = [read_cases(CASES / name) for name in TEXTS[set_name]]
    cases = [case for row in zip_longest(*files) for case in row if case]  # one of each file in turn
    voices = VOICES[set_name]
    number = 0
    for condition in [*HEARD_IN[set_name], ROBOTIC]:
        words = 0
        while words < minutes * WORDS_A_MINUTE and (not only or condition in only):
            case = cases[number % len(cases)]
            voice = ROBOTIC_VOICE if condition == ROBOTIC else voices[number % len(voices)]
            yield Item(case["id"], as_said(case["text"]), case["fields"], voice, condition)
            words += len(case["text"].split())
            number += 1
    talk = talk_sentences(set_name)
    words = 0
    while words < 2 * minutes * WORDS_A_MINUTE and (not only or TALK in only):
        lines = talk[number * 12 % len(talk) :][:12]
        yield Item(f"talk-{number}", " ".join(lines), [], voices[number % len(voices)], TALK)
        words += sum(len(line.split()) for line in lines)
        number += 1


def spoken(item: Item, number: int, conditions: Sequence[str], kept: Path) -> Samples:
    """Return the sound of an item; talk in every one of the conditions in turn."""
    sound, speech = dictation(SENTENCE.split(item.text), item.voice, kept)
    condition = {TALK: conditions[number % len(conditions)], ROBOTIC: "clean"}.get(item.condition, item.condition)
    return Samples(in_condition(sound, speech, condition, f"{item.name} {item.voice}", kept), "0" * 64)


def drafted(heard: Any, samples: Samples, segments: Any, lexicon: Lexicon) -> dict[str, Any]:
    """Return the draft of a transcript as JSON values."""
    source = Source(
        name="", sha256="", duration_s=samples.duration_s, recogniser="embedded", model=None, program_version="",
        lexicon_version="", sound=sound_record(sound_quality(samples, segments)),
    )  # fmt: skip
    found: dict[str, Any] = json.loads(draft(heard, source, lexicon).model_dump_json())
    return found


def outcomes(result: Score, draft_json: dict[str, Any]) -> Iterator[tuple[float, bool]]:
    """Give confidence and whether right for each drafted field."""
    wrong = {fault.drafted["id"] for fault in result.faults if fault.drafted is not None}
    for one in draft_json["fields"]:
        yield one["confidence"], one["id"] not in wrong


def add(row: Row, item: Item, samples: Samples, heard: Any, found: dict[str, Any]) -> Score:
    """Count one item into its row; return its score."""
    result = score({"id": item.name, "fields": item.fields}, found)
    errors, words = word_errors(item.text, " ".join(w.said for w in heard.words))
    row.score += result
    row.wrong_words, row.words, row.items = row.wrong_words + errors, row.words + words, row.items + 1
    row.sound_s += samples.duration_s
    row.fields += len(found["fields"])
    row.unflagged += sum(not checked(f) for f in found["fields"])
    return result


class Remembering(EmbeddedRecogniser):
    """The embedded recogniser, keeping what it read in each segment so that its weighing can be fitted afterwards."""

    def __init__(self, lexicon: Lexicon) -> None:
        super().__init__(lexicon)
        self._read: list[tuple[float, int, list[HeardWord], list[Phone]]] = []

    def taken(self) -> list[tuple[float, int, list[HeardWord], list[Phone]]]:
        """Return, for each segment since the last call, its start in seconds, its samples, its words and the loop's phones."""
        read, self._read = self._read, []
        return read

    def read(self, part: Any, start_s: float, over_noise_db: float) -> Any:
        self._at = start_s
        return super().read(part, start_s, over_noise_db)

    def _readings(self, part: Any, over_noise_db: float) -> tuple[list[HeardWord], list[Phone]]:
        heard, loop = super()._readings(part, over_noise_db)
        self._read.append((self._at, len(part), heard, loop))
        return heard, loop


HEAD = (
    f"{'condition':18} {'min':>5} {'fields':>6} {'WER':>6} {'F1':>6} {'silent':>6} {'/100':>6} {'checked':>7} {'lost':>6} "
    f"{'time':>6}"
)


def line(name: str, row: Row) -> str:
    """One line of the table; time: recognition as a share of the speech."""
    n = row.score.counts
    wer = f"{row.wrong_words / row.words:6.3f}" if row.words else "     -"
    cpu = f"{row.cpu_s / row.speech_s:6.3f}" if row.speech_s else "     -"
    if not n["expected"]:
        return f"{name:18} {row.sound_s / 60:5.1f} {0:6} {wer} {row.fields} fields, {row.unflagged} without a check flag {cpu}"
    share, lost = row.score.right_checked_share, row.score.lost_share
    return (
        f"{name:18} {row.sound_s / 60:5.1f} {n['expected']:6} {wer} {row.score.f1:6.3f} {n['silent']:6} "
        f"{row.score.silent_per_100:6.2f} {100 * (share or 0):6.1f}% {100 * (lost or 0):5.1f}% {cpu}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=2.0, help="of speech in each condition")
    parser.add_argument("--set", dest="set_name", choices=["tuning", "unseen"], default="unseen")
    parser.add_argument("--stock", action="store_true", help="the stock language model of pocketsphinx beside ours")
    parser.add_argument("--only", nargs="*", default=[], metavar="CONDITION")
    parser.add_argument("--kept", type=Path, default=Path(tempfile.gettempdir()) / "spoken-for-benchmarks")
    parser.add_argument("--plot", type=Path, default=None, metavar="FILE.svg")
    parser.add_argument("--dump", type=Path, default=None, metavar="FILE", help="both readings of every segment")
    asked = parser.parse_args()
    lexicon = load_lexicon()
    embedded = Remembering(lexicon)
    kept: list[dict[str, Any]] = []
    rows: dict[str, Row] = {}
    stock_rows: dict[str, Row] = {}
    judged: list[tuple[float, bool]] = []
    print(f"Set {asked.set_name}, synthetic voices: {', '.join(VOICES[asked.set_name])}. Embedded recogniser.\n{HEAD}")
    at = ""
    for number, item in enumerate(chosen(asked.set_name, asked.minutes, asked.only)):
        if at and item.condition != at:
            _show(at, rows, stock_rows)
        at = item.condition
        samples = spoken(item, number, HEARD_IN[asked.set_name], asked.kept)
        segments = find_speech(samples)
        row = rows.setdefault(item.condition, Row())
        began = time.process_time()
        heard = embedded.recognise(samples, segments)
        row.cpu_s += time.process_time() - began
        row.speech_s += sum(s.end - s.start for s in segments)
        found = drafted(heard, samples, segments, lexicon)
        result = add(row, item, samples, heard, found)
        judged += outcomes(result, found)
        if asked.dump:
            over_noise_db = found["source"]["sound"]["over_noise_db"]
            kept.append({"item": asdict(item), "over_noise_db": over_noise_db, "readings": embedded.taken()})
        if asked.stock:
            read = recognise_stock(samples, segments)
            add(stock_rows.setdefault(item.condition, Row()), item, samples, read, drafted(read, samples, segments, lexicon))
    _show(at, rows, stock_rows)
    scored = [row for row in rows.values() if row.score.counts["expected"]]
    if scored:
        total = Row()
        for row in scored:
            total.score += row.score
            for name in ("wrong_words", "words", "sound_s", "speech_s", "cpu_s"):
                setattr(total, name, getattr(total, name) + getattr(row, name))
        print(line("all of these", total))
    if asked.dump:
        asked.dump.write_bytes(pickle.dumps(kept))
    if judged:
        sure, right = np.array([c for c, _ in judged]), np.array([r for _, r in judged])
        error = expected_calibration_error(sure, right)
        print(f"Expected calibration error over {len(judged)} fields, synthetic voices: {error:.3f}")
        if asked.plot:
            asked.plot.write_text(reliability_svg(sure, right, f"set {asked.set_name}, synthetic voices"), encoding="utf-8")


def _show(name: str, rows: dict[str, Row], stock_rows: dict[str, Row]) -> None:
    print(line(name, rows[name]), flush=True)
    if name in stock_rows:
        print(line("  stock", stock_rows[name]), flush=True)


if __name__ == "__main__":
    main()
