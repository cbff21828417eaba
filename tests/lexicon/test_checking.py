"""The checks over the whole lexicon: each fault put into a sound lexicon is found, and the shipped one has none."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any

import pytest

from dictation.errors import LexiconError
from dictation.lexicon.checking import FIXED, KINDS, PARTS, check_lexicon
from dictation.lexicon.entries import Concept, Form, Lexicon, Place
from dictation.lexicon.loading import load_lexicon

WRIST = Place("wrist", "Wrist", (Form("wrist"),), kind="joint")
THUMB = Place("thumb", "Thumb", (Form("thumb"),), kind="digit")
PALM = Place("palm", "Palm", (Form("palm"),))
SWELLING = Concept(
    "swelling", "Swelling", (Form("swelling"), Form("not swollen", {"status": "absent"})), statuses=("present", "absent"),
    wording={"present": "{severity} swelling {place}"},
)  # fmt: skip
FLEXION = Concept("flexion", "Flexion", (Form("flexion"),), kind="movement", part="move", joint="wrist", unit="deg",
                  plausible=(-60.0, 100.0), counts_for="swelling")  # fmt: skip
SOUND = Lexicon(
    version="1", checksum="0", concepts={"swelling": SWELLING, "flexion": FLEXION}, digits={"thumb": THUMB},
    joints={"wrist": WRIST}, structures={"palm": PALM}, aspects={}, language={}, wording={},
)  # fmt: skip
AT: dict[tuple[str, str], tuple[str, int]] = {
    ("concept", "swelling"): ("a.yaml", 3), ("concept", "flexion"): ("a.yaml", 9), ("digit", "thumb"): ("b.yaml", 1),
    ("joint", "wrist"): ("b.yaml", 5), ("structure", "palm"): ("b.yaml", 7), ("joint", "elbow"): ("b.yaml", 9),
}  # fmt: skip


def changed(**keys: Any) -> Lexicon:
    """The sound lexicon with the movement changed."""
    return replace(SOUND, concepts={"swelling": SWELLING, "flexion": replace(FLEXION, **keys)})


def test_a_sound_lexicon_has_no_fault() -> None:
    check_lexicon(SOUND, AT)


@pytest.mark.parametrize(
    ("keys", "what"),
    [
        ({"kind": "guess"}, "kind guess is unknown"),
        ({"part": "feet"}, "part feet is unknown"),
        ({"joint": "knee"}, "joint knee is unknown"),
        ({"digit": "toe"}, "digit toe is unknown"),
        ({"structure": "patella"}, "structure patella is unknown"),
        ({"counts_for": "squelching"}, "counts_for squelching is unknown"),
        ({"plausible": (100.0, -60.0)}, "plausible must rise from low to high"),
        ({"plausible": (5.0, 5.0)}, "plausible must rise from low to high"),
        ({"unit": None}, "plausible needs a unit"),
        ({"spoken": (Form("flexes", {"status": "present"}),)}, "carries status present, which is not among statuses"),
        ({"spoken": (Form("flexes", {"joint": "knee"}),)}, "carries joint knee; allowed: "),
        ({"spoken": (Form("flexes", {"digit": "toe"}),)}, "carries digit toe; allowed: "),
        ({"spoken": (Form("flexes", {"structure": "patella"}),)}, "names an unknown structure"),
        ({"spoken": (Form("  "),)}, "a spoken form is empty"),
        ({"spoken": (Form("Swelling"),)}, "form 'Swelling' already belongs to swelling; a form means one thing"),
        ({"spoken": (Form("swellings"),)}, "form 'swellings' already belongs to swelling"),
        ({"spoken": (Form("the"),)}, "form 'the' would be heard in every sentence"),
        ({"spoken": (Form("no left"),)}, "would be heard in every sentence"),
        ({"spoken": (Form("-- /"),)}, "a spoken form is empty"),
        ({"takes": frozenset(["colour"])}, "takes names colour, which no field has"),
        ({"wording": {"value": "flexion {place}"}}, "wording for value says no value; write {value}"),
        ({"takes": frozenset(["side"]), "wording": {"value": "flexion {value}"}}, "says no place; write {place}"),
        ({"wording": {"present": "flexion"}}, "wording for present, which is not among statuses"),
        ({"wording": {"value": "flexion {angle}"}}, "wording for value has an unknown placeholder"),
        ({"wording": {"value": "flexion {"}}, "wording for value has an unknown placeholder"),
        ({"wording": {"value": "flexion {}"}}, "wording for value has an unknown placeholder"),
    ],
)
def test_a_fault_in_a_concept_is_found_and_named(keys: dict[str, Any], what: str) -> None:
    with pytest.raises(LexiconError) as err:
        check_lexicon(changed(**keys), AT)
    assert str(err.value).startswith("Lexicon a.yaml, line 9, term flexion: ")
    assert what in str(err.value)


def test_a_wording_for_the_value_needs_no_status() -> None:
    check_lexicon(changed(wording={"value": "flexion {value} {place}"}), AT)


def test_every_fault_is_reported_where_it_stands() -> None:
    flexion = replace(FLEXION, kind="guess", unit=None, spoken=(Form("flexion"), Form("the")))
    palm = replace(PALM, spoken=(Form("palm"), Form("hollow", {"side": "middle"})))
    lexicon = replace(SOUND, concepts={"swelling": SWELLING, "flexion": flexion}, structures={"palm": palm})
    found: list[LexiconError] = []
    check_lexicon(lexicon, {**AT, ("concept", "flexion the"): ("a.yaml", 14)}, found.append)
    assert [str(err).split(": ")[0] for err in found] == [
        "Lexicon a.yaml, line 9, term flexion", "Lexicon a.yaml, line 9, term flexion",
        "Lexicon a.yaml, line 14, term flexion", "Lexicon b.yaml, line 7, term palm",
    ]  # fmt: skip


@pytest.mark.parametrize(("kind", "room"), [("joint", "joints"), ("digit", "digits"), ("aspect", "aspects")])
def test_the_record_has_no_room_for_other_joints_digits_and_aspects(kind: str, room: str) -> None:
    knee = Place("knee", "Knee", (Form("knee"),), kind=kind)
    with pytest.raises(LexiconError, match=f"the record has no {kind} of this id; known: "):
        check_lexicon(replace(SOUND, **{room: {**getattr(SOUND, room), "knee": knee}}), {**AT, (kind, "knee"): ("c.yaml", 1)})


def test_what_the_record_has_room_for_is_the_records_own() -> None:
    from typing import get_args

    from dictation import record

    for key, values in FIXED.items():
        kind = {"certainty": None}.get(key, getattr(record, key.capitalize(), None))
        assert kind is None or set(get_args(kind)) == values, key


def test_a_joint_on_an_unknown_digit_is_found() -> None:
    lexicon = replace(SOUND, joints={"wrist": replace(WRIST, digits=("toe",))})
    with pytest.raises(LexiconError, match=r"b\.yaml, line 5, term wrist: digits names an unknown digit"):
        check_lexicon(lexicon, AT)


def test_two_joints_with_one_form_are_found() -> None:
    lexicon = replace(SOUND, joints={"wrist": WRIST, "elbow": Place("elbow", "Elbow", (Form("WRIST"),), kind="joint")})
    with pytest.raises(LexiconError, match=r"line 9, term elbow: form 'WRIST' already belongs to wrist"):
        check_lexicon(lexicon, AT)


def test_a_form_may_name_both_a_concept_and_a_place() -> None:
    """ "Triquetrum" is where something is and, alone, what is spoken of; the grammar chooses."""
    check_lexicon(replace(SOUND, structures={"palm": replace(PALM, spoken=(Form("swelling"),))}), AT)


def test_the_shipped_lexicon_uses_every_part_and_only_known_kinds() -> None:
    concepts = load_lexicon().concepts.values()
    assert {c.part for c in concepts} == set(PARTS)
    assert {c.kind for c in concepts} <= set(KINDS)


def test_no_shipped_form_means_two_concepts() -> None:
    owners = Counter(
        text for c in load_lexicon().concepts.values() for text in {form.text.strip().lower() for form in c.spoken}
    )
    assert [text for text, count in owners.items() if count > 1] == []


def test_every_number_that_is_judged_plausible_has_a_unit() -> None:
    judged = [c for c in load_lexicon().concepts.values() if c.plausible]
    assert len(judged) > 40
    assert [c.id for c in judged if not c.unit or "value" not in c.takes] == []


PLAIN = {"plain_reading": {"denied": ("no", "non", "lack of"), "well": ("stable",), "presumes_nothing": ("loss of",)}}


@pytest.mark.parametrize(
    ("kind", "form", "right"),
    [
        ("finding", Form("no give on stress"), False),
        ("finding", Form("Non-lax"), False),
        ("finding", Form("lack of laxity", {"status": "present"}), False),
        ("finding", Form("stable"), False),
        ("finding", Form("stable", {"status": "absent"}), True),
        ("finding", Form("stable", observed=True), True),
        ("finding", Form("loss of a stable arc"), True),
        ("finding", Form("unstable"), True),
        ("test", Form("stable", {"status": "positive"}), False),
        ("test", Form("stable", {"status": "negative"}), True),
        ("movement", Form("no movement"), False),
        ("movement", Form("no movement", {"status": "absent"}), True),
    ],
)  # common practice, no source
def test_a_form_that_reads_as_nothing_wrong_must_say_so(kind: str, form: Form, right: bool) -> None:
    statuses = {"test": ("positive", "negative"), "movement": ("normal", "absent")}.get(kind, ("present", "absent"))
    laxity = Concept("laxity", "Laxity", (Form("laxity"), form), kind=kind, statuses=statuses)
    lexicon = replace(SOUND, concepts={"laxity": laxity}, language=PLAIN)
    at = {**AT, ("concept", "laxity"): ("a.yaml", 20)}
    if right:
        check_lexicon(lexicon, at)
    else:
        with pytest.raises(LexiconError, match="reads as nothing wrong"):
            check_lexicon(lexicon, at)


@pytest.mark.parametrize(
    ("key", "value"), [("mode", "resisted"), ("side", "both"), ("severity", "bad"), ("certainty", "sure"), ("aspect", "medial")]
)
def test_a_form_carries_only_what_a_field_can_hold(key: str, value: str) -> None:
    with pytest.raises(LexiconError, match=f"carries {key} {value}; allowed"):
        check_lexicon(changed(spoken=(Form("flexes", {key: value}),)), AT)
