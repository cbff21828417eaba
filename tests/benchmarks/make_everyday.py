"""Make dictation/recognition/everyday.tsv: everyday English as the pocketsphinx wheel's own language model has it.

``python -m tests.benchmarks.make_everyday``, a few seconds; asking the model for a million pairs is what is spared later.
A line a word, the likeliest first: the word; the negative log10 of its probability; for the first thousand, the words
(by line) likely after it, each with the negative log10 of its probability there.
"""

from __future__ import annotations

import math
from pathlib import Path

from pocketsphinx import Config, LogMath, NGramModel, get_model_path

from dictation.recognition.stock import EVERYDAY
from dictation.sounds import stock_dictionary

WORDS = 4000  # everyday words taken up, the likeliest first
PAIRED = 1000  # of these, so many have their pairs taken up
LEAST_PAIR = 1e-3  # a rarer pair is left to its words alone
LOG_BASE = 1.0001  # in which pocketsphinx gives its probabilities


def plain(word: str) -> bool:
    return word.replace("'", "").isalpha() and (len(word) > 1 or word in "ai")


def log10_of(score: int) -> float:
    return -score * math.log10(LOG_BASE)


def main() -> None:
    model = NGramModel(Config(), LogMath(LOG_BASE), f"{get_model_path()}/en-us/en-us.lm.bin")
    lines = Path(stock_dictionary() or "").read_text(encoding="utf-8").splitlines()
    words = {line.split()[0].split("(")[0]: None for line in lines}
    ranked = sorted(((model.prob([word]), word) for word in words if plain(word)), reverse=True)[:WORDS]
    likely = [word for _, word in ranked[:PAIRED]]
    out = []
    for number, (score, word) in enumerate(ranked):
        pairs = []
        for after, second in enumerate(likely if number < PAIRED else ()):
            found = log10_of(model.prob([second, word]))  # the model wants the nearest word first
            if found < -math.log10(LEAST_PAIR):
                pairs.append(f"{after}:{found:.2f}")
        out.append(f"{word}\t{log10_of(score):.2f}\t{' '.join(pairs)}".rstrip())
    Path(EVERYDAY).write_text("\n".join([*out, ""]), encoding="utf-8")


if __name__ == "__main__":
    main()
