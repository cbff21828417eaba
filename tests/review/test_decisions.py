"""Any sequence of decisions, undos, reloads and kills leaves the state that a plain model, or the person,
expects.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scripted import LEXICON, WHEN, WHO, Script, in_memory, invented_examination, word

from dictation.errors import ReviewError
from dictation.review.decisions import fold
from dictation.review.journal import read_journal
from dictation.review.opening import journal_path, open_review
from dictation.review.rules import Review

_IDS = [f"f{n}" for n in range(1, 12)]
_ACTS = st.one_of(
    st.tuples(st.just("confirm"), st.sampled_from(_IDS)),
    st.tuples(st.just("amend"), st.sampled_from(_IDS), st.sampled_from(["right", "left"])),
    st.tuples(st.just("reject"), st.sampled_from(_IDS)),
    st.tuples(st.just("group")),
    st.tuples(st.just("add"), st.sampled_from(["right", "left"])),
    st.tuples(st.just("place")),
    st.tuples(st.just("clear")),
    st.tuples(st.just("undo")),
    st.tuples(st.just("reload")),
)


class _Model:
    """A plain in-memory model of a review: whole states on a stack, no journal and no fold."""

    def __init__(self) -> None:
        draft = invented_examination().draft()
        self.now: dict[str, tuple[str, str | None]] = {f.id: ("pending", f.side) for f in draft.fields}
        self.speech = False
        self.made = 0
        self.stack: list[tuple[dict[str, tuple[str, str | None]], bool]] = []

    def act(self, act: tuple[str, ...]) -> None:
        before = (dict(self.now), self.speech)
        if self._changes(act):
            self.stack.append(before)

    def _changes(self, act: tuple[str, ...]) -> bool:
        match act:
            case ("confirm", name) if self.now[name][0] == "pending" and name != "f11":
                self.now[name] = ("confirmed", self.now[name][1])
            case ("amend", name, side) if self.now[name][0] != "rejected" and self.now[name][1] != side:
                self.now[name] = ("amended", side)
            case ("reject", name) if self.now[name][0] != "rejected":
                self.now[name] = ("rejected", self.now[name][1])
            case ("group",) if all(self.now[n] == ("pending", "right") for n in ("f3", "f4")):
                self.now |= dict.fromkeys(("f3", "f4"), ("confirmed", "right"))
            case ("add", side):
                self.made += 1
                self.now[f"added-{self.made}"] = ("confirmed", side)
            case ("place",) if not self.speech:
                self.made += 1
                self.now[f"added-{self.made}"] = ("confirmed", "right")
                self.speech = True
            case ("clear",) if not self.speech:
                self.speech = True
            case ("undo",):
                if self.stack:
                    self.now, self.speech = self.stack.pop()
                return False
            case _:
                return False
        return True


def _act(review: Review, act: tuple[str, ...]) -> None:
    try:
        match act:
            case ("confirm", name):
                review.confirm(name, WHO, WHEN)
            case ("amend", name, side):
                review.amend(name, {"side": side}, WHO, WHEN)
            case ("reject", name):
                review.reject(name, "a reason", WHO, WHEN)
            case ("group",):
                review.confirm_group(["f3", "f4"], ["f3", "f4"], WHO, WHEN)
            case ("add", side):
                review.add("phalen_test", {"side": side, "status": "negative"}, WHO, WHEN)
            case ("place",):
                review.add("swelling", {"side": "right", "status": "absent"}, WHO, WHEN, unplaced=0)
            case ("clear",):
                review.clear(0, WHO, WHEN)
            case ("undo",):
                review.undo(WHO, WHEN)
    except ReviewError:
        pass


def _seen(review: Review) -> tuple[dict[str, tuple[str, str | None]], bool]:
    state = review.state
    return {name: (d.state, d.field.side) for name, d in state.fields.items()}, state.uncleared == []


@settings(deadline=None)
@given(st.lists(_ACTS, max_size=25))
def test_any_decisions_and_undos_fold_to_the_state_of_a_plain_model(acts: list[tuple[str, ...]]) -> None:
    script, model = invented_examination(), _Model()
    with tempfile.TemporaryDirectory() as folder:
        review = in_memory(script, Path(folder))
        for act in acts:
            if act == ("reload",):
                review = in_memory(script, Path(folder))
            else:
                _act(review, act)
                model.act(act)
            assert _seen(review) == (model.now, model.speech)
        assert fold(review.draft, review.journal.entries) == review.state
        assert in_memory(script, Path(folder)).state == review.state


@settings(deadline=None, max_examples=60)
@given(st.sets(st.sampled_from([*_IDS, "speech"]), min_size=1))
def test_signing_fails_for_every_record_with_anything_pending(left: set[str]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        review = in_memory(invented_examination(), Path(folder))
        for name in _IDS:
            if name not in left:
                _act(review, ("amend", name, "left") if name == "f11" else ("confirm", name))
        if "speech" not in left:
            review.clear(0, WHO, WHEN)
        entries = review.journal.entries
        with pytest.raises(ReviewError, match="not decided"):
            review.sign("Dr A. Invented", "Hand surgeon", WHEN)
        with pytest.raises(ReviewError):
            review.signed()
        assert review.journal.entries == entries


_CHILD = """
import sys
from pathlib import Path
from scripted import LEXICON, WHEN, word
from dictation.review.opening import open_review
review = open_review(Path(sys.argv[1]), LEXICON, word)
for name in review.state.pending:
    review.reject(name, "a reason", "Dr A", WHEN)
    print(name, flush=True)
"""


@pytest.mark.parametrize("wanted", [1, 40, 90])
def test_kill_9_during_a_review_keeps_every_acknowledged_decision(tmp_path: Path, wanted: int) -> None:
    script = Script()
    for _ in range(300):
        script.say("swelling", "no swelling", side="right", status="absent")
    script.review(tmp_path)
    path = tmp_path / "invented.draft.json"
    environ = {**os.environ, "PYTHONPATH": os.pathsep.join([str(Path(__file__).parents[1]), *sys.path])}
    child = subprocess.Popen([sys.executable, "-c", _CHILD, str(path)], stdout=subprocess.PIPE, text=True, env=environ)
    assert child.stdout is not None
    acknowledged = [child.stdout.readline().strip() for _ in range(wanted)]
    child.send_signal(signal.SIGKILL)
    acknowledged += child.stdout.read().split()
    child.stdout.close()
    child.wait()
    state = open_review(path, LEXICON, word).state
    rejected = {name for name, decision in state.fields.items() if decision.state == "rejected"}
    assert len(acknowledged) >= wanted
    assert set(acknowledged) <= rejected
    assert len(rejected - set(acknowledged)) <= 1
    assert len(read_journal(journal_path(path)).entries) == len(rejected) + 1
