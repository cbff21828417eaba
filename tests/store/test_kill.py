"""kill -9 at any moment of drafting, reviewing and signing: nothing acknowledged is lost, and the store opens.

Each round forks this warm process; the child drafts, keeps sound, takes drafts into the store, decides and signs, and says so
through a pipe after each step. It is killed at a random moment, in the middle of whatever it does.
"""

from __future__ import annotations

import os
import random
import signal
import time
from itertools import count
from pathlib import Path

import pytest
from scripted import ENDING, LEXICON, WHEN, WHO, Script, again

from dictation import draft_from_text
from dictation.errors import ReviewError
from dictation.note.text import render_text
from dictation.record import parse_draft
from dictation.review.opening import open_review
from dictation.review.rules import Review
from dictation.store.facts import Details
from dictation.store.sound import add_sound, find_sound
from dictation.store.store import Encounter, Store, open_store
from dictation.writing import write_whole


def _draft() -> Script:
    script = Script()
    for concept in ("swelling", "scar", "erythema"):
        script.say(concept, "none", side="right", status="absent")
    script.leave("something else")
    return script


SCRIPT = _draft()
IDS = [field.id for field in SCRIPT.fields]
DICTATED = "Right wrist. No swelling, scar or erythema."
STEPS = ["kept", "taken", *IDS, "undone", IDS[-1], "cleared", "signed"]
"""What the child acknowledges for each encounter, in order."""


def _work(folder: Path, said: int) -> None:
    store = open_store(folder)
    folder.mkdir(parents=True, exist_ok=True)  # for the drafts, where the store is on a server
    for number in count(len(store.encounters())):
        reference = f"P{number}-{ENDING}"

        def acknowledge(step: str, reference: str = reference) -> None:
            os.write(said, f"{reference} {step}\n".encode())

        write_whole(folder / f"{reference}.draft.json", draft_from_text(DICTATED).model_dump_json())
        acknowledge("drafted")
        sound = folder / f"{reference}.wav"
        sound.write_bytes(f"an invented recording {reference}".encode() * 2_000)
        encounter = store.open_encounter(reference, Details(consent="given"), WHO, WHEN)
        add_sound(encounter, sound, keep=True, who=WHO, time=WHEN)
        acknowledge("kept")
        review = SCRIPT.take(store, reference)
        acknowledge("taken")
        for name in IDS:
            review.confirm(name, WHO, WHEN)
            acknowledge(name)
        review.undo(WHO, WHEN)
        acknowledge("undone")
        review.reject(IDS[-1], "a reason", WHO, WHEN)
        acknowledge(IDS[-1])
        review.clear(0, WHO, WHEN)
        acknowledge("cleared")
        review.sign(WHO, "Hand surgeon", WHEN, ending=ENDING)
        acknowledge("signed")


def _killed(folder: Path, chance: random.Random) -> list[str]:
    """Let a child work and kill it at a random moment; return what it had acknowledged."""
    hears, says = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(hears)
            _work(folder, says)
        finally:
            os._exit(1)
    os.close(says)
    heard = b""
    wanted = chance.randrange(0, len(STEPS) + 2)
    while heard.count(b"\n") < wanted:
        more = os.read(hears, 4096)
        assert more, "the child died by itself"
        heard += more
    time.sleep(chance.random() * 0.01)
    os.kill(child, signal.SIGKILL)
    while more := os.read(hears, 4096):
        heard += more
    os.close(hears)
    assert os.waitpid(child, 0)[1] == signal.SIGKILL
    return heard.decode().split("\n")[:-1]


def _done(encounter: Encounter) -> list[str]:
    """The steps of an encounter that are in the store, in order."""
    steps = {"encounter opened": None, "sound kept": "kept", "draft taken": "taken"}
    steps |= {what: what for what in ("undone", "cleared", "signed")}
    named = (steps.get(entry.what, entry.field) for entry in encounter.entries)
    return [step for step in named if step is not None]


def _holds_what_was_acknowledged(store: Store, acknowledged: list[str]) -> None:
    said: dict[str, list[str]] = {}
    for line in acknowledged:
        reference, step = line.split()
        if step == "drafted":
            assert parse_draft((store.folder / f"{reference}.draft.json").read_bytes(), "").fields
        else:
            said.setdefault(reference, []).append(step)
    beyond, there = 0, store.encounters()
    last = f"P{len(there) - 1}-{ENDING}"
    touched = [one for one in there if one.reference in said or one.reference == last]  # the others are of earlier rounds
    for one in touched:
        encounter = store.encounter(one.reference)
        done = _done(encounter)
        assert done == STEPS[: len(done)]
        if one.reference in said:
            assert done[: len(said[one.reference])] == said[one.reference]
            beyond += len(done) - len(said[one.reference])
        assert all(find_sound(encounter, sha256).state == "there" for sha256 in encounter.facts.recordings)
        for draft in encounter.facts.drafts:
            review = open_review(encounter, draft, LEXICON, lambda field: field.id)
            if done[-1] == "signed":
                assert render_text(review.signed(), LEXICON)
            else:
                with pytest.raises(ReviewError):
                    review.signed()
    assert set(said) <= {one.reference for one in there}
    assert beyond <= 1
    for number in (len(there) - 1, len(there)):  # what it was at: each is there whole, or not at all
        path = store.folder / f"P{number}-{ENDING}.draft.json"
        assert not path.exists() or parse_draft(path.read_bytes(), "").fields
    assert len(store.journal()) == len(there)


def _rounds(folder: Path, rounds: int) -> None:
    assert draft_from_text(DICTATED).fields  # warm, so that the child is killed at work and not while it loads
    chance = random.Random(2041)
    steps = 0
    for _ in range(rounds):
        acknowledged = _killed(folder, chance)
        store = open_store(folder)
        _holds_what_was_acknowledged(store, acknowledged)
        store.close()
        steps += len(acknowledged)
    assert steps > 3 * rounds


def test_thirty_kills_lose_nothing_acknowledged(tmp_path: Path) -> None:
    _rounds(tmp_path, 30)


@pytest.mark.slow
def test_three_hundred_kills_lose_nothing_acknowledged(tmp_path: Path) -> None:
    for part in range(10):  # a store of its own for each thirty, as every round reads all of it
        _rounds(tmp_path / str(part), 30)


def test_a_review_goes_on_after_a_kill_where_it_stood(tmp_path: Path) -> None:
    chance = random.Random(7)
    while not _killed(tmp_path, chance):
        pass
    store = open_store(tmp_path)
    review: Review = SCRIPT.take(store, store.encounters()[-1].reference)
    pending = review.state.pending
    for name in pending:
        review.confirm(name, WHO, WHEN)
    assert again(review).state.pending == []
