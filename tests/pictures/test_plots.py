"""Plots over time: height against value, the band of the published error, a change of examiner, and the same in words."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from measurement.building import confirmed, degrees
from pictures.reading import SVG, numbers_in, root_of, texts_of

from dictation.measurement.over_time import Series, Visit
from dictation.measurement.over_time import over_time as follow
from dictation.pictures.page import page
from dictation.pictures.plots import NOTHING, over_time

FEW = settings(max_examples=25, deadline=None)


def _series(*given_visits: tuple[str, str, list[tuple[str, dict[str, Any]]]]) -> list[Series]:
    return follow([Visit(at, examiner, tuple(confirmed(*fields))) for at, examiner, fields in given_visits])


THREE = _series(
    ("2026-01-01", "A", [degrees("wrist_extension", 30)]),
    ("2026-01-11", "A", [degrees("wrist_extension", 40)]),
    ("2026-02-10", "B", [degrees("wrist_extension", 60)]),
)


def _plots(svg: str) -> dict[str, ET.Element]:
    return {g.get("class", ""): g for g in root_of(svg).iter(f"{SVG}g") if g.get("class", "").startswith("plot ")}


def _line(plot: ET.Element) -> list[tuple[float, float]]:
    pairs = plot.find(f"{SVG}polyline").get("points", "").split()  # type: ignore[union-attr]
    return [(float(x), float(y)) for x, y in (pair.split(",") for pair in pairs)]


def test_points_stand_by_date_and_by_value() -> None:
    (x0, y0), (x1, y1), (x2, y2) = _line(_plots(over_time(THREE).svg)["plot right"])
    assert (x2 - x0) == pytest.approx(4 * (x1 - x0), abs=0.05)  # 10 of 40 days
    assert (y0 - y2) == pytest.approx(3 * (y0 - y1), abs=0.05)  # 10 of 30 degrees
    assert y2 < y0


def test_the_band_is_the_published_error_around_the_first_value() -> None:
    """Reissner et al. 2019: minimal detectable differences of 12 to 30 degrees."""
    plot = _plots(over_time(THREE).svg)["plot right"]
    (_, y0), _, (_, y2) = _line(plot)
    degree = (y0 - y2) / 30
    heights = [float(rect.get("height", "")) / degree for rect in plot.iter(f"{SVG}rect")]
    assert heights == pytest.approx([60, 24], abs=0.05)
    middles = [float(r.get("y", "")) + float(r.get("height", "")) / 2 for r in plot.iter(f"{SVG}rect")]
    assert middles == pytest.approx([y0, y0], abs=0.05)


def test_where_no_error_is_published_there_is_no_band() -> None:
    found = _series(("2026-01-01", "A", [degrees("elbow_flexion", 100)]), ("2026-02-01", "A", [degrees("elbow_flexion", 120)]))
    picture = over_time(found)
    assert list(_plots(picture.svg)["plot right"].iter(f"{SVG}rect")) == []
    assert "No band" in picture.alternative_text


def test_a_change_of_examiner_is_a_line_another_shape_and_words() -> None:
    picture = over_time(THREE)
    plot = _plots(picture.svg)["plot right"]
    (line,) = [e for e in plot.iter(f"{SVG}line") if "examiner" in e.get("class", "")]
    (_, _), (x1, _), (x2, _) = _line(plot)
    assert x1 < float(line.get("x1", "")) < x2
    assert [e.tag.removeprefix(SVG) for e in plot if "point" in e.get("class", "").split()] == ["circle", "circle", "polygon"]
    assert "another examiner (B)" in picture.alternative_text
    same = _series(*((f"2026-0{n}-01", "A", [degrees("wrist_extension", 30 + n)]) for n in (1, 2)))
    assert not [e for e in root_of(over_time(same).svg).iter(f"{SVG}line") if "examiner" in e.get("class", "")]


def test_right_and_left_stand_side_by_side_on_one_scale() -> None:
    both = _series(
        ("2026-01-01", "A", [degrees("wrist_flexion", 30), degrees("wrist_flexion", 70, side="left")]),
        ("2026-03-01", "A", [degrees("wrist_flexion", 50), degrees("wrist_flexion", 70, side="left")]),
    )
    plots = _plots(over_time(both).svg)
    right, left = _line(plots["plot right"]), _line(plots["plot left"])
    assert max(x for x, _ in right) < min(x for x, _ in left)
    assert (right[0][1] - left[0][1]) == pytest.approx(2 * (right[0][1] - right[1][1]), abs=0.05)


def test_a_value_short_of_straight_is_said_in_words() -> None:
    short, beyond = ([degrees("elbow_extension", value)] for value in (-30, 5))
    found = _series(("2026-01-01", "A", short), ("2026-02-01", "A", beyond))
    said = texts_of(over_time(found).svg)
    assert "30° short of straight" in said
    assert "5° beyond straight" in said
    assert not re.search(r"(^|\s)-\d", said, re.MULTILINE)


def test_nothing_at_two_dates_says_so_and_a_date_in_other_words_still_gives_a_plot() -> None:
    assert over_time([]).alternative_text == NOTHING
    found = _series(("first visit", "A", [degrees("wrist_flexion", 30)]), ("second visit", "", [degrees("wrist_flexion", 40)]))
    picture = over_time(found)
    assert len(_line(_plots(picture.svg)["plot right"])) == 2
    assert "examiner not stated" in picture.alternative_text


def test_names_and_dates_are_only_text() -> None:
    nasty = '"><script>&\x00'
    keys = {"position": nasty, "occasion": nasty}
    before, after = ([degrees("wrist_flexion", value, **keys)] for value in (30, 40))
    found = _series((f"1{nasty}", nasty, before), (f"2{nasty}", "B", after))
    picture = over_time(found)
    assert f"{SVG}script" not in {e.tag for e in root_of(picture.svg).iter()}
    written = page(nasty, [picture], nasty)
    assert "<script" not in written
    assert "\x00" not in written
    assert 'content="default-src \'none\'' in written
    assert written.count("<svg") == 1


@FEW
@given(st.lists(st.tuples(st.sampled_from(["right", "left", None]), st.integers(-40, 90), st.integers(-40, 90)), max_size=3,
                unique_by=lambda t: t[0]))  # fmt: skip
def test_every_number_and_side_is_in_the_record_or_in_the_source(values: list[tuple[Any, int, int]]) -> None:
    first = [degrees("wrist_extension", before, side=side) for side, before, _ in values]
    second = [degrees("wrist_extension", after, side=side) for side, _, after in values]
    picture = over_time(_series(("2026-01-01", "A", first), ("2026-02-03", "A", second)))
    published = {5.0, 10.0, 12.0, 30.0, 2019.0}
    allowed = published | {2026.0, 1.0, 2.0, 3.0}
    for _, before, after in values:
        allowed |= {abs(float(before)), abs(float(after)), abs(float(after - before))}
    assert numbers_in(texts_of(picture.svg) + picture.alternative_text) <= allowed
    assert {name for name in ("plot right", "plot left", "plot no-side") if name in _plots(picture.svg)} == {
        f"plot {side or 'no-side'}" for side, _, _ in values
    }
