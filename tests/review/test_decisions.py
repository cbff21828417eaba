"""Any sequence of decisions, undos, reloads and kills leaves the state that a plain model, or the person,
expects.
"""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scripted import ENDING, WHEN, WHO, Script, again, in_memory, invented_examination

from dictation.errors import ReviewError
from dictation.review.decisions import fold
from dictation.review.rules import Review

_Seen = tuple[dict[str, tuple[str, str | None]], bool, str | None, str | None]
"""Each field's state and side, whether the speech is cleared, the run's side, the caution's answer."""

_IDS = [f"f{n}" for n in range(1, 12)]
_ACTS = st.one_of(
    st.tuples(st.just("confirm"), st.sampled_from(_IDS)),
    st.tuples(st.just("amend"), st.sampled_from(_IDS), st.sampled_from(["right", "left"])),
    st.tuples(st.just("reject"), st.sampled_from(_IDS)),
    st.tuples(st.just("group")),
    st.tuples(st.just("add"), st.sampled_from(["right", "left"])),
    st.tuples(st.just("place")),
    st.tuples(st.just("clear")),
    st.tuples(st.just("side"), st.sampled_from(["right", "left"])),
    st.tuples(st.just("caution"), st.sampled_from(["acting", "not relevant"])),
    st.tuples(st.just("undo")),
    st.tuples(st.just("reload")),
)


@dataclass(frozen=True)
class _Caution:
    name: str = "invented"
    text: str = "An invented caution."


def _script() -> Script:
    """The invented examination, two of its fields under one carried side."""
    script = invented_examination()
    script.carry("right", "f3", "f4")
    return script


class _Model:
    """A plain in-memory model of a review: whole states on a stack, no journal and no fold."""

    def __init__(self) -> None:
        draft = invented_examination().draft()
        self.now: dict[str, tuple[str, str | None]] = {f.id: ("pending", f.side) for f in draft.fields}
        self.drafted = {f.id: f.side for f in draft.fields}
        self.speech = False
        self.side: str | None = None
        self.caution: str | None = None
        self.made = 0
        self.stack: list[_Seen] = []

    def seen(self) -> _Seen:
        return dict(self.now), self.speech, self.side, self.caution

    def act(self, act: tuple[str, ...]) -> None:
        before = self.seen()
        if self._changes(act):
            self.stack.append(before)

    def _open(self, *names: str) -> bool:
        """Whether the side of the run is to be decided before these."""
        pending = any(self.now[name][0] == "pending" for name in ("f3", "f4"))
        return self.side is None and pending and bool({"f3", "f4"} & set(names))

    def _changes(self, act: tuple[str, ...]) -> bool:
        match act:
            case ("confirm", name) if self.now[name][0] == "pending" and name != "f11" and not self._open(name):
                side = self.now[name][1]
                self.now[name] = ("confirmed" if side == self.drafted[name] else "amended", side)
            case ("side", side) if self._open("f3"):
                self.side = side
                for name in ("f3", "f4"):
                    if self.now[name] == ("pending", "right"):
                        self.now[name] = ("pending", side)
            case ("caution", answer):
                self.caution = answer
            case ("amend", name, side) if self.now[name][0] != "rejected" and self.now[name][1] != side:
                self.now[name] = ("amended", side)
            case ("reject", name) if self.now[name][0] != "rejected":
                self.now[name] = ("rejected", self.now[name][1])
            case ("group",) if self.side and {self.now[n] for n in ("f3", "f4")} == {("pending", self.side)}:
                state = "confirmed" if self.side == "right" else "amended"
                self.now |= dict.fromkeys(("f3", "f4"), (state, self.side))
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
                    self.now, self.speech, self.side, self.caution = self.stack.pop()
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
            case ("side", "right" | "left" as side):
                review.decide_side(0, side, WHO, WHEN)
            case ("caution", answer):
                review.answer_caution(_Caution(), answer, WHO, WHEN)
            case ("undo",):
                review.undo(WHO, WHEN)
    except ReviewError:
        pass


def _seen(review: Review) -> _Seen:
    state = review.state
    fields = {name: (d.state, d.field.side) for name, d in state.fields.items()}
    return fields, state.uncleared == [], state.runs[0], state.cautions.get("invented")


@settings(deadline=None)
@given(st.lists(_ACTS, max_size=25))
def test_any_decisions_and_undos_fold_to_the_state_of_a_plain_model(acts: list[tuple[str, ...]]) -> None:
    script, model = _script(), _Model()
    review = in_memory(script)
    for act in acts:
        if act == ("reload",):
            review = again(review)
        else:
            _act(review, act)
            model.act(act)
        assert _seen(review) == model.seen()
    assert fold(review.draft, review.journal.entries) == review.state
    assert again(review).state == review.state


@settings(deadline=None, max_examples=60)
@given(st.sets(st.sampled_from([*_IDS, "speech"]), min_size=1))
def test_signing_fails_for_every_record_with_anything_pending(left: set[str]) -> None:
    review = in_memory(invented_examination())
    for name in _IDS:
        if name not in left:
            _act(review, ("amend", name, "left") if name == "f11" else ("confirm", name))
    if "speech" not in left:
        review.clear(0, WHO, WHEN)
    entries = review.journal.entries
    with pytest.raises(ReviewError, match="not decided"):
        review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING)
    with pytest.raises(ReviewError):
        review.signed()
    assert review.journal.entries == entries
