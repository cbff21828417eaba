"""Our own mishearings: ``python -m tests.benchmarks.make_mishearings [--jobs N]`` (half an hour of processor time).

A sample of the lexicon's terms, each by a form with rare words of the trade in it, spoken in three shapes of dictation
each and read by the stock recogniser of pocketsphinx. Kept are transcripts, never sound, one line of JSON each, in two
files: terms and voices that correction was tuned on, and terms and voices that nothing was tuned on. A term goes to a half
by its rarest word, so that "hypothenar eminence" and "hypothenar wasting" are in the same one.

Keys of a line: term, concept or structure (what its field must name), form, voice, said; heard: words with start, end
(10 ms) and posterior in hundredths; phones: the reading of a loop of phones, each with its start; read: what the embedded
recogniser made of the same sound, clean and in fan noise (unseen half, one shape a term). Lines without a term are ordinary
English, and in the tuning half dictations as the embedded recogniser reads them: what correction is to leave alone.
"""

from __future__ import annotations

import argparse
import json
import re
import zlib
from collections.abc import Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np

from dictation.lexicon.entries import Concept, Lexicon, Term
from dictation.lexicon.loading import lexicon_folder, load_lexicon
from dictation.lexicon.sound_index import key
from dictation.pipeline import draft_text
from dictation.transcript import Transcript
from tests.benchmarks.speaking import Line, spoken

HERE = Path(__file__).parent
HALVES = {"tuning": HERE / "mishearings_tuning.jsonl", "unseen": HERE / "mishearings_unseen.jsonl"}
TUNING_VOICES = ("slt", "rms", "kal16", "slt_hts", "kal_diphone")
UNSEEN_VOICES = ("awb", "ked_diphone", "espeak_us")  # two speakers and a synthesiser that nothing was tuned on
TERMS = {"tuning": 24, "unseen": 30}
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
    from pocketsphinx import Decoder, get_model_path

    from dictation.recognition.sphinx import PHONE_SEARCH, EmbeddedRecogniser

    lexicon = load_lexicon()
    words = Decoder(loglevel="FATAL")
    loop = Decoder(lm=None, allphone=f"{get_model_path()}/en-us/en-us-phone.lm.bin", loglevel="FATAL", **PHONE_SEARCH)
    embedded = EmbeddedRecogniser(lexicon) if any(row["embed"] for row in rows) else None
    lines = [Line(row["said"], row["voice"], row["number"]) for row in rows]
    out = []
    for row, samples in zip(rows, spoken(lines, lexicon), strict=True):
        sound = sounded(samples.pcm, ROOM_DB, row["number"])
        kept = {name: row[name] for name in ("term", "concept", "structure", "form", "voice", "said") if name in row}
        kept["heard"] = [
            [seg.word.split("(")[0], seg.start_frame, seg.end_frame + 1, round(100 * min(1, seg.prob))]
            for seg in _decoded(words, sound)
            if not seg.word.startswith(("<", "[", "+"))
        ]
        kept["phones"] = " ".join(
            f"{s.word}{s.start_frame}" for s in _decoded(loop, sound) if s.word.isalpha() and s.word != "SIL"
        )
        if row["embed"] and embedded:
            fan = sounded(samples.pcm, FAN_DB, row["number"])
            kept["read"] = [_embedded(embedded, sound), _embedded(embedded, fan)]
        out.append(kept)
    return out


def _decoded(decoder: Any, sound: Any) -> list[Any]:
    decoder.reinit_feat()
    decoder.start_utt()
    decoder.process_raw(sound.tobytes(), full_utt=True)
    decoder.end_utt()
    return list(decoder.seg()) if decoder.hyp() else []


def _embedded(recogniser: Any, sound: Any) -> str:
    return " ".join(word.said for word in _recognised(recogniser, sound).words)


def _recognised(recogniser: Any, sound: Any) -> Transcript:
    from dictation.audio import Samples, find_speech

    samples = Samples(sound, RATE_HZ, "")
    found: Transcript = recogniser.recognise(samples, find_speech(samples))
    return found


def _parts(rows: list[dict[str, Any]]) -> list[list[dict[str, Any]]]:
    return [rows[i : i + PART] for i in range(0, len(rows), PART)]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--half", choices=HALVES, action="append", help="both unless given")
    asked = parser.parse_args()
    sentences = chosen(load_lexicon())
    with ProcessPoolExecutor(asked.jobs) as pool:
        for half in asked.half or HALVES:
            voices = TUNING_VOICES if half == "tuning" else UNSEEN_VOICES
            rows = [{**row, "voice": voice} for row in sentences.get(half, []) for voice in voices]
            for number, row in enumerate(rows):
                row["number"] = number // len(voices) + number % len(voices)
                row["embed"] = half == "unseen" and (number // len(voices)) % 3 == 0
            rows += [
                {"said": said, "voice": voices[i % len(voices)], "number": i, "embed": False}
                for i, said in enumerate(talk(half))
            ]
            correct = [
                {"said": said, "voice": voices[i % len(voices)], "number": i}
                for i, said in enumerate(dictated() if half == "tuning" else [])
            ]
            with HALVES[half].open("w", encoding="utf-8") as file:
                for part in (*pool.map(read, _parts(rows)), *pool.map(read_dictated, _parts(correct))):
                    file.writelines(json.dumps(row, ensure_ascii=False, separators=(",", ":")) + "\n" for row in part)
                    file.flush()


if __name__ == "__main__":
    main()
