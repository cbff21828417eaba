"""Findings in the drawing: where their marks lie, on which side, by which shape, and that words say the same.

Where a thumb, a crease or a bone lies against another is surface anatomy: common practice, no source.
"""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pictures.reading import LEXICON, SVG, marks_of, numbers_in, root_of, texts_of, word
from strategies import drafts

from dictation.pictures.frame import VIEWS, radial_direction
from dictation.pictures.hand_drawing import outline
from dictation.pictures.hands import WIDTH, frame_of, hands
from dictation.pictures.places import WITHOUT_PLACE, known, place_of
from dictation.pictures.skeleton import RAYS
from dictation.pictures.svg import Picture
from dictation.record import Flag, FlagCode, RecordField

FEW = settings(max_examples=25, deadline=None)
FINGERS = ("index", "middle", "ring", "little")


def _field(name: str = "a", concept: str = "swelling", **keys: Any) -> RecordField:
    part = LEXICON.concepts[concept].part if concept in LEXICON.concepts else "look"
    return RecordField(**{"id": name, "part": part, "concept": concept, "status": "present", "decision": "confirmed", **keys})


def _hands(*fields: RecordField) -> Picture:
    return hands(fields, LEXICON, word)


@pytest.mark.parametrize("digit", FINGERS)
@pytest.mark.parametrize("side", ["right", "left"])
def test_a_swollen_pip_joint_is_marked_within_that_joint_on_the_back_of_that_hand(side: Any, digit: Any) -> None:
    _, x, y = marks_of(_hands(_field(side=side, digit=digit, joint="pip")).svg)["a"]
    frame = frame_of(side, "hand", "dorsal")
    joint = frame.page(RAYS[digit].joints[2])
    assert math.dist((x, y), joint) <= RAYS[digit].widths[1] * frame.scale
    others = [frame_of(s, "hand", v).page(RAYS[d].joints[n]) for s in ("right", "left") for v in VIEWS for d in RAYS
              for n in range(1, len(RAYS[d].joints)) if (s, v, d, n) != (side, "dorsal", digit, 2)]  # fmt: skip
    assert min(math.dist((x, y), other) for other in others) > 15


def test_right_lies_on_the_left_half_as_an_examiner_sees_it() -> None:
    fields = [_field("r", side="right", joint="wrist"), _field("l", side="left", joint="wrist")]
    marks = marks_of(_hands(*fields).svg)
    assert marks["r"][1] < WIDTH / 2 < marks["l"][1]
    texts = root_of(_hands(*fields).svg).iter(f"{SVG}text")
    lettered = {e.text: float(e.get("x", "")) for e in texts if e.get("font-size") == "30"}
    assert lettered["RIGHT"] < WIDTH / 2 < lettered["LEFT"]


@pytest.mark.parametrize(("side", "view", "thumb"), [
    ("right", "dorsal", "left"), ("right", "volar", "right"), ("left", "dorsal", "right"), ("left", "volar", "left"),
])  # fmt: skip
def test_the_thumb_lies_where_it_does_on_a_hand_with_its_fingers_up(side: Any, view: Any, thumb: str) -> None:
    frame = frame_of(side, "hand", view)
    thumb_x, little_x = (frame.page(RAYS[digit].joints[-1])[0] for digit in ("thumb", "little"))
    assert (thumb_x < little_x) == (thumb == "left")
    assert radial_direction(side, view) == (-1 if thumb == "left" else 1)


def test_the_digits_stand_in_order_and_their_lengths_are_those_of_a_hand() -> None:
    tips = {digit: ray.joints[-1] for digit, ray in RAYS.items()}
    assert sorted(tips, key=lambda d: -tips[d][0]) == ["thumb", *FINGERS]
    assert sorted(tips, key=lambda d: tips[d][1]) == ["thumb", "little", "index", "ring", "middle"]
    for digit in FINGERS:  # proximal phalanx longer than middle, middle not shorter than distal
        joints = RAYS[digit].joints
        proximal, middle, distal = (math.dist(joints[n], joints[n + 1]) for n in (1, 2, 3))
        assert proximal > middle >= distal


def test_every_joint_every_digit_and_every_structure_has_a_place_or_is_named_as_having_none() -> None:
    ids = {(kind, key) for kind, key in known()}
    assert {("joint", joint) for joint in LEXICON.joints} <= ids
    assert set(LEXICON.digits) == set(RAYS)
    with_region = {place.id for place in LEXICON.structures.values() if place.region}
    assert len(with_region) > 90
    placed = {key for kind, key in ids if kind == "structure"}
    assert with_region - placed == set(WITHOUT_PLACE)
    assert placed <= set(LEXICON.structures)
    assert {key for kind, key in ids if kind == "concept"} <= set(LEXICON.concepts)


def _inside(point: tuple[float, float]) -> bool:
    """Whether a point lies within the outline of the hand, by the parity of edges crossed."""
    x, y = point
    ring = outline()
    crossed = [
        a for a, b in zip(ring, [*ring[1:], ring[0]], strict=True)
        if (a[1] > y) != (b[1] > y) and x < a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0])
    ]  # fmt: skip
    return len(crossed) % 2 == 1


@pytest.mark.parametrize("digit", ["ring", "thumb"])
def test_every_place_lies_within_the_hand_it_is_drawn_on(digit: Any) -> None:
    seen = 0
    for (kind, key), row in known().items():
        if (key == "ip") != (digit == "thumb") and kind == "joint":
            continue
        field = _field(concept=key if kind == "concept" else "swelling", side="right")
        keys: dict[str, Any] = {kind: key} if kind in ("structure", "joint") else {}
        if row.frame in ("ray", "joint"):
            keys["digit"] = digit
        if row.frame == "joint":
            keys["joint"] = "mcp"
        place = place_of(field.model_copy(update=keys))
        if row.frame == "digit":
            assert place is None, key  # without a digit it is of no finger
        elif place is not None and place.part == "hand":
            not_of_thumb = digit == "thumb" and row.frame == "ray" and 2 < row.x < 3  # so of the thumb as a whole, past its tip
            assert _inside(place.point) != not_of_thumb, key
            seen += 1
    assert seen > 80


@pytest.mark.parametrize(("one", "other", "how"), [
    ("pisiform", "scaphoid_tubercle", "ulnar"), ("ulnar_styloid", "radial_styloid", "ulnar"),
    ("thenar_eminence", "hypothenar_eminence", "radial"), ("radial_artery", "flexor_carpi_radialis", "radial"),
    ("ulnar_artery", "flexor_carpi_ulnaris", "radial"), ("guyon_canal", "carpal_tunnel", "ulnar"),
    ("anatomical_snuffbox", "radial_styloid", "distal"), ("hook_of_hamate", "pisiform", "distal"),
    ("medial_epicondyle", "lateral_epicondyle", "ulnar"), ("radial_head", "lateral_epicondyle", "distal"),
    ("cubital_tunnel", "olecranon", "ulnar"), ("scapholunate_interval", "listers_tubercle", "distal"),
])  # fmt: skip
def test_structures_lie_to_each_other_as_surface_anatomy_has_them(one: str, other: str, how: str) -> None:
    a, b = (known()["structure", name] for name in (one, other))
    assert {"ulnar": a.x < b.x, "radial": a.x > b.x, "distal": a.y > b.y}[how]


def test_marks_of_one_place_are_spread_numbered_and_listed() -> None:
    concepts = ("swelling", "tenderness", "erythema", "synovitis", "crepitus")
    picture = _hands(*(_field(c, c, side="left", digit="index", joint="mcp") for c in concepts))
    places = [(x, y) for _, x, y in marks_of(picture.svg).values()]
    assert len(places) == 5
    assert min(math.dist(a, b) for n, a in enumerate(places) for b in places[:n]) >= 20
    entries = [g for g in root_of(picture.svg).iter(f"{SVG}g") if g.get("class") == "entry left"]
    assert [entry[1].text for entry in entries] == ["1", "2", "3", "4", "5"]
    assert all(word(_field(c, c, side="left", digit="index", joint="mcp")) in texts_of(picture.svg) for c in concepts)


@pytest.mark.parametrize(("keys", "state"), [
    ({}, "found"), ({"status": "absent"}, "not-found"), ({"status": "not_assessed"}, "not-assessed"),
    ({"certainty": "suspected"}, "doubt"), ({"concept": "phalen_test", "status": "positive"}, "found"),
    ({"concept": "phalen_test", "status": "negative"}, "not-found"),
    ({"concept": "phalen_test", "status": "equivocal"}, "doubt"),
    ({"concept": "radial_pulse", "structure": "radial_artery", "status": "absent"}, "found"),  # a lost pulse
    ({"concept": "radial_pulse", "structure": "radial_artery", "status": "normal"}, "not-found"),
    ({"concept": "light_touch", "digit": "index", "status": "absent"}, "found"),
    ({"concept": "pallor", "digit": "index", "status": "absent"}, "not-found"),
    ({"concept": "static_two_point_discrimination", "digit": "index", "status": None, "value": 6.0, "unit": "mm"}, "measured"),
    ({"concept": "tendon_integrity", "digit": "ring", "structure": "flexor_digitorum_profundus", "status": "absent"}, "found"),
])  # fmt: skip
def test_the_state_of_a_mark(keys: dict[str, Any], state: str) -> None:
    field = _field(**{"side": "right", **({} if "concept" in keys else {"joint": "wrist"}), **keys})
    (mark,) = marks_of(_hands(field).svg).values()
    assert mark[0] == f"mark right {state}"


def test_a_doubt_of_a_draft_is_drawn_as_one_until_it_is_decided() -> None:
    flag = Flag(code=FlagCode.low_recognition, level="check", message="doubtful")
    field = _field(side="right", joint="wrist", flags=[flag], decision="pending")
    assert marks_of(_hands(field).svg)["a"][0].endswith("doubt")
    absent = field.model_copy(update={"status": "absent"})
    assert marks_of(_hands(absent).svg)["a"][0].endswith("not-found-in-doubt")
    assert "1 of the 1 statements" in texts_of(_hands(field).svg)
    settled = _hands(field.model_copy(update={"decision": "confirmed"}))
    assert marks_of(settled.svg)["a"][0].endswith("found")
    assert "not confirmed" not in settled.alternative_text


def test_without_the_list_the_words_still_name_everything() -> None:
    field = _field(side="right", joint="wrist")
    drawing = hands([field], LEXICON, word, listed=False)
    assert drawing.alternative_text == _hands(field).alternative_text
    assert word(field) not in texts_of(drawing.svg)
    assert marks_of(drawing.svg) == marks_of(_hands(field).svg)


def test_states_differ_in_shape_and_not_in_colour_alone() -> None:
    shapes = set()
    for keys in ({}, {"status": "absent"}, {"status": "not_assessed"}, {"certainty": "suspected"}):
        svg = _hands(_field(side="right", joint="wrist", **keys)).svg
        group = next(g for g in root_of(svg).iter(f"{SVG}g") if g.get("class", "").startswith("mark"))
        full = group[0].get("class", "").startswith("found")
        shapes.add((group[0].tag, full, group[0].get("stroke-dasharray")))
    assert len(shapes) == 4


def test_without_a_side_nothing_is_drawn_on_one() -> None:
    picture = _hands(_field(digit="ring", joint="pip"))
    assert marks_of(picture.svg) == {}
    assert "SIDE NOT SAID" in texts_of(picture.svg)
    assert "Side not said, on neither drawing: Swelling at the ring finger PIP joint" in picture.alternative_text


def test_what_is_no_finding_or_was_rejected_is_not_drawn() -> None:
    fields = [
        _field("a", side="right", joint="wrist", decision="rejected"),
        _field("b", "scaphoid_fracture", side="right", structure="scaphoid"),
        _field("c", "wrist_extension", side="right", joint="wrist", status=None, value=50.0, unit="deg"),
        _field("d", "reported_pain", side="right", joint="wrist"),
    ]
    assert marks_of(_hands(*fields).svg) == {}
    assert "mark 1" not in _hands(*fields).alternative_text


def test_a_collective_joint_is_marked_beside_its_row_and_not_on_one_finger() -> None:
    _, x, y = marks_of(_hands(_field(side="right", joint="mcp")).svg)["a"]
    frame = frame_of("right", "hand", "dorsal")
    for digit in FINGERS:
        assert math.dist((x, y), frame.page(RAYS[digit].joints[1])) > 15
    assert len(list(root_of(_hands(_field(side="right", joint="mcp")).svg).iter(f"{SVG}polyline"))) == 1


def test_the_thumb_has_no_middle_phalanx_and_an_unknown_place_is_listed() -> None:
    for keys in ({"structure": "left ear"}, {}, {"digit": "thumb", "joint": "pip"}):
        picture = _hands(_field(side="right", **keys))
        assert marks_of(picture.svg) == {}
        assert "RIGHT, of no one place in the drawing, found: Swelling" in picture.alternative_text
    _, x, y = marks_of(_hands(_field(side="right", digit="thumb", structure="middle_phalanx")).svg)["a"]
    tip = frame_of("right", "hand", "dorsal").page(RAYS["thumb"].joints[-1])
    assert math.dist((x, y), tip) < 25  # past the tip: of the thumb as a whole


@pytest.mark.parametrize(("concept", "digit", "view", "station"), [
    ("nail_pitting", "index", "dorsal", 3.7), ("nail_pitting", "thumb", "dorsal", 2.7), ("elson_test", "ring", "dorsal", 1.94),
    ("mallet_deformity", "little", "dorsal", 3.0), ("dupuytren_cord", "ring", "volar", None),
    ("swelling", "ring", "dorsal", None), ("light_touch", "ring", "volar", None),
])  # fmt: skip
def test_a_sign_of_a_digit_lies_where_its_name_says_or_past_the_tip(concept: str, digit: Any, view: str, station: Any) -> None:
    place = place_of(_field(concept=concept, side="right", digit=digit))
    assert place is not None
    assert place.view == view
    if station is None:
        assert not _inside(place.point)
        assert math.dist(place.point, RAYS[digit].joints[-1]) < 12
    else:
        assert place.point == pytest.approx(RAYS[digit].at(station), abs=0.01)


def test_words_name_every_mark_with_its_side() -> None:
    fields = [_field("a", side="right", digit="ring", joint="pip"), _field("b", "scar", side="left", structure="palm")]
    lines = _hands(*fields).alternative_text.splitlines()
    assert any(line.startswith("RIGHT, back of the hand and wrist, mark 1, found: Swelling") for line in lines)
    assert any(line.startswith("LEFT, palm side of the hand and wrist, mark 2, found: Scar") for line in lines)
    root = root_of(_hands(*fields).svg)
    assert root.get("role") == "img"
    named = root.get("aria-labelledby", "").split()
    assert [root[0].get("id"), root[1].get("id")] == named
    assert root[1].text == " ".join(lines)


def test_nothing_in_a_picture_runs_or_is_fetched_and_what_was_said_is_only_text() -> None:
    nasty = '"><script>alert(1)</script>&\x00\u202e]]>'
    svg = _hands(_field(side="right", joint="wrist", qualifier=nasty), _field(nasty, side="left", joint="wrist")).svg
    root = root_of(svg)
    assert {e.tag for e in root.iter()} <= {SVG + tag for tag in (
        "svg", "title", "desc", "style", "rect", "path", "circle", "g", "line", "polyline", "polygon", "text")}  # fmt: skip
    assert not [key for e in root.iter() for key in e.attrib if key.startswith("on") or "href" in key or key == "style"]
    assert "url(" not in svg
    assert "\u202e" not in svg


_SPOKEN = st.lists(
    st.builds(
        _field, name=st.uuids().map(str), concept=st.sampled_from(["swelling", "tenderness", "tinel_test", "phalen_test"]),
        side=st.sampled_from(["right", "left", None]), digit=st.sampled_from([None, *RAYS]),
        joint=st.sampled_from([None, *LEXICON.joints]), structure=st.sampled_from([None, None, *LEXICON.structures]),
        aspect=st.sampled_from([None, "dorsal", "volar", "radial", "ulnar"]), status=st.sampled_from(["present", "absent"]),
        value=st.sampled_from([None, 12.0, 70.0]),
    ),
    max_size=25,
)  # fmt: skip


@FEW
@given(_SPOKEN)
def test_swapping_right_and_left_mirrors_every_mark(fields: list[RecordField]) -> None:
    swapped = [f.model_copy(update={"side": {"right": "left", "left": "right"}.get(f.side or "")}) for f in fields]
    here, there = marks_of(_hands(*fields).svg), marks_of(_hands(*swapped).svg)
    assert here.keys() == there.keys()
    for name, (_, x, y) in here.items():
        assert there[name][1:] == pytest.approx((WIDTH - x, y), abs=0.05)


@FEW
@given(_SPOKEN)
def test_no_number_and_no_side_that_is_not_in_the_record(fields: list[RecordField]) -> None:
    picture = _hands(*fields)
    said = numbers_in(" ".join(word(field) for field in fields))
    assert numbers_in(texts_of(picture.svg)) <= said
    sides = {group.get("class", "").split()[1] for group in root_of(picture.svg).iter(f"{SVG}g")
             if group.get("class", "").startswith(("mark", "entry"))}  # fmt: skip
    assert sides <= {field.side for field in fields}


@FEW
@given(drafts())
def test_any_draft_gives_a_picture_that_is_xml(draft: Any) -> None:
    root_of(_hands(*draft.fields).svg)
