"""What a flag says: one plain sentence that quotes the words in doubt, as heard or as corrected."""

from __future__ import annotations

import re
from pathlib import Path

from scoring import read_cases
from spoken import draft

from dictation.record import DraftRecord, FlagCode
from dictation.transcript import shortened

TABLE = read_cases(Path(__file__).parents[1] / "cases" / "phrases_tuning.jsonl")
QUOTED = re.compile(r'"([^"]+)"')
SENTENCE = re.compile(r"[^.?!]*(?:\d\.\d[^.?!]*)*[.?]")


def plain(words: str) -> str:
    return " ".join(re.findall(r"\w+", words.casefold()))


def badly_said(record: DraftRecord) -> list[str]:
    """Return the messages that are not one sentence, or quote nothing that was said."""
    said = [
        plain(" ".join(w.said for w in record.transcript.words)),
        plain(" ".join(c.text for c in record.transcript.corrected)),
    ]
    out = []
    for message in [flag.message for field in record.fields for flag in field.flags]:
        quotes = [plain(quote) for quote in QUOTED.findall(message)]
        quoted = any(quote and quote in words for quote in quotes for words in said)
        if not quoted or not SENTENCE.fullmatch(QUOTED.sub("", message)):
            out.append(message)
    return out


def test_every_message_is_one_sentence_that_quotes_the_words_in_doubt() -> None:
    assert [message for case in TABLE for message in badly_said(draft(case["text"]))] == []


def test_many_codes_were_looked_at() -> None:
    """The others are raised in tests/test_checks.py, by their own words."""
    raised = {flag.code for case in TABLE for field in draft(case["text"]).fields for flag in field.flags}
    assert len(raised) >= len(FlagCode) - 5


def test_a_correction_names_both_what_was_said_and_what_took_its_place() -> None:
    (field,) = draft("Left wrist flexion sixty, sorry, seventy.").fields
    (message,) = [flag.message for flag in field.flags if flag.code is FlagCode.self_corrected]
    assert message == '"sorry, seventy" corrects "Left wrist flexion sixty"; the corrected words stand.'


def test_long_words_are_cut_and_quotes_in_them_do_not_end_the_quote() -> None:
    assert shortened('the "left" wrist.') == "the 'left' wrist"
    assert (
        shortened("left wrist tender and " * 9)
        == "left wrist tender and left wrist tender and left wrist tender and left wrist…"
    )


def test_a_carried_side_names_the_side_of_its_own_field() -> None:
    fields = draft("Both wrists. No swelling.").fields
    told = {(f.side, flag.message) for f in fields for flag in f.flags if flag.message.startswith("The side (")}
    assert {side for side, _ in told} == {"right", "left"}
    assert all(f"The side ({side})" in message for side, message in told)
