"""One YAML file as plain values that remember their line, with YAML's traps closed.

Refused, each with file and line: a repeated key, a tag, an anchor or alias (so nothing cyclic), a form that YAML read as
something other than text (an unquoted no, 1:30 or 010), a file that is not UTF-8, or larger or deeper than it can sensibly
be. A file is read once, so that its checksum and its values are of the same content.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, overload

import yaml

from dictation.errors import LexiconError

MAX_BYTES = 8_000_000
MAX_DEPTH = 20
_SCALARS = {"str", "int", "float", "bool", "null"}


@dataclass(frozen=True, slots=True)
class Content:
    """A file as it was read: its name and its bytes."""

    name: str
    data: bytes


class Listed(list[Any]):
    """A list that knows the line of each item."""

    lines: list[int]


class Mapped(dict[str, Any]):
    """A mapping that knows the file and line it stands on."""

    file: str = ""
    line: int = 0
    key_lines: dict[str, int]


def fault(file: str, line: int, term: str | None, what: str) -> LexiconError:
    """Return the error for one fault, naming file, line and term."""
    about = f", term {term}" if term else ""
    return LexiconError(f"Lexicon {file}, line {line}{about}: {what}.")


def read_content(path: Path) -> Content:
    """Return a file's bytes. Raises LexiconError naming the file."""
    try:
        if path.stat().st_size > MAX_BYTES:
            raise fault(path.name, 1, None, f"the file is larger than {MAX_BYTES // 1_000_000} MB; split it")
        return Content(path.name, path.read_bytes())
    except OSError as err:
        raise fault(path.name, 1, None, f"cannot be read ({type(err).__name__}); check the path") from err


class Sentences(Sequence[str]):
    """The lines of some texts, but for empty ones and those that begin with #; read when they are first asked for."""

    def __init__(self, texts: Sequence[Content]) -> None:
        self._texts = texts

    @cached_property
    def _lines(self) -> tuple[str, ...]:
        lines = (line for text in self._texts for line in text.data.decode("utf-8").splitlines())
        return tuple(line for line in lines if line and not line.startswith("#"))

    def __len__(self) -> int:
        return len(self._lines)

    @overload
    def __getitem__(self, at: int) -> str: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[str]: ...
    def __getitem__(self, at: int | slice) -> str | Sequence[str]:
        return self._lines[at]

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and self._lines == tuple(other)

    def __hash__(self) -> int:
        return hash(self._texts)


def read_yaml(path: Path) -> Mapped:
    """Return the mapping in a YAML file. Raises LexiconError naming file and line."""
    return parse_yaml(read_content(path))


def parse_yaml(content: Content) -> Mapped:
    """Return the mapping in a YAML text. Raises LexiconError naming file and line."""
    name = content.name
    try:
        text = content.data.decode("utf-8-sig")
    except UnicodeDecodeError as err:
        line = content.data.count(b"\n", 0, err.start) + 1
        raise fault(name, line, None, "not UTF-8 text; save it as UTF-8") from err
    try:
        _refuse_traps(text, name)
        root = yaml.compose(text, Loader=_LOADER)
    except yaml.YAMLError as err:
        mark = getattr(err, "problem_mark", None)
        line = mark.line + 1 if mark else 1
        problem = getattr(err, "problem", None) or getattr(err, "reason", None) or "cannot be read"
        raise fault(name, line, None, f"not YAML ({problem}); correct that line") from err
    if root is None:
        raise fault(name, 1, None, "the file must be a mapping with keys such as concepts; it holds nothing")
    if not isinstance(root, yaml.MappingNode):
        raise fault(name, root.start_mark.line + 1, None, "the file must be a mapping with keys such as concepts")
    value = _value(root, name)
    if not isinstance(value, Mapped):
        raise TypeError(name)
    return value


_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


def _refuse_traps(text: str, name: str) -> None:
    """Refuse what could run code, never end, or overflow the reader's stack; reads closely only where a glance finds cause."""
    if not _PROPERTY.search(text) and not _DEEP.search(text) and _brackets(text) < MAX_DEPTH:
        return
    depth = 0
    for token in yaml.scan(text, Loader=_LOADER):
        if isinstance(token, (yaml.AliasToken, yaml.AnchorToken, yaml.TagToken)):
            raise fault(name, token.start_mark.line + 1, None, "anchors, aliases and tags are not used; write it out")
        if isinstance(token, _OPENS):
            depth += 1
            if depth > MAX_DEPTH:
                raise fault(name, token.start_mark.line + 1, None, "nested too deeply; write it flatter")
        elif isinstance(token, _CLOSES):
            depth -= 1


def _brackets(text: str) -> int:
    depth = deepest = 0
    for bracket in re.findall(r"[\[\]{}]", text):
        depth = depth + 1 if bracket in "[{" else max(0, depth - 1)
        deepest = max(deepest, depth)
    return deepest


_PROPERTY = re.compile(r"(?:^|[\s,:?\[{-])[&*!]")  # where an anchor, an alias or a tag may stand
_DEEP = re.compile(rf"^[ ?:-]{{{MAX_DEPTH},}}", re.MULTILINE)  # indented as far as so many levels take
_OPENS = (
    yaml.FlowSequenceStartToken, yaml.FlowMappingStartToken, yaml.BlockSequenceStartToken, yaml.BlockMappingStartToken,
)  # fmt: skip
_CLOSES = (yaml.FlowSequenceEndToken, yaml.FlowMappingEndToken, yaml.BlockEndToken)


def _value(node: yaml.Node, name: str) -> Any:
    line = node.start_mark.line + 1
    if isinstance(node, yaml.MappingNode):
        out = Mapped()
        out.file, out.line, out.key_lines = name, line, {}
        for key_node, value_node in node.value:
            key = key_node.value
            if not isinstance(key, str):
                raise fault(name, line, None, "a key must be a plain word")
            if key in out:
                raise fault(name, key_node.start_mark.line + 1, None, f"key {key} is repeated")
            out[key] = _value(value_node, name)
            out.key_lines[key] = key_node.start_mark.line + 1
        return out
    if isinstance(node, yaml.SequenceNode):
        items = Listed(_value(item, name) for item in node.value)
        items.lines = [item.start_mark.line + 1 for item in node.value]
        return items
    kind = node.tag.rsplit(":", 1)[-1]
    if kind not in _SCALARS:
        raise fault(name, line, None, f"{node.value!r} is read as {kind}; put it in quotes")
    readers: dict[str, Callable[[str], Any]] = {"str": str, "int": int, "float": float, "bool": _bool, "null": _none}
    try:
        value = readers[kind](node.value)
    except ValueError as err:
        raise fault(name, line, None, f"{node.value!r} is read as a number; put it in quotes") from err
    if isinstance(value, float) and not math.isfinite(value):
        raise fault(name, line, None, f"{node.value!r} is no number; write digits")
    return value


def _bool(text: str) -> bool:
    return text.lower() in {"true", "yes", "on"}


def _none(_text: str) -> None:
    return None
