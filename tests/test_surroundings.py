"""Sound beside a field that was not understood asks to be looked at; typed words, and what was understood, do not."""

from __future__ import annotations

import pytest

from dictation.correction.correct import correct
from dictation.lexicon.loading import load_lexicon
from dictation.pipeline import draft
from dictation.record import DraftRecord, FlagCode, Source
from dictation.surroundings import HARDLY_HEARD
from dictation.transcript import Transcript, Unread, Word, read_text

LEXICON = load_lexicon()
SOURCE = Source(
    name="invented.wav", sha256="0", duration_s=60.0, recogniser="scripted", model=None, program_version="0",
    lexicon_version="0",
)  # fmt: skip
NOT_UNDERSTOOD = "What follows was not understood"
SINCE_THE_SIDE = "it may have changed"


def drafted(text: str, doubted: dict[str, float] | None = None, unread: tuple[Unread, ...] = ()) -> DraftRecord:
    """The draft of words heard half a second apart, all sure but those doubted; "|" is a pause."""
    words: list[Word] = []
    breaks = {0}
    for said in text.split():
        if said == "|":
            breaks.add(len(words))
            continue
        at = len(words) * 1.0
        words.append(Word(said, at, at + 0.5, (doubted or {}).get(said, 0.95)))
    return draft(Transcript(tuple(words), frozenset(breaks), (), unread), SOURCE, LEXICON)


def doubts(record: DraftRecord, concept: str) -> list[str]:
    (field,) = [f for f in record.fields if f.concept == concept]
    return [flag.message for flag in field.flags if flag.level == "check"]


@pytest.mark.parametrize("after", ["in the time", "over his garden", "at a lunar month"])
def test_a_place_that_was_not_understood_is_asked_about(after: str) -> None:
    found = doubts(drafted(f"left hand | there is a scar {after}"), "scar")
    assert any(NOT_UNDERSTOOD in doubt for doubt in found)
    assert any(" ".join(after.split()[:2]) in doubt for doubt in found)


@pytest.mark.parametrize(
    "text",
    [
        "there is a scar in the left palm",  # understood
        "left hand | there is a scar | in the time we have",  # another breath
        "left hand | there is a scar",
        "there is a scar on the left",  # a side is no place
    ],
)
def test_a_place_that_was_understood_or_none_is_not(text: str) -> None:
    assert not any(NOT_UNDERSTOOD in doubt for doubt in doubts(drafted(text), "scar"))


def test_a_word_hardly_heard_right_after_a_statement_is_asked_about() -> None:
    text = "left hand | grip strength ten kilograms collection"  # it was "correction, twelve"
    assert any('"collection"' in doubt for doubt in doubts(drafted(text, {"collection": 0.2}), "grip_strength"))
    assert not any("collection" in doubt for doubt in doubts(drafted(text), "grip_strength"))
    another_breath = text.replace("kilograms", "kilograms |")
    assert not any("collection" in doubt for doubt in doubts(drafted(another_breath, {"collection": 0.2}), "grip_strength"))


def test_typed_words_are_as_they_are() -> None:
    record = draft(read_text("Left hand. There is a scar in the time."), SOURCE, LEXICON)
    assert doubts(record, "scar") == []
    assert correct(read_text("Left hand."), LEXICON).corrected


def test_sound_left_unread_since_the_side_was_named_may_have_held_another() -> None:
    text = "left wrist | no swelling | snuffbox tender"
    assert not any(SINCE_THE_SIDE in d for d in doubts(drafted(text), "tenderness"))
    unread = (Unread(3.5, 3.9, "(not read)", "the sound does not agree with any words"),)  # after the swelling
    record = drafted(text, unread=unread)
    assert any(SINCE_THE_SIDE in d for d in doubts(record, "tenderness"))
    assert not any(SINCE_THE_SIDE in d for d in doubts(record, "swelling"))
    (flag,) = [f for f in record.fields[-1].flags if f.code is FlagCode.side_carried]
    assert flag.level == "check"


def test_so_do_several_words_in_a_row_that_were_hardly_heard() -> None:
    low = HARDLY_HEARD - 0.1
    text = "left wrist | no swelling | broken fish along | snuffbox tender"
    assert not any(SINCE_THE_SIDE in d for d in doubts(drafted(text, {"broken": low}), "tenderness"))
    worse = drafted(text, {"broken": low, "fish": low, "along": low})
    assert any(SINCE_THE_SIDE in d for d in doubts(worse, "tenderness"))


@pytest.mark.parametrize(
    ("text", "sure", "asked"),
    [
        ("the left elbow | squit to flexion ninety degrees", 0.3, True),
        ("the left elbow | squit to flexion ninety degrees", 0.9, False),
        ("the left elbow | squit | flexion ninety degrees", 0.3, False),  # another breath
    ],
)
def test_words_right_before_a_field_that_were_hardly_heard_are_asked_about(text: str, sure: float, asked: bool) -> None:
    record = drafted(text, {"squit": sure, "to": sure})
    messages = doubts(record, "elbow_flexion")
    assert any("What came before was not understood" in message for message in messages) == asked


def test_a_plan_heard_alone_between_two_findings_is_asked_about() -> None:
    amid = "in the midst of the examination"
    record = drafted("right hand | swan neck deformity | steroid injection right middle finger | nails normal | no swelling")
    assert any(amid in message for message in doubts(record, "injection"))
    record = drafted("right hand | nails normal | no swelling | plan steroid injection right middle finger")
    assert not any(amid in message for message in doubts(record, "injection"))
