"""Entries written into the text of a lexicon file: added where they belong, everything else left as it stands.

Text in, text out; comments and layout stay. Whether the outcome is a sound lexicon is for the checks to say.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import yaml

from dictation.lexicon.reading import Content, fault, parse_yaml


@dataclass(frozen=True, slots=True)
class NewTerm:
    """What is to be written of a term; kind "structure" makes a place, any other a concept. Names as in entries.py."""

    id: str
    preferred: str
    kind: str
    part: str = ""
    takes: tuple[str, ...] = ()
    statuses: tuple[str, ...] = ()
    spoken: tuple[str, ...] = ()
    misheard: tuple[str, ...] = ()
    pronunciations: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    unit: str | None = None
    plausible: tuple[float, float] | None = None
    wording: Mapping[str, str] = field(default_factory=dict)


def with_term(content: Content, term: NewTerm) -> Content:
    """Return the file with an entry more. Raises LexiconError where the file is not one that can be added to."""
    return _extended(content, "structures" if term.kind == "structure" else "concepts", _entry(term))


def with_forms(
    content: Content, term: str, spoken: Iterable[str], misheard: Iterable[str], said: Mapping[str, tuple[str, ...]]
) -> Content:
    """Return the file with more ways of saying a term that has an entry here or in the shipped lexicon. Raises as above."""
    for key, texts in (("also_spoken", tuple(spoken)), ("mishearings", tuple(misheard))):
        if texts:
            content = _listed(content, key, term, texts)
    for word, ways in said.items():
        content = _extended(content, "pronunciations", [f"{_quoted(word)}: {_list(ways)}"])
    return content


def _entry(term: NewTerm) -> list[str]:
    lines = [f"- id: {term.id}", f"  preferred: {_quoted(term.preferred)}"]
    if term.kind != "structure":
        lines += [f"  kind: {term.kind}", f"  part: {term.part}", f"  takes: [{', '.join(term.takes)}]"]
        lines += [f"  statuses: [{', '.join(term.statuses)}]"]
    if term.unit:
        lines.append(f"  unit: {_quoted(term.unit)}")
    if term.plausible:
        lines.append(f"  plausible: [{term.plausible[0]:g}, {term.plausible[1]:g}]")
    for key, texts in (("spoken", term.spoken), ("misheard", term.misheard)):
        if texts:
            lines.append(f"  {key}: {_list(texts)}")
    for name, mapping in (("pronunciations", term.pronunciations), ("wording", term.wording)):
        if mapping:
            lines.append(f"  {name}:")
            lines += [
                f"    {_quoted(word)}: {_list(value) if isinstance(value, tuple) else _quoted(value)}"
                for word, value in mapping.items()
            ]
    return lines


def _quoted(text: str) -> str:
    written = json.dumps(text, ensure_ascii=False)
    return "".join(c if c.isprintable() else f"\\U{ord(c):08x}" for c in written)


def _list(texts: Iterable[str]) -> str:
    return f"[{', '.join(map(_quoted, texts))}]"


def _extended(content: Content, key: str, block: list[str]) -> Content:
    """Put lines at the end of what stands under a key, which is made where it is missing."""
    text, value = _found(content, key)
    if value is None:
        return _encoded(content, text, [f"{key}:", *(f"  {line}" for line in block)], None)
    if not value.value and not isinstance(value, yaml.CollectionNode):  # the key stands there with nothing under it
        return _encoded(content, text, [f"  {line}" for line in block], value.start_mark.line + 1)
    if not isinstance(value, yaml.CollectionNode) or value.flow_style:
        line = value.start_mark.line + 1
        raise fault(content.name, line, None, f"{key} is written in brackets; write it one entry below the other to add one")
    indent = " " * value.start_mark.column
    return _encoded(content, text, [f"{indent}{line}" for line in block], _last_line(value) + 1)


def _listed(content: Content, key: str, term: str, texts: tuple[str, ...]) -> Content:
    """Add texts to the list of a term under a key."""
    text, value = _found(content, key)
    pairs = value.value if isinstance(value, yaml.MappingNode) else []
    here = next((item for name, item in pairs if name.value == term), None)
    if here is None:
        return _extended(content, key, [f"{term}: {_list(texts)}"])
    if isinstance(here, yaml.SequenceNode) and not here.flow_style:
        indent = " " * here.start_mark.column
        return _encoded(content, text, [f"{indent}- {_quoted(item)}" for item in texts], _last_line(here) + 1)
    lines = _lines(text)
    last = here.value[-1].end_mark if here.value else here.end_mark
    line, column = last.line, last.column - (0 if here.value else 1)  # after the last text, or before the bracket
    more = (", " if here.value else "") + ", ".join(map(_quoted, texts))
    lines[line] = lines[line][:column] + more + lines[line][column:]
    return Content(content.name, _bytes(content, "".join(lines)))


def _found(content: Content, key: str) -> tuple[str, Any]:
    """The text of a file and the node under one of its keys; None where it has no such key, or is empty."""
    text = content.data.decode("utf-8-sig")
    loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    root: Any = yaml.compose(text, Loader=loader) if text.strip() and parse_or_empty(content) else None
    if root is not None and root.flow_style:
        raise fault(content.name, 1, None, "the file is written in brackets; write it one key below the other to add to it")
    return text, next((value for name, value in (root.value if root else ()) if name.value == key), None)


def parse_or_empty(content: Content) -> Mapping[str, Any]:
    """Return what a file holds, {} for one with nothing but comments. Raises LexiconError as parse_yaml."""
    text = content.data.decode("utf-8-sig", "replace")
    if all(line.lstrip().startswith("#") or not line.strip() for line in text.splitlines()):
        return {}
    return parse_yaml(content)


def _last_line(node: Any) -> int:
    """The line, from 0, of the last thing inside a node: comments below it belong to what follows."""
    if isinstance(node, yaml.MappingNode) and node.value and not node.flow_style:
        return _last_line(node.value[-1][1])
    if isinstance(node, yaml.SequenceNode) and node.value and not node.flow_style:
        return _last_line(node.value[-1])
    end = node.end_mark
    last: int = max(end.line if end.column else end.line - 1, node.start_mark.line)
    return last


def _lines(text: str) -> list[str]:
    """The lines as YAML counts them, each with its end."""
    return re.findall(r"[^\r\n\x85\u2028\u2029]*(?:\r\n|[\r\n\x85\u2028\u2029])|[^\r\n\x85\u2028\u2029]+$", text)


def _encoded(content: Content, text: str, block: list[str], at: int | None) -> Content:
    """The file with lines put in before line at, from 0; None: at its end."""
    newline = "\r\n" if "\r\n" in text else "\n"
    lines = _lines(text)
    if lines and not lines[-1].endswith(newline):
        lines[-1] += newline
    at = len(lines) if at is None else at
    lines[at:at] = [line + newline for line in block]
    return Content(content.name, _bytes(content, "".join(lines)))


def _bytes(content: Content, text: str) -> bytes:
    return (b"\xef\xbb\xbf" if content.data.startswith(b"\xef\xbb\xbf") else b"") + text.encode()
