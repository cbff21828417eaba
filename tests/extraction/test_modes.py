"""Active and passive: of which movements a mode said once holds."""

from __future__ import annotations

import pytest
from spoken import draft


def modes(text: str) -> list[str | None]:
    """The mode of every field, in the order spoken."""
    return [f.mode for f in draft(text).fields]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Right wrist extension is thirty degrees active, flexion twenty five.", ["active", None]),
        ("Right wrist flexion sixty active, passive seventy, extension fifty.", ["active", "passive", None]),
        ("Passive range of the left ring PIP is ten to ninety. Middle PIP zero to eighty.", ["passive", None]),
        ("Left hand, passive ring PIP: zero to ninety. DIP zero to forty.", ["passive", None]),
        ("Active: right wrist flexion sixty, extension fifty.", ["active", "active"]),
    ],
)
def test_a_mode_holds_for_its_value_its_joint_or_what_it_heads(text: str, expected: list[str | None]) -> None:
    assert modes(text) == expected


def test_a_mode_of_a_heading_taken_to_the_other_side_asks_to_be_checked() -> None:
    right, left = draft("Active movements. Right wrist flexion sixty. Left wrist flexion forty.").fields
    assert (right.mode, left.mode) == ("active", "active")
    assert "check" not in {flag.level for flag in right.flags}
    assert "check" in {flag.level for flag in left.flags}


def test_in_words_without_marks_a_mode_before_one_joint_is_that_joints() -> None:
    said = (
        "right hand index mcp zero to eighty pip zero to ninety middle pip ten to ninety passive ring pip zero to ninety five "
    )
    said += "ring mcp zero to eighty little pip twenty to eighty left hand index mcp zero to ninety"
    assert modes(said) == [None, None, None, "passive", None, None, None]
    assert modes("Passive now. Right index PIP five to ninety. Middle PIP ten to eighty.") == ["passive", "passive"]
