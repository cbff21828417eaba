"""The ConText component of medspacy over phrases read from standard input; run by bench_negation.py in its own environment.

Reads a JSON list of {"text", "targets": [[start, end], …]} in characters; writes a JSON list of lists of booleans, whether each
target is negated. The component is used as the library ships it: its own tokeniser, sentences and rules; only the targets are
given, so that what it is compared on is polarity alone. Imports nothing of ours.
"""

from __future__ import annotations

import json
import sys
import warnings

import medspacy
from spacy.util import filter_spans


def main() -> None:
    nlp = medspacy.load(medspacy_enable=["medspacy_tokenizer", "medspacy_pyrush", "medspacy_context"])
    out = []
    for phrase in json.load(sys.stdin):
        doc = nlp.make_doc(phrase["text"])
        spans = [doc.char_span(*target, label="TARGET", alignment_mode="expand") for target in phrase["targets"]]
        doc.ents = filter_spans([span for span in spans if span is not None])
        for _, step in nlp.pipeline:
            doc = step(doc)
        negated = [(e.start_char, e.end_char) for e in doc.ents if e._.is_negated]
        out.append([any(a < end and start < b for a, b in negated) for start, end in phrase["targets"]])
    json.dump(out, sys.stdout)


if __name__ == "__main__":
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        main()
