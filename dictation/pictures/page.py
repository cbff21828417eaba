"""Pictures as one HTML file that needs nothing else: each with its alternative text, readable by anyone.

Imports svg.
"""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from dictation.pictures.svg import Picture, plain

_STYLE = (
    "body{font-family:Helvetica,Arial,sans-serif;margin:1.5rem;max-width:75rem;color-scheme:light dark}"
    "figure{margin:0 0 2rem}svg{max-width:100%;height:auto}@media print{details{display:none}}"
)


def page(title: str, pictures: Iterable[Picture], remark: str) -> str:
    """Return the file. remark: a line under the title."""
    figures = "".join(_figure(picture) for picture in pictures)
    head = plain(title)
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">"
        '<meta name="viewport" content="width=device-width">'
        f"<title>{escape(head)}</title><style>{_STYLE}</style></head>\n"
        f"<body><main><h1>{escape(head)}</h1><p>{escape(plain(remark))}</p>\n{figures}</main></body></html>\n"
    )


def _figure(picture: Picture) -> str:
    lines = "".join(f"<li>{escape(line)}</li>" for line in picture.alternative_text.splitlines())
    words = f"<details><summary>In words</summary><ul>{lines}</ul></details>"
    return f"<figure>{picture.svg}<figcaption>{words}</figcaption></figure>\n"
