"""Pictures as SVG text: elements, wrapped text, and the look that all pictures share.

Every picture is one element tree (xml.etree escapes all text), with a title and a description for those who do not see
it, no script, no link, nothing fetched. Colours are attributes, so that it reads the same wherever styles are not
allowed; the style sheet adds dark screens and print by class. Imports nothing of ours.
"""

from __future__ import annotations

import hashlib
import math
import unicodedata
import xml.etree.ElementTree as ET
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

_UNSAFE = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
_NARROW, _WIDE = set("iljtfrI.,:;'|!()[] -°"), set("mwMW—%@")

COLOURS = {
    "ink": "#1b1f24", "soft": "#58616b", "skin": "#f6efe8", "line": "#6b5d52", "faint": "#b9aa9c", "nail": "#fffaf5",
    "paper": "#ffffff", "found": "#a3200d", "clear": "#ffffff", "doubt": "#ffd75e", "bar": "#2b5c8a", "pale": "#dfe6ec",
    "rule": "#c9d0d6", "band": "#e9edf1",
}  # fmt: skip
"""Class -> its colour by day; a class fills with it, and ``NAME-line`` draws with it."""

_DARK = {
    "ink": "#e8ebee", "soft": "#a9b4be", "skin": "#2e2b29", "line": "#c0b3a6", "faint": "#6f665e", "nail": "#3d3835",
    "paper": "#14171a", "found": "#ff8f7a", "clear": "#14171a", "doubt": "#8a6a00", "bar": "#7db4e6", "pale": "#34414d",
    "rule": "#47515a", "band": "#262d33",
}  # fmt: skip


def style_sheet() -> str:
    """Return the style that every picture carries, for a page that serves styles from a file of its own."""
    rules = [
        f".picture .{name}{{fill:{dark}}}.picture .{name}-line{{stroke:{dark}}}" for name, dark in _DARK.items()
    ]
    return f"@media screen and (prefers-color-scheme:dark){{{''.join(rules)}}}"


@dataclass(frozen=True, slots=True)
class Picture:
    """One picture. svg: the whole element as text. alternative_text: the same in plain sentences, a line each."""

    svg: str
    alternative_text: str


def plain(text: str) -> str:
    """Return text as one line that XML can hold: no control, no direction-changing character."""
    kept = (" " if ch.isspace() else ch for ch in text if ch.isspace() or unicodedata.category(ch) not in _UNSAFE)
    return " ".join("".join(kept).split())


def element(parent: ET.Element, tag: str, classes: str = "", **attributes: str | float) -> ET.Element:
    """Add an element. A class of COLOURS fills, one ending in -line draws; ``stroke_width`` is written stroke-width."""
    given = {
        key.replace("_", "-"): plain(value) if isinstance(value, str) else _number(value) for key, value in attributes.items()
    }
    names = classes.split()
    fill = next((COLOURS[name] for name in names if name in COLOURS), None)
    stroke = next((COLOURS[name[:-5]] for name in names if name.endswith("-line")), None)
    if tag in ("path", "circle", "rect", "polygon", "line", "ellipse") or fill:
        given.setdefault("fill", fill or "none")
    if stroke:
        given.setdefault("stroke", stroke)
    if classes:
        given["class"] = classes
    return ET.SubElement(parent, tag, given)


def write(parent: ET.Element, x: float, y: float, text: str, classes: str = "ink", **attributes: str | float) -> ET.Element:
    """Add one line of text; size 15 unless ``font_size`` says otherwise."""
    attributes.setdefault("font_size", 15)
    added = element(parent, "text", classes, x=x, y=y, **attributes)
    added.text = plain(text)
    return added


def wrap(text: str, width: float, size: float = 15) -> list[str]:
    """Return text in lines that fit a width, by an estimate of the letters' widths that errs on the wide side."""
    lines: list[str] = []
    for word in plain(text).split(" "):
        for piece in _pieces(word, width, size):
            if lines and text_width(f"{lines[-1]} {piece}", size) <= width:
                lines[-1] += f" {piece}"
            else:
                lines.append(piece)
    return lines


def _pieces(word: str, width: float, size: float) -> Iterable[str]:
    """A word in pieces no wider than a line."""
    piece = ""
    for letter in word:
        if piece and text_width(piece + letter, size) > width:
            yield piece
            piece = ""
        piece += letter
    yield piece


def text_width(text: str, size: float = 15) -> float:
    """Return about how wide text is in a common sans serif."""
    ems = 0.0
    for letter in text:
        if letter in _NARROW:
            ems += 0.34
        elif letter in _WIDE:
            ems += 0.92
        elif letter.isupper() or unicodedata.east_asian_width(letter) in "WF":
            ems += 0.72 if letter.isascii() else 1.0
        else:
            ems += 0.56
    return ems * size


def new(name: str, title: str, width: float) -> ET.Element:
    """Return the root of a picture whose height ``finish`` sets. name: which picture, e.g. "hands"."""
    root = ET.Element(
        "svg",
        {"xmlns": "http://www.w3.org/2000/svg", "role": "img", "class": f"picture picture-{name}", "width": _number(width),
         "font-family": "Helvetica, Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif"},
    )  # fmt: skip
    ET.SubElement(root, "title").text = plain(title)
    ET.SubElement(root, "desc")
    ET.SubElement(root, "style").text = style_sheet()
    return root


def finish(root: ET.Element, height: float, sentences: Sequence[str]) -> Picture:
    """Return the picture. sentences: what it shows, whole, each a sentence."""
    width = root.get("width", "0")
    lines = [plain(sentence) for sentence in sentences]
    title, desc = root[0], root[1]
    desc.text = " ".join(lines)
    key = hashlib.sha256((str(root.get("class")) + str(title.text) + desc.text).encode()).hexdigest()[:10]
    title.set("id", f"title-{key}")
    desc.set("id", f"desc-{key}")
    root.set("aria-labelledby", f"title-{key} desc-{key}")
    root.set("viewBox", f"0 0 {width} {_number(height)}")
    root.set("height", _number(height))
    paper = ET.Element(
        "rect", {"class": "paper", "fill": COLOURS["paper"], "width": width, "height": _number(height)}
    )
    root.insert(3, paper)
    return Picture(ET.tostring(root, encoding="unicode"), "\n".join(lines))


def path(points: Sequence[tuple[float, float]], *, closed: bool = False) -> str:
    """Return path data of a smooth line through all points (centripetal Catmull-Rom as Bézier curves)."""
    if len(points) < 2:
        return ""
    n = len(points)
    ends = [points[i % n] for i in range(-1, n + 2)] if closed else [points[0], *points, points[-1]]
    parts = [f"M{_pair(points[0])}"]
    for before, start, end, after in zip(ends, ends[1:], ends[2:], ends[3:], strict=False):
        one, two = _handles(before, start, end, after)
        parts.append(f"C{_pair(one)} {_pair(two)} {_pair(end)}")
    return "".join(parts) + ("Z" if closed else "")


def _handles(
    p0: tuple[float, float], p1: tuple[float, float], p2: tuple[float, float], p3: tuple[float, float]
) -> tuple[tuple[float, float], tuple[float, float]]:
    """The two control points between p1 and p2."""
    d1, d2, d3 = (max(_apart(a, b), 1e-6) ** 0.5 for a, b in ((p0, p1), (p1, p2), (p2, p3)))
    first, second = [], []
    for a, b, c, d in zip(p0, p1, p2, p3, strict=True):
        m1 = (b - a) / d1 - (c - a) / (d1 + d2) + (c - b) / d2 if p0 != p1 else (c - b) / d2
        m2 = (c - b) / d2 - (d - b) / (d2 + d3) + (d - c) / d3 if p2 != p3 else (c - b) / d2
        first.append(b + m1 * d2 / 3)
        second.append(c - m2 * d2 / 3)
    return (first[0], first[1]), (second[0], second[1])


def _apart(a: tuple[float, float], b: tuple[float, float]) -> float:
    return math.dist(a, b)


def _pair(point: tuple[float, float]) -> str:
    return f"{_number(point[0])},{_number(point[1])}"


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") if value else "0"
