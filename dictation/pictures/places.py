"""Where in the drawing a field is: a part of the limb, a view, and a point in millimetres.

Where each joint, structure and one-sited test lies is in ``places.tsv``, one row each (surface anatomy, common practice, no
source). Nothing is guessed: a field that names no place, or one that the drawing has not, has none. Imports frame,
skeleton and record.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal

from dictation.pictures.frame import View
from dictation.pictures.skeleton import RAYS, Point
from dictation.record import Digit, Joint, RecordField

Part = Literal["hand", "arm"]

WITHOUT_PLACE = {"web_space": "between which digits is not a key of the record"}
"""Structures that the drawing has no place for, and why."""

_ASIDE = {"wrist": 20.0, "druj": 8.0, "elbow": 24.0}
"""Joint -> mm from its middle to its radial or ulnar aspect; elsewhere half the breadth of a finger."""

_STATION: dict[Joint, float] = {"cmc": 0, "mcp": 1, "pip": 2, "dip": 3, "ip": 2}
_NOT_OF_THUMB = ("pip", "dip")
_FINGERS: tuple[Digit, ...] = ("index", "middle", "ring", "little")
_BEYOND_TIP_MM = 9.5


@dataclass(frozen=True, slots=True)
class Place:
    """Where a field is drawn. row: the joints of a collective ("the MCP joints"), joined by a line; empty else."""

    part: Part
    view: View
    point: Point
    row: tuple[Point, ...] = ()


@dataclass(frozen=True, slots=True)
class _Row:
    view: View
    frame: str
    x: float
    y: float


@cache
def known() -> dict[tuple[str, str], _Row]:
    """Return the table by kind (joint, structure, concept) and id."""
    with (Path(__file__).parent / "places.tsv").open(encoding="utf-8", newline="") as file:
        return {
            (row["kind"], row["id"]): _Row("volar" if row["view"] == "volar" else "dorsal", row["frame"], float(row["x"]),
                                           float(row["y"]))
            for row in csv.DictReader(file, delimiter="\t")
        }  # fmt: skip


def place_of(field: RecordField) -> Place | None:
    """Return where a field is drawn, None where the drawing has no place for it.

    The narrowest place said counts: structure, then joint, then digit (where the concept names a part of it, such as the
    nail, there; else past its tip, as the whole of it), then where a test or territory of one site is.
    """
    row = None
    if field.structure:
        row = known().get(("structure", field.structure))
        found = _of_row(row, field) if row else None
        if found or not field.digit or field.structure not in {i for k, i in known() if k == "structure"}:
            return found
    if field.joint:
        return _of_joint(field, known()["joint", field.joint])
    concept = known().get(("concept", field.concept))
    if field.digit:
        if concept and concept.frame == "ray":
            return _of_row(concept, field)
        default: View = concept.view if concept else "volar" if field.part == "sensation" else "dorsal"
        ray = RAYS[field.digit]
        tip = len(ray.joints) - 1
        return Place("hand", _view(field, default), ray.beside(tip - 0.001, _to_side(field, 8.0), _BEYOND_TIP_MM))
    return _of_row(concept, field) if concept else None


def _of_row(row: _Row, field: RecordField) -> Place | None:
    view = _view(field, row.view)
    if row.frame in ("hand", "arm"):
        aside = _to_side(field, 4.0 if row.frame == "hand" else 8.0)
        return Place("hand" if row.frame == "hand" else "arm", view, (row.x + aside, row.y))
    if row.frame == "joint":
        if field.joint not in _STATION or field.digit is None or (field.digit == "thumb" and field.joint in _NOT_OF_THUMB):
            return None
        return Place("hand", view, RAYS[field.digit].beside(_STATION[field.joint], _to_side(field, row.y)))
    digit = field.digit if row.frame == "ray" else row.frame
    if digit not in RAYS:
        return None
    station = row.x
    if digit == "thumb" and row.frame == "ray" and station > 2:
        if station < 3:
            return None  # a thumb has no middle phalanx
        station -= 1
    ray = RAYS[digit]
    across = _to_side(field, abs(row.y)) if row.y and field.aspect in ("radial", "ulnar") else row.y
    return Place("hand", view, ray.beside(station, across if row.y else _to_side(field, 6.0)))


def _of_joint(field: RecordField, row: _Row) -> Place | None:
    joint, view = field.joint, _view(field, row.view)
    assert joint is not None
    if row.frame != "ray":
        return Place("arm" if row.frame == "arm" else "hand", view, (row.x + _to_side(field, _ASIDE[joint]), row.y))
    station = _STATION[joint]
    if field.digit is None:
        points = tuple(RAYS[digit].at(station) for digit in _FINGERS)
        return Place("hand", view, RAYS["little"].beside(station, -19), points) if joint != "ip" else None
    if field.digit == "thumb" and joint in _NOT_OF_THUMB:
        return None
    return Place("hand", view, RAYS[field.digit].beside(station, _to_side(field, 7.0)))


def _view(field: RecordField, default: View) -> View:
    return field.aspect if field.aspect in ("dorsal", "volar") else default


def _to_side(field: RecordField, mm: float) -> float:
    return {"radial": mm, "ulnar": -mm}.get(field.aspect or "", 0.0)
