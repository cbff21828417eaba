"""Where a review is kept, and how it is taken up: a draft file and the journal beside it.

Imports rules, journal, record and lexicon.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

from dictation.lexicon.entries import Lexicon
from dictation.record import read_draft
from dictation.review.journal import Journal
from dictation.review.rules import Review, Wording


def journal_path(draft: Path) -> Path:
    """Return where the journal of a draft file is: beside it."""
    return draft.with_name(draft.name.removesuffix(".json").removesuffix(".draft") + ".journal.jsonl")


def open_review(path: Path, lexicon: Lexicon, word: Wording) -> Review:
    """Return the review of a draft file, where its journal stands. Raises InputError, RecordError."""
    draft = read_draft(path)
    return Review(draft, hashlib.sha256(path.read_bytes()).hexdigest(), Journal(journal_path(path)), lexicon, word)
