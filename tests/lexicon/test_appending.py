"""Entries are written where they belong, and what stood in the file stays as it was."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictation.errors import LexiconError
from dictation.lexicon.appending import NewTerm, with_forms, with_term
from dictation.lexicon.loading import faults_with
from dictation.lexicon.reading import Content, parse_yaml

TERM = NewTerm(
    "wibble_test", "Wibble test", "test", "special_tests", ("side", "status"), ("positive", "negative"),
    ("the wibble",), ("nibble test",), {"wibble": ("W IH B AH L",)}, wording={"positive": "{name} positive{place}"},
)  # fmt: skip
FILES = [
    "",
    "# nothing yet\n",
    "concepts:\n",
    'concepts:\n  - id: dubrule_test # ours\n    preferred: "Dubrule\'s test"\n    kind: test\n    part: feel\n'
    "    takes: [side, status]\n    statuses: [positive]\n\n# places\n"
    "structures:\n- id: watch\n  preferred: 'Watch'\n# the end",
    "structures:\n- id: watch\n  preferred: Watch\nalso_spoken:\n  swelling: [\n    puffed up, # ours\n  ]\n",
    "also_spoken:\n  swelling:\n    - puffed up\n  scar:\n    - cut mark\n",
]


@pytest.mark.parametrize("text", FILES)
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_lines_are_added_and_none_is_lost(text: str, newline: str, mark: str) -> None:
    before = Content("own.yaml", (mark + text.replace("\n", newline)).encode())
    after = with_forms(with_term(before, TERM), "swelling", ["blown up"], ["blown cup"], {"blown": ("B L OW N",)})
    assert faults_with(after) == []
    lines = after.data.decode().splitlines()
    at = -1
    for line in before.data.decode().splitlines():  # each in its place; a list in brackets may have grown
        head, comma, comment = line.partition(", #")
        at = next(i for i in range(at + 1, len(lines)) if lines[i].startswith(head) and lines[i].endswith(comma + comment))
    found = parse_yaml(after)
    assert found["concepts"][-1]["id"] == "wibble_test"
    assert found["also_spoken"]["swelling"][-1] == "blown up"
    assert found["mishearings"]["swelling"] == ["blown cup"]
    assert found["pronunciations"] == {"blown": ["B L OW N"]}
    if "\n" in text:
        assert after.data.count(b"\r\n") == (after.data.count(b"\n") if newline == "\r\n" else 0)
    assert after.data.startswith(b"\xef\xbb\xbf") == bool(mark)


def test_a_second_one_goes_after_the_first() -> None:
    first = with_term(Content("own.yaml", b""), TERM)
    second = with_term(first, NewTerm("watch", "Watch", "structure"))
    third = with_term(second, NewTerm("strap", "Strap", "structure", spoken=("watch strap",)))
    assert third.data.startswith(first.data)
    assert [place["id"] for place in parse_yaml(third)["structures"]] == ["watch", "strap"]
    assert faults_with(third) == []


@pytest.mark.parametrize("text", ["concepts: []\n", "concepts: none\n", '{"concepts": []}\n'])
def test_what_stands_in_brackets_is_not_added_to(text: str) -> None:
    with pytest.raises(LexiconError, match=r"line 1: .*write it one (entry|key) below the other"):
        with_term(Content("own.yaml", text.encode()), TERM)


@given(st.text(min_size=1, max_size=40))
def test_any_text_is_written_so_that_it_reads_back_the_same(text: str) -> None:
    text = text.encode("utf-8", "replace").decode()
    after = with_forms(Content("own.yaml", b"# ours\n"), "swelling", [text], [], {})
    assert parse_yaml(after)["also_spoken"] == {"swelling": [text]}
