"""Both hands with their wrists, and both elbows with their forearms, with the findings of a record marked where they are.

Drawn as an examiner who faces the patient sees them: the patient's RIGHT takes the left half of the picture, the LEFT the
right half, each the mirror of the other. A field without a side is on neither. Imports the other files of this room,
lexicon's entries and record.
"""

from __future__ import annotations

import itertools
import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache

from dictation.lexicon.entries import Lexicon
from dictation.pictures.arm_drawing import draw_arm
from dictation.pictures.frame import VIEWS, Frame, View, radial_direction
from dictation.pictures.hand_drawing import draw_hand
from dictation.pictures.marks import RADIUS, draw_mark, spread
from dictation.pictures.places import Part, Place, place_of
from dictation.pictures.skeleton import Point
from dictation.pictures.states import STATES, State, is_drawn, state_of
from dictation.pictures.svg import Picture, element, finish, new, wrap, write
from dictation.record import PARTS, RecordField, Side

SIDES: tuple[Side, ...] = ("right", "left")
PARTS_OF_LIMB: tuple[Part, ...] = ("hand", "arm")
WIDTH = 1120.0
_HALF, _QUARTER = WIDTH / 2, WIDTH / 4
_HAND_SCALE, _ARM_SCALE = 1.8, 1.05
_HAND_ORIGIN_Y, _ARM_ORIGIN_Y, _DRAWN_TO = 488.0, 806.0, 892.0
_LABEL_Y = 616.0
_MIDDLE_OF_HAND = 26.0
"""mm from the middle of the wrist to the middle between the thumb's tip and the ulnar border."""

_WHERE: dict[tuple[Part, View], str] = {
    ("hand", "dorsal"): "back of the hand and wrist",
    ("hand", "volar"): "palm side of the hand and wrist",
    ("arm", "dorsal"): "back of the elbow and forearm",
    ("arm", "volar"): "front of the elbow and forearm",
}
_VIEW_NAMES: dict[View, str] = {"dorsal": "Dorsal (back)", "volar": "Volar (palm side, front)"}
SEEN = "As an examiner facing the patient sees them: the patient's RIGHT is on the left of this picture."


@dataclass(frozen=True, slots=True)
class Mark:
    """One field in the picture. number, place, at: what stands in its mark, where it belongs and where the mark lies, in mm;
    None where the field has no place in the drawing and is listed alone.
    """

    field: RecordField
    state: State
    sentence: str
    number: int | None
    place: Place | None
    at: Point | None


def hands(
    fields: Iterable[RecordField], lexicon: Lexicon, word: Callable[[RecordField], str], *, listed: bool = True
) -> Picture:
    """Return the drawing with every finding of the fields marked, numbered and, with ``listed``, listed under it.

    Takes: the fields of a draft, or of a reviewed record with its outcome in ``decision``; word, the sentence of a field
    (as confirmed, else as the note would word it). Rejected fields are left out. Where a field is still pending the picture
    says so. Without the list the same stands in the alternative text alone: for a page that lists the statements itself.
    """
    drawn = [field for field in fields if is_drawn(field, lexicon)]
    marks = place_marks(drawn, lexicon, word)
    sideless = [word(field) for field in drawn if field.side is None]
    pending = sum(field.decision == "pending" for field in drawn)
    remark = f"Draft: {pending} of the {len(drawn)} statements drawn or listed here are not confirmed." if pending else ""

    root = new("hands", "Findings marked on a drawing of both hands, wrists, forearms and elbows", WIDTH)
    _draw_limbs(root, remark)
    for draw in (_draw_leader, _draw):  # marks over leaders, so that no line crosses a number
        for mark in marks:
            draw(root, mark)
    _draw_key(root, marks)
    foot = _DRAWN_TO + 36
    if listed:
        foot = _list_marks(root, marks, sideless, foot) + 8
    return finish(root, foot + 10, list(_sentences(marks, sideless, remark)))


def frame_of(side: Side, part: Part, view: View) -> Frame:
    """Return where on the page a side's hand or arm is drawn: the dorsal views outside, the volar ones inside."""
    column = (0 if view == "dorsal" else 1) if side == "right" else (3 if view == "dorsal" else 2)
    radial = radial_direction(side, view)
    middle = _QUARTER * (column + 0.5)
    if part == "hand":
        return Frame(middle - radial * _HAND_SCALE * _MIDDLE_OF_HAND, _HAND_ORIGIN_Y, _HAND_SCALE, radial)
    return Frame(middle, _ARM_ORIGIN_Y, _ARM_SCALE, radial)


def place_marks(fields: Iterable[RecordField], lexicon: Lexicon, word: Callable[[RecordField], str]) -> list[Mark]:
    """Return a mark for each field with a side, right before left, what was found first; those drawn are numbered through."""
    marks: list[Mark] = []
    numbers = itertools.count(1)
    order = list(STATES)
    for side in SIDES:
        mine = [(field, state_of(field, lexicon)) for field in fields if field.side == side]
        mine.sort(key=lambda pair: (order.index(pair[1]), PARTS.index(pair[0].part)))
        places = [place_of(field) for field, _ in mine]
        spots: dict[int, Point] = {}
        for part in PARTS_OF_LIMB:
            for view in VIEWS:
                here = [(n, p) for n, p in enumerate(places) if p and (p.part, p.view) == (part, view)]
                radius = 1.06 * RADIUS / (_HAND_SCALE if part == "hand" else _ARM_SCALE)
                found = spread([p.point for _, p in here], radius)
                spots |= {n: spot for (n, _), spot in zip(here, found, strict=True)}
        for n, (field, state) in enumerate(mine):
            number = next(numbers) if n in spots else None
            marks.append(Mark(field, state, word(field), number, places[n], spots.get(n)))
    return marks


def _draw_limbs(root: ET.Element, remark: str) -> None:
    write(root, _HALF, 20, SEEN, "soft", font_size=14, text_anchor="middle")
    if remark:
        write(root, _HALF, 39, remark, font_size=14, font_weight="bold", text_anchor="middle")
    root.append(_limbs())


@cache
def _limbs() -> ET.Element:
    """The drawing without a mark, the same in every picture, so drawn once."""
    root = ET.Element("g")
    for side in SIDES:
        middle = _HALF / 2 if side == "right" else _HALF * 1.5
        write(root, middle, 72, side.upper(), font_size=30, font_weight="bold", text_anchor="middle", letter_spacing=3)
        group = element(root, "g", f"limb {side}")
        for view in VIEWS:
            frame = frame_of(side, "hand", view)
            centre = frame.x + frame.radial * _HAND_SCALE * _MIDDLE_OF_HAND
            write(group, centre, 70, _VIEW_NAMES[view], "soft", font_size=14, text_anchor="middle")
            draw_hand(group, frame, view)
            arm = frame_of(side, "arm", view)
            write(group, arm.x, _LABEL_Y, "forearm and elbow", "soft", font_size=13, text_anchor="middle")
            draw_arm(group, arm, view)
    element(root, "line", "rule-line", x1=_HALF, x2=_HALF, y1=50, y2=_DRAWN_TO, stroke_width=2)
    return root


def _draw_leader(root: ET.Element, mark: Mark) -> None:
    """Join a mark to the place it was moved away from, and the joints of a collective to each other."""
    if (drawn := _on_page(mark)) is None or mark.place is None:
        return
    frame, centre, anchor = drawn
    if mark.place.row:
        points = " ".join("{:.2f},{:.2f}".format(*frame.page(point)) for point in (*mark.place.row, mark.place.point))
        element(root, "polyline", "ink-line", points=points, fill="none", stroke_width=1.2, stroke_dasharray="5 3")
    if centre != anchor:
        element(root, "line", "ink-line", x1=anchor[0], y1=anchor[1], x2=centre[0], y2=centre[1], stroke_width=1.2)
        element(root, "circle", "ink", cx=anchor[0], cy=anchor[1], r=2.4)


def _draw(root: ET.Element, mark: Mark) -> None:
    if drawn := _on_page(mark):
        state = mark.state.replace(",", "").replace(" ", "-")
        group = element(root, "g", f"mark {mark.field.side} {state}", data_field=mark.field.id)
        draw_mark(group, drawn[1], mark.state, str(mark.number))


def _on_page(mark: Mark) -> tuple[Frame, Point, Point] | None:
    """The frame of a mark, its centre and the place it belongs to, on the page; None where it is listed alone."""
    if mark.field.side is None or mark.place is None or mark.at is None:
        return None
    frame = frame_of(mark.field.side, mark.place.part, mark.place.view)
    return frame, frame.page(mark.at), frame.page(mark.place.point)


def _draw_key(root: ET.Element, marks: list[Mark]) -> None:
    x, y = 24.0, _DRAWN_TO + 26
    for state, words in STATES.items():
        if any(mark.state == state for mark in marks):
            group = element(root, "g", "key")
            draw_mark(group, (x + 9, y - 5), state, "", 8)
            write(group, x + 26, y, words, font_size=14)
            x += 60 + 7.4 * len(words)


def _list_marks(root: ET.Element, marks: list[Mark], sideless: list[str], top: float) -> float:
    """Write the lists of both sides and of neither; return how far down they reach."""
    bottoms = []
    for side in SIDES:
        left, y = (24.0 if side == "right" else _HALF + 24), top + 16
        mine = [mark for mark in marks if mark.field.side == side]
        write(root, left, y, side.upper(), font_weight="bold")
        if not mine:
            y += 24
            write(root, left, y, "Nothing to mark.", "soft")
        for mark in (mark for mark in mine if mark.at):
            y = _list_one(root, mark, left, y)
        alone = [mark for mark in mine if not mark.at]
        if alone:
            y += 28
            write(root, left, y, f"{side.upper()}, of no one place in the drawing", "soft", font_weight="bold")
        for mark in alone:
            y = _list_one(root, mark, left, y)
        bottoms.append(y)
    y = max(bottoms) + 12
    if sideless:
        y += 20
        write(root, 24, y, "SIDE NOT SAID, so on neither drawing", font_weight="bold")
    for text in sideless:
        for n, part in enumerate(wrap(text, WIDTH - 60)):
            y += 18 if n else 22
            write(root, 24, y, part)
    return y


def _list_one(root: ET.Element, mark: Mark, left: float, y: float) -> float:
    y += 24
    group = element(root, "g", f"entry {mark.field.side}", data_field=mark.field.id)
    draw_mark(group, (left + 10, y - 5), mark.state, str(mark.number or ""), 9)
    for n, part in enumerate(wrap(mark.sentence, _HALF - 80)):
        y += 18 if n else 0
        write(group, left + 30, y, part)
    return y


def _sentences(marks: list[Mark], sideless: list[str], remark: str) -> Iterable[str]:
    """What the picture shows, a sentence each."""
    yield SEEN
    if remark:
        yield remark
    for side in SIDES:
        mine = [mark for mark in marks if mark.field.side == side]
        if not mine:
            yield f"{side.upper()}: nothing to mark."
        for mark in mine:
            where = "of no one place in the drawing"
            if mark.place:
                where = f"{_WHERE[mark.place.part, mark.place.view]}, mark {mark.number}"
            yield f"{side.upper()}, {where}, {STATES[mark.state]}: {mark.sentence}."
    for sentence in sideless:
        yield f"Side not said, on neither drawing: {sentence}."
