"""Every export of three invented records is as it was kept, to the letter.

Where a change is meant: ``python -m tests.exports.make_golden``, and read the difference.
"""

from __future__ import annotations

from functools import cache

import pytest
from golden_records import DICTATIONS, GOLDEN, exports

from dictation.exports.formats import FORMATS
from dictation.note.document import LENGTHS

_MADE = cache(exports)
FILES = sorted(path.name for path in GOLDEN.iterdir() if not path.name.endswith(".draft.json"))


def test_every_format_and_length_of_three_records_is_kept() -> None:
    assert len(DICTATIONS) == 3
    assert len(FILES) == 3 * (len(FORMATS) - 1 + len(LENGTHS))


@pytest.mark.parametrize("file", FILES)
def test_an_export_is_as_it_was_kept(file: str) -> None:
    assert _MADE(file.split(".")[0])[file] == (GOLDEN / file).read_bytes().decode("utf-8")
