"""Our own mishearings: ``python -m tests.benchmarks.make_mishearings`` (an hour of processor time).

A sample of the lexicon's terms, each by a form with rare words of the trade in it, spoken in three shapes of dictation
each and read by the stock recogniser of pocketsphinx. Kept are transcripts, never sound, one line of JSON each, in two
files: terms and voices that correction was tuned on, and terms and voices that nothing was tuned on. A term goes to a half
by its rarest word, so that "hypothenar eminence" and "hypothenar wasting" are in the same one.

Keys of a line: term, concept or structure (what its field must name), form, voice, said; heard: words with start, end
(10 ms) and posterior in hundredths; phones: the reading of a loop of phones, each with its start; read: what the embedded
recogniser made of the same sound, clean and in fan noise (one shape a term). Lines without a term are ordinary English, and
in the tuning half dictations as the embedded recogniser reads them: what correction is to leave alone.

``--more`` speaks only terms that a half lacks and leaves its lines as they are; ``--embedded`` makes "read" anew, as it must
be after a change of the vocabulary or the language model.
"""

from __future__ import annotations

import argparse
import json
import re
import zlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from itertools import chain
from pathlib import Path
from typing import Any

import numpy as np

from dictation.lexicon.entries import Concept, Lexicon, Term
from dictation.lexicon.loading import load_lexicon
from dictation.lexicon.shipped import lexicon_folder
from dictation.lexicon.sound_index import key
from dictation.pipeline import draft_text
from dictation.transcript import Transcript
from tests.benchmarks.speaking import Line, spoken

HERE = Path(__file__).parent
HALVES = {"tuning": HERE / "mishearings_tuning.jsonl", "unseen": HERE / "mishearings_unseen.jsonl"}
TUNING_VOICES = ("slt", "rms", "kal16", "slt_hts", "kal_diphone")
UNSEEN_VOICES = ("awb", "ked_diphone", "espeak_us")  # two speakers and a synthesiser that nothing was tuned on
TERMS = {"tuning": 76, "unseen": 30}
DICTATED = 120  # sentences of correct dictation, tuning half
TALK = 60  # sentences of ordinary English of each half, spoken too
PART = 30  # sentences handed to a process at a time
RATE_HZ, EDGE_S, ROOM_DB, FAN_DB = 16_000, 0.25, 45, 10
LONGEST = 3  # words in a form
SHAPES = {
    "test": ("{} is positive", "{} negative on the left", "on the right {} is negative"),
    "movement": ("{} forty degrees on the left", "right {} is full", "active {} twenty degrees"),
    "power": ("{} power five on the left", "right {} is four out of five", "{} power four on the right"),
    "sensation": ("{} is reduced on the left", "right {} is normal", "{} is normal on both sides"),
    "structure": ("tender over the left {}", "no tenderness over the {}", "there is swelling over the right {}"),
    "finding": ("there is {} on the left", "no {}", "right hand mild {}"),
    "impression": ("there is {} on the left", "no {}", "impression is right {}"),
}


def chosen(lexicon: Lexicon) -> dict[str, list[dict[str, Any]]]:
    """Return for each half its sentences, each with what its field must name; those alone that are read rightly when typed."""
    rank = _rank()
    found: dict[str, list[tuple[str, list[dict[str, Any]]]]] = {half: [] for half in HALVES}
    for term in lexicon.terms():
        kind = term.kind if isinstance(term, Concept) else "structure" if term.id in lexicon.structures else ""
        rare = {form: words for form in _forms(term) if (words := _rare_words(form, rank))}
        if kind not in SHAPES or not rare:
            continue
        form = max(rare, key=lambda form: (len(rare[form]) / len(form.split()), zlib.crc32(form.encode())))
        place = "concept" if isinstance(term, Concept) else "structure"
        said = [shape.format(form) for shape in SHAPES[kind]]
        said = [text for text in said if any(getattr(f, place) == term.id for f in draft_text(text).fields)]
        if len(said) == len(SHAPES[kind]):
            half = "unseen" if zlib.crc32(rare[form][-1].encode()) % 2 else "tuning"
            rows = [{"term": term.id, place: term.id, "form": form, "said": text} for text in said]
            found[half].append((term.id, rows))
    out = {}
    for half, terms in found.items():
        kept = sorted(terms, key=lambda t: zlib.crc32(t[0].encode()))[: TERMS[half]]
        out[half] = [row for _, rows in kept for row in rows]
    return out


def _forms(term: Term) -> Iterator[str]:
    for form in term.spoken:
        text = form.text
        words = text.split()
        if form.observed or form.sets or len(words) > LONGEST or not text.replace("'", "").replace(" ", "").isalpha():
            continue
        if not any(c.isupper() for word in words for c in word[1:]):
            yield text[0].lower() + text[1:] if "'" not in words[0] else text


def _rare_words(form: str, rank: Mapping[str, int]) -> list[str]:
    """The form's words of the trade: those that are no plain English, the longest last."""
    return sorted((word for word in map(key, form.split()) if word not in rank), key=lambda word: (len(word), word))


def talk(half: str) -> list[str]:
    """Return sentences of ordinary English, spread over their file."""
    if half == "tuning":
        lines = list(load_lexicon().conversation)
    else:
        text = (HERE.parent / "cases" / "ordinary_english.txt").read_text(encoding="utf-8")
        lines = [line for line in text.splitlines() if not line.startswith("#")]
    lines = [line for line in lines if len(line.split()) < 40]
    return lines[:: max(1, len(lines) // TALK)][:TALK]


def dictated() -> list[str]:
    """Return sentences of correct dictation, spread over the tuning texts."""
    text = (HERE.parent / "cases" / "dictations_tuning.jsonl").read_text(encoding="utf-8")
    said = [part.strip() for line in text.splitlines() for part in re.split(r"[.;:\n]", json.loads(line)["text"])]
    said = [part for part in said if 4 <= len(part.split()) <= 16]
    return said[:: max(1, len(said) // DICTATED)][:DICTATED]


def read_dictated(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return the rows as the embedded recogniser reads them, with its phones."""
    from dictation.recognition.sphinx import EmbeddedRecogniser

    lexicon = load_lexicon()
    embedded = EmbeddedRecogniser(lexicon)
    lines = [Line(row["said"], row["voice"], row["number"]) for row in rows]
    out = []
    for row, samples in zip(rows, spoken(lines, lexicon), strict=True):
        heard = _recognised(embedded, sounded(samples.pcm, ROOM_DB, row["number"]))
        words = [
            [w.said, round(100 * (w.start or 0)), round(100 * (w.end or 0)), round(100 * (w.probability or 0))]
            for w in heard.words
        ]
        phones = " ".join(f"{w.said}{round(100 * (w.start or 0))}" for w in heard.second_reading)
        out.append({"voice": row["voice"], "said": row["said"], "heard": words, "phones": phones})
    return out


def _rank() -> dict[str, int]:
    text = (lexicon_folder() / "plain_words.txt").read_text(encoding="utf-8")
    words = [line for line in text.splitlines() if line and not line.startswith("#")]
    return {key(word): rank for rank, word in reversed(list(enumerate(words)))}


def brown(n: int, draw: np.random.Generator) -> Any:
    """Return the noise of a fan, unit root mean square; below 40 Hz it is taken out."""
    spectrum = np.fft.rfft(draw.standard_normal(n))
    hertz = np.fft.rfftfreq(n, 1 / RATE_HZ)
    spectrum *= np.where(hertz > 40, 1 / np.maximum(hertz, 1), 0)
    noise = np.fft.irfft(spectrum, n)
    return noise / np.sqrt(np.mean(noise**2))


def sounded(pcm: Any, decibels: float, seed: int) -> Any:
    """Return int16 samples with silence around and noise so far under the speech, at half of full scale."""
    edge = np.zeros(int(EDGE_S * RATE_HZ))
    speech = pcm.astype(float)
    sound = np.concatenate([edge, speech, edge])
    sound += brown(len(sound), np.random.default_rng(seed)) * np.sqrt(np.mean(speech**2)) * 10 ** (-decibels / 20)
    return (sound * 16384 / np.abs(sound).max()).astype(np.int16)


def read(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return the rows with what was heard."""
    from pocketsphinx import Decoder

    from dictation.recognition.phone_loop import decode, loop_decoder

    words, loop = Decoder(loglevel="FATAL"), loop_decoder()
    out = []
    for row, samples in zip(rows, spoken(_lines(rows), load_lexicon()), strict=True):
        sound = sounded(samples.pcm, ROOM_DB, row["number"])
        heard = [
            [seg.word.split("(")[0], seg.start_frame, seg.end_frame + 1, round(100 * min(1, seg.prob))]
            for seg in decode(words, sound)
            if not seg.word.startswith(("<", "[", "+"))
        ]
        phones = " ".join(f"{s.word}{s.start_frame}" for s in decode(loop, sound) if s.word.isalpha() and s.word != "SIL")
        out.append({**row, "heard": heard, "phones": phones})
    return out


def read_embedded(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return the rows with what the embedded recogniser makes of them, clean and in fan noise."""
    from dictation.recognition.sphinx import EmbeddedRecogniser

    lexicon = load_lexicon()
    embedded = EmbeddedRecogniser(lexicon)
    out = []
    for row, samples in zip(rows, spoken(_lines(rows), lexicon), strict=True):
        sounds = [sounded(samples.pcm, db, row["number"]) for db in (ROOM_DB, FAN_DB)]
        read = [" ".join(word.said for word in _recognised(embedded, sound).words) for sound in sounds]
        out.append({**row, "read": read})
    return out


def _lines(rows: Sequence[Mapping[str, Any]]) -> list[Line]:
    return [Line(row["said"], row["voice"], row["number"]) for row in rows]


def _recognised(recogniser: Any, sound: Any) -> Transcript:
    from dictation.audio import Samples, find_speech

    samples = Samples(sound, RATE_HZ, "")
    found: Transcript = recogniser.recognise(samples, find_speech(samples))
    return found


def _parts(rows: list[dict[str, Any]]) -> list[list[dict[str, Any]]]:
    return [rows[i : i + PART] for i in range(0, len(rows), PART)]


def numbered(rows: list[dict[str, Any]], voices: Sequence[str]) -> list[dict[str, Any]]:
    """Return sentences of terms each in every voice, numbered: a number decides a pronunciation and a noise."""
    spread = [{**row, "voice": voice} for row in rows for voice in voices]
    return [{**row, "number": i // len(voices) + i % len(voices)} for i, row in enumerate(spread)]


def _write(half: str, rows: Iterable[dict[str, Any]], mode: str) -> None:
    with HALVES[half].open(mode, encoding="utf-8") as file:
        for row in rows:
            kept = {name: value for name, value in row.items() if name != "number"}
            file.write(json.dumps(kept, ensure_ascii=False, separators=(",", ":")) + "\n")
            file.flush()


def _lines_of(half: str) -> list[dict[str, Any]]:
    return [json.loads(line) for line in HALVES[half].read_text(encoding="utf-8").splitlines()]


def make(half: str, pool: Executor, *, more: bool) -> None:
    """Speak and read a half; more: only terms that its file lacks, and none of the other half's."""
    voices = TUNING_VOICES if half == "tuning" else UNSEEN_VOICES
    sentences = chosen(load_lexicon())[half]
    if more:
        there = {row.get("term") for name in HALVES for row in _lines_of(name)}
        new = numbered([row for row in sentences if row["term"] not in there], voices)
        _write(half, chain.from_iterable(pool.map(read, _parts(new))), "a")
        return
    said = [*numbered(sentences, voices), *_unspoken(talk(half), voices)]
    correct = _unspoken(dictated(), voices) if half == "tuning" else []
    parts = (*pool.map(read, _parts(said)), *pool.map(read_dictated, _parts(correct)))
    _write(half, chain.from_iterable(parts), "w")


def read_anew(half: str, pool: Executor) -> None:
    """Read the first sentence of each term again with the embedded recogniser as it is now."""
    rows = _lines_of(half)
    voices = TUNING_VOICES if half == "tuning" else UNSEEN_VOICES
    first: dict[str, str] = {}
    for row in rows:
        row.pop("read", None)
        if "term" in row:
            first.setdefault(row["term"], row["said"])
    terms = list(first)
    asked = [
        {**row, "at": at, "number": terms.index(row["term"]) + voices.index(row["voice"])}
        for at, row in enumerate(rows)
        if "term" in row and row["said"] == first[row["term"]]
    ]
    for row in chain.from_iterable(pool.map(read_embedded, _parts(asked))):
        rows[row["at"]]["read"] = row["read"]
    _write(half, rows, "w")


def _unspoken(sentences: Sequence[str], voices: Sequence[str]) -> list[dict[str, Any]]:
    return [{"said": said, "voice": voices[i % len(voices)], "number": i} for i, said in enumerate(sentences)]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--half", choices=HALVES, action="append", help="both unless given")
    parser.add_argument("--more", action="store_true", help="only terms that a half lacks")
    parser.add_argument("--embedded", action="store_true", help="only the embedded recogniser's reading")
    asked = parser.parse_args()
    with ProcessPoolExecutor(asked.jobs) as pool:
        for half in asked.half or HALVES:
            if not asked.embedded:
                make(half, pool, more=asked.more)
            if asked.embedded or not asked.more:
                read_anew(half, pool)


if __name__ == "__main__":
    main()
