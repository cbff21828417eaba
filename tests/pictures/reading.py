"""What a picture holds, read back from its SVG: marks, texts, and the page coordinates of each."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

from dictation.lexicon.loading import load_lexicon
from dictation.note.wording import word_field
from dictation.record import RecordField

SVG = "{http://www.w3.org/2000/svg}"
LEXICON = load_lexicon()


def word(field: RecordField) -> str:
    """The sentence that the note would print."""
    return word_field(field, LEXICON)


def root_of(svg: str) -> ET.Element:
    """Return the parsed picture. Raises ParseError where it is not well-formed XML."""
    return ET.fromstring(svg)


def marks_of(svg: str) -> dict[str, tuple[str, float, float]]:
    """Return field id -> (classes, x, y) of each mark in the drawing, from the shapes themselves."""
    found = {}
    for group in root_of(svg).iter(f"{SVG}g"):
        classes = group.get("class", "").split()
        if classes[:1] == ["mark"]:
            found[group.get("data-field", "")] = (" ".join(classes), *_centre(group[0]))
    return found


def _centre(shape: ET.Element) -> tuple[float, float]:
    if shape.tag == f"{SVG}circle":
        return float(shape.get("cx", "")), float(shape.get("cy", ""))
    if shape.tag == f"{SVG}rect":
        x, y, width, height = (float(shape.get(key, "")) for key in ("x", "y", "width", "height"))
        return x + width / 2, y + height / 2
    corners = [tuple(map(float, pair.split(","))) for pair in shape.get("points", "").split()]
    return sum(x for x, _ in corners) / len(corners), sum(y for _, y in corners) / len(corners)


def texts_of(svg: str, *, but: tuple[str, ...] = ("number", "tick")) -> str:
    """Return all that is written in the picture, numbers of marks and of the scale left out."""
    lines = [
        element.text or ""
        for element in root_of(svg).iter(f"{SVG}text")
        if not set(but) & set(element.get("class", "").split())
    ]
    return "\n".join(lines)


def numbers_in(text: str) -> set[float]:
    """Return the numbers written in a text."""
    return {float(found) for found in re.findall(r"\d+(?:\.\d+)?", text)}
