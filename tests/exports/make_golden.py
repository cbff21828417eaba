"""Write the golden files of exports anew: ``python -m tests.exports.make_golden``, then read the difference.

``--drafts`` drafts the three dictations anew too, by the extraction of today.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parent)]

from golden_records import DICTATIONS, GOLDEN, exports  # noqa: E402

from dictation import draft_from_text  # noqa: E402


def main() -> None:
    """Write every file that test_golden.py compares."""
    if "--drafts" in sys.argv:
        for name, text in DICTATIONS.items():
            (GOLDEN / f"{name}.draft.json").write_text(draft_from_text(text).model_dump_json() + "\n", encoding="utf-8")
    for name in DICTATIONS:
        for file, content in exports(name).items():
            (GOLDEN / file).write_bytes(content.encode("utf-8"))
            print(file)


if __name__ == "__main__":
    main()
