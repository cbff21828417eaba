"""Bars of movements: lengths against the scale, the side of zero, the normal value behind, and the same in words."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from measurement.building import confirmed, degrees
from pictures.reading import SVG, numbers_in, root_of, texts_of

from dictation.measurement.tables import RANGE_SOURCES, normal_ranges
from dictation.pictures.bars import movement_bars

BOTH = [degrees("wrist_extension", 35, mode="active"), degrees("wrist_extension", 70, side="left", mode="active")]
FEW = settings(max_examples=25, deadline=None)


def _bars(svg: str) -> dict[str, tuple[float, float]]:
    """Field id -> left and right end of its bar."""
    found = {}
    for rect in root_of(svg).iter(f"{SVG}rect"):
        if name := rect.get("data-field"):
            x = float(rect.get("x", ""))
            found[name] = (x, x + float(rect.get("width", "")))
    return found


def _normals(svg: str) -> list[tuple[float, float]]:
    rects = [rect for rect in root_of(svg).iter(f"{SVG}rect") if "normal" in rect.get("class", "")]
    return [(float(r.get("x", "")), float(r.get("x", "")) + float(r.get("width", ""))) for r in rects]


def test_both_sides_stand_on_one_scale_before_the_normal_value_of_the_table() -> None:
    svg = movement_bars(confirmed(*BOTH), "aaos").svg  # AAOS 1965: wrist extension 70
    right, left = _bars(svg)["f0"], _bars(svg)["f1"]
    assert right[0] == left[0]
    assert (left[1] - left[0]) == pytest.approx(2 * (right[1] - right[0]), abs=0.05)
    assert _normals(svg) == [pytest.approx(left, abs=0.05)]


def test_short_of_straight_goes_to_the_other_side_of_zero_than_beyond_it() -> None:
    fields = confirmed(degrees("elbow_extension", -20), degrees("elbow_extension", 10, side="left"))
    picture = movement_bars(fields, "aaos")
    short, beyond = _bars(picture.svg).values()
    assert short[1] == pytest.approx(beyond[0], abs=0.02)
    assert (short[1] - short[0]) == pytest.approx(2 * (beyond[1] - beyond[0]), abs=0.05)
    assert "RIGHT 20° short of straight, 20° less than normal 0°; LEFT 10° beyond straight" in picture.alternative_text


@pytest.mark.parametrize("table", RANGE_SOURCES)
def test_each_table_is_named_with_its_own_value(table: str) -> None:
    picture = movement_bars(confirmed(*BOTH), table)
    assert RANGE_SOURCES[table] in picture.alternative_text
    normal = normal_ranges("wrist_extension", "").get(table)
    assert (len(_normals(picture.svg)) == 1) == (normal is not None)
    assert ("no normal value" in picture.alternative_text) == (normal is None)


def test_an_unknown_table_is_refused() -> None:
    with pytest.raises(KeyError):
        movement_bars(confirmed(*BOTH), "nobody")


@pytest.mark.parametrize("key", [{"mode": "passive"}, {"digit": "thumb"}, {"occasion": "after block"}, {"position": "prone"}])
def test_only_like_stands_beside_like(key: dict[str, Any]) -> None:
    unlike = {"digit": "index", "side": "left", **key}
    fields = confirmed(degrees("mcp_flexion", 50, digit="index"), degrees("mcp_flexion", 60, **unlike))
    assert len(movement_bars(fields, "aaos").alternative_text.splitlines()) == 3


def test_without_a_side_there_is_no_bar_but_the_value_stands_in_words() -> None:
    picture = movement_bars(confirmed(degrees("wrist_flexion", 45, side=None)), "aaos")
    assert _bars(picture.svg) == {}
    assert "side not said 45°" in texts_of(picture.svg)


def test_nothing_is_worked_out_from_a_value_that_is_not_confirmed() -> None:
    picture = movement_bars(confirmed(degrees("wrist_flexion", 45, decision="pending")), "aaos")
    assert "RIGHT 45°, not confirmed" in picture.alternative_text
    assert "less than" not in picture.alternative_text + texts_of(picture.svg)
    assert "45" not in movement_bars(confirmed(degrees("wrist_flexion", 45, decision="rejected")), "aaos").svg


def test_less_than_a_number_stays_so_and_nothing_is_worked_out_from_it() -> None:
    picture = movement_bars(confirmed(degrees("wrist_flexion", 45, comparator="<")), "aaos")
    assert "RIGHT less than 45°" in texts_of(picture.svg)
    assert "less than normal" not in picture.alternative_text + texts_of(picture.svg)


def test_nothing_measured_says_so() -> None:
    assert movement_bars([], "aaos").alternative_text == "No movement was measured in degrees."


_MEASURED = st.lists(
    st.builds(
        lambda concept, value, side: degrees(concept, value, side=side),
        st.sampled_from(["wrist_flexion", "wrist_extension", "elbow_flexion", "elbow_extension", "forearm_pronation"]),
        st.integers(-40, 160), st.sampled_from(["right", "left", None]),
    ),
    max_size=8,
)  # fmt: skip


@FEW
@given(_MEASURED)
def test_every_number_is_in_the_record_in_the_table_or_their_difference(given_fields: Any) -> None:
    fields = confirmed(*given_fields)
    picture = movement_bars(fields, "ama")
    allowed = {0.0, *numbers_in(RANGE_SOURCES["ama"])}
    for field in fields:
        assert field.value is not None
        normal = normal_ranges(field.concept, "")["ama"][0]
        allowed |= {abs(field.value), normal, abs(normal - field.value)}
    assert numbers_in(texts_of(picture.svg) + picture.alternative_text) <= allowed
    sides = {side for side in ("RIGHT", "LEFT") if f"{side} " in picture.alternative_text}
    assert sides == {field.side.upper() for field in fields if field.side}


@FEW
@given(_MEASURED)
def test_swapping_right_and_left_keeps_every_length(given_fields: Any) -> None:
    fields = confirmed(*given_fields)
    swapped = [f.model_copy(update={"side": {"right": "left", "left": "right"}.get(f.side or "")}) for f in fields]
    assert _bars(movement_bars(fields, "ama").svg) == _bars(movement_bars(swapped, "ama").svg)
