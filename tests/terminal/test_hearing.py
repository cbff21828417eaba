"""The word play in the terminal review: it plays what a statement rests on, decides nothing, and never fails."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest
from scripted import WHEN, WHO, Script, invented_examination

from dictation.errors import AudioError
from dictation.review.rules import Review
from dictation.terminal.hearing import Span
from dictation.terminal.walk import Walk


class _Sitting:
    def __init__(self, *answers: str, fails: bool = False) -> None:
        self.answers, self.fails = iter(answers), fails
        self.shown, self.prompts, self.played = list[str](), list[str](), list[Sequence[Span]]()

    def ask(self, prompt: str) -> str:
        self.prompts.append(prompt)
        try:
            return next(self.answers)
        except StopIteration:
            raise EOFError from None

    def play(self, spans: Sequence[Span]) -> None:
        if self.fails:
            raise AudioError("There is nothing to play sound with.")
        self.played.append(spans)

    def walk(self, review: Review, *, spoken: bool = True) -> str:
        play = self.play if spoken else None
        Walk(review, WHO, self.ask, lambda line, tone: self.shown.append(line), lambda: WHEN, play=play).run()
        return "\n".join(self.shown)


def test_a_statement_its_stretch_and_speech_that_made_no_field_are_played(tmp_path: Path) -> None:
    script = Script()
    script.say("scar", "a scar", side="right", status="present")
    script.say("wrist_extension", "extension forty five", side="right", value=45.0, unit="deg")
    script.carry("right", "f1", "f2")
    script.leave("something else")
    review = script.review(tmp_path)
    sitting = _Sitting("play", "right", "play", "confirm", "pl", "confirm", "play", "clear")
    sitting.walk(review)
    assert sitting.played == [[(0.0, 3.0)], [(0.0, 1.0)], [(1.0, 2.5)], [(1.0, 2.0)]]
    assert [entry.what for entry in review.journal.entries] == ["side decided", "confirmed", "confirmed", "cleared"]


def test_a_group_is_played_statement_by_statement(tmp_path: Path) -> None:
    script = Script()
    for concept in ("swelling", "scar"):
        script.say(concept, "none seen", side="right", status="absent")
    sitting = _Sitting("play", "together")
    review = script.review(tmp_path)
    sitting.walk(review)
    assert sitting.played == [[(0.0, 1.0), (1.0, 2.0)]]
    assert review.state.pending == []


def test_where_it_cannot_be_played_that_is_said_and_the_review_goes_on(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    text = _Sitting("play", "confirm", fails=True).walk(review)
    assert "There is nothing to play sound with." in text
    assert len(review.state.pending) == 10


def test_of_typed_text_there_is_nothing_to_play(tmp_path: Path) -> None:
    sitting = _Sitting("play")
    sitting.walk(invented_examination().review(tmp_path), spoken=False)
    assert "play" not in sitting.prompts[0]
    assert "Say one of:" in "\n".join(sitting.shown)


@pytest.mark.parametrize("word", ["play", "pla"])
def test_no_beginning_of_it_confirms(tmp_path: Path, word: str) -> None:
    review = invented_examination().review(tmp_path)
    _Sitting(word, "stop").walk(review)
    assert review.journal.entries == ()
