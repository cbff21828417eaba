"""YAML's traps are closed, and every fault names its file and line."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dictation.errors import LexiconError
from dictation.lexicon.reading import MAX_BYTES, Mapped, read_yaml


def written(tmp_path: Path, text: str | bytes) -> Path:
    path = tmp_path / "own.yaml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def test_a_mapping_remembers_where_each_key_stands(tmp_path: Path) -> None:
    found = read_yaml(written(tmp_path, 'version: "1"\nconcepts:\n  - id: one\n    spoken: ["a"]\n'))
    entry = found["concepts"][0]
    assert isinstance(entry, Mapped)
    assert (entry.file, entry.line, entry.key_lines) == ("own.yaml", 3, {"id": 3, "spoken": 4})
    assert found.key_lines == {"version": 1, "concepts": 2}


def test_plain_values_keep_their_kind(tmp_path: Path) -> None:
    found = read_yaml(written(tmp_path, 'a: "no"\nb: no\nc: 12\nd: 1.5\ne: null\nf: [x, "1:30"]\n'))
    assert dict(found) == {"a": "no", "b": False, "c": 12, "d": 1.5, "e": None, "f": ["x", "1:30"]}


@pytest.mark.parametrize(
    ("text", "line", "what"),
    [
        ("a: 1\nb: 2\na: 3\n", 3, "key a is repeated"),
        ("a: 1\nb: &x 2\n", 2, "anchors, aliases and tags are not used"),
        ("a: &x [1]\nb: *x\n", 1, "anchors, aliases and tags are not used"),
        ("a: !!python/object:os.system {}\n", 1, "anchors, aliases and tags are not used"),
        ("a: 2024-01-01\n", 1, "is read as timestamp; put it in quotes"),
        ("a: 1\nb: [1, 2\n", 3, "not YAML"),
        ("a: 1\n\tb: 2\n", 2, "not YAML"),
        ("[1, 2]: 3\n", 1, "a key must be a plain word"),
        ("- a\n- b\n", 1, "the file must be a mapping"),
        ("", 1, "the file must be a mapping"),
        ("plain\n", 1, "the file must be a mapping"),
        (b"a: \xff\n", 1, "not UTF-8 text"),
        ("a: " + "[" * 3000 + "]" * 3000, 1, "nest"),
    ],
)
def test_a_fault_is_named_with_its_line(tmp_path: Path, text: str | bytes, line: int, what: str) -> None:
    with pytest.raises(LexiconError) as err:
        read_yaml(written(tmp_path, text))
    message = str(err.value)
    assert message.startswith(f"Lexicon own.yaml, line {line}")
    assert what in message
    assert message.endswith(".")


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(LexiconError, match=r"gone\.yaml, line 1: cannot be read \(FileNotFoundError\); check the path"):
        read_yaml(tmp_path / "gone.yaml")


def test_a_file_that_is_too_large(tmp_path: Path) -> None:
    path = tmp_path / "own.yaml"
    with path.open("wb") as sparse:
        sparse.truncate(MAX_BYTES + 1)
    with pytest.raises(LexiconError, match="larger than 8 MB"):
        read_yaml(path)


@given(st.text(max_size=200) | st.text("ab:-[]{}&*!\"'#|> \n\t01", max_size=60))
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_text_is_a_mapping_or_a_named_fault(tmp_path: Path, text: str) -> None:
    path = written(tmp_path, text.encode())
    try:
        found: object = read_yaml(path)
    except LexiconError as err:
        found = str(err)
    assert isinstance(found, Mapped) or (isinstance(found, str) and found.startswith("Lexicon own.yaml, line "))
