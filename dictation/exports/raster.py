"""A picture as PNG, for files that hold no SVG. Drawn by typst, as in the PDF."""

from __future__ import annotations

import typst

WIDTH_CM = 16.5
_PAGE = f"""
#set page(width: auto, height: auto, margin: 0pt)
#image(bytes(sys.inputs.svg), format: "svg", width: {WIDTH_CM}cm)
"""
_PPI = 150


def picture_png(svg: str) -> bytes:
    """Return the picture WIDTH_CM wide, at 150 dots an inch."""
    made = typst.compile(
        _PAGE.encode(), sys_inputs={"svg": svg}, ignore_system_fonts=True, format="png", ppi=_PPI
    )
    page: bytes = made[0] if isinstance(made, list) else made
    return page
