"""One YAML file as plain values that remember their line, with YAML's traps closed.

Refused, each with file and line: a repeated key, a tag, an anchor or alias (so nothing cyclic), a form that YAML read as
something other than text (an unquoted no, 1:30 or 010), a file that is not UTF-8 or larger than it can sensibly be.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import yaml

from dictation.errors import LexiconError

MAX_BYTES = 16_000_000
_SCALARS = {"str", "int", "float", "bool", "null"}


class Mapped(dict[str, Any]):
    """A mapping that knows the file and line it stands on."""

    file: str = ""
    line: int = 0
    key_lines: dict[str, int]


def fault(file: str, line: int, term: str | None, what: str) -> LexiconError:
    """Return the error for one fault, naming file, line and term."""
    about = f", term {term}" if term else ""
    return LexiconError(f"Lexicon {file}, line {line}{about}: {what}.")


def read_yaml(path: Path) -> Mapped:
    """Return the mapping in a YAML file. Raises LexiconError naming file and line."""
    name = path.name
    try:
        if path.stat().st_size > MAX_BYTES:
            raise fault(name, 1, None, f"the file is larger than {MAX_BYTES // 1_000_000} MB; split it")
        text = path.read_text(encoding="utf-8")
    except UnicodeDecodeError as err:
        raise fault(name, 1, None, "not UTF-8 text; save it as UTF-8") from err
    except OSError as err:
        raise fault(name, 1, None, f"cannot be read ({type(err).__name__}); check the path") from err
    try:
        for token in yaml.scan(text, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader)):
            if isinstance(token, (yaml.AliasToken, yaml.AnchorToken, yaml.TagToken)):
                raise fault(name, token.start_mark.line + 1, None, "anchors, aliases and tags are not used; write it out")
        root = yaml.compose(text, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))
    except yaml.YAMLError as err:
        mark = getattr(err, "problem_mark", None)
        line = mark.line + 1 if mark else 1
        raise fault(name, line, None, f"not YAML ({getattr(err, 'problem', None) or 'cannot be read'})") from err
    except RecursionError as err:
        raise fault(name, 1, None, "nested too deeply") from err
    if not isinstance(root, yaml.MappingNode):
        raise fault(name, 1, None, "the file must be a mapping with keys such as concepts")
    value = _value(root, name)
    if not isinstance(value, Mapped):
        raise TypeError(name)
    return value


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
        return [_value(item, name) for item in node.value]
    kind = node.tag.rsplit(":", 1)[-1]
    if kind not in _SCALARS:
        raise fault(name, line, None, f"{node.value!r} is read as {kind}; put it in quotes")
    readers: dict[str, Callable[[str], Any]] = {"str": str, "int": int, "float": float, "bool": _bool, "null": _none}
    return readers[kind](node.value)


def _bool(text: str) -> bool:
    return text.lower() in {"true", "yes", "on"}


def _none(_text: str) -> None:
    return None
