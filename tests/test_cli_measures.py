"""The commands about what follows from confirmed statements: from a draft, through its review, to the result on the screen."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from scripted import REFERENCE, WHEN, WHO, Script

from dictation.cli import commands
from dictation.errors import InputError, ReviewError
from dictation.store.facts import Details
from dictation.store.sound import state_details
from dictation.store.store import open_store


@pytest.fixture
def draft(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A draft of two movements and a fixed flexion deformity, in empty settings."""
    monkeypatch.setenv("DICTATION_SETTINGS", str(tmp_path / "settings.toml"))
    (tmp_path / "settings.toml").write_text("", encoding="utf-8")
    script = Script()
    for side, value in (("right", 55.0), ("left", 68.0)):
        script.say("wrist_extension", f"{side} wrist extension", side=side, value=value, unit="deg", mode="active")
    script.say(
        "fixed_flexion_deformity", "fixed flexion of twenty", side="right", digit="ring", joint="pip", status="present",
        value=20.0, unit="deg",
    )  # fmt: skip
    path = tmp_path / "h7.draft.json"
    path.write_text(script.draft().model_dump_json(), encoding="utf-8")
    return path


def _run(tmp_path: Path, *args: str, typed: str = "") -> str:
    result = CliRunner().invoke(commands, ["--store", str(tmp_path / "store"), *args], input=typed)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.output


def _confirm_two(draft: Path, tmp_path: Path) -> None:
    _run(tmp_path, "review", str(draft), "--reviewer", WHO, "--order", "examination", typed="confirm\nconfirm\nstop\n")


def test_only_what_was_confirmed_is_worked_out_with_its_source(draft: Path, tmp_path: Path) -> None:
    _confirm_two(draft, tmp_path)
    shown = _run(tmp_path, "measures", str(draft))
    assert shown.count("\n\n") >= 2
    assert "diagnosis" in shown
    assert " by: " in shown
    confirmed = [word for word in ("55°", "68°", "20° short of straight") if word in shown]
    assert len(confirmed) == 2


def test_another_table_and_an_unknown_one(draft: Path, tmp_path: Path) -> None:
    _confirm_two(draft, tmp_path)
    assert "AMA Guides" in _run(tmp_path, "measures", str(draft), "--table", "ama")
    with pytest.raises(InputError, match="there are aaos, ama"):
        _run(tmp_path, "measures", str(draft), "--table", "nobody")
    with pytest.raises(InputError, match="carpal_tunnel_score"):
        _run(tmp_path, "measures", str(draft), "--score", "nothing")


def test_the_clinic_s_table_and_scores_come_from_the_settings(
    draft: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _confirm_two(draft, tmp_path)
    (tmp_path / "settings.toml").write_text('normal_table = "ama"\nscores = "tubiana_stage, strickland"\n', encoding="utf-8")
    shown = _run(tmp_path, "measures", str(draft))
    assert "AMA Guides" in shown
    assert "AAOS" not in shown
    assert "AAOS" in _run(tmp_path, "measures", str(draft), "--table", "aaos")
    assert "tubiana_stage, strickland" in _run(tmp_path, "settings", "show")
    monkeypatch.setenv("DICTATION_SCORES", "nothing")
    with pytest.raises(InputError, match="no score of that name"):
        _run(tmp_path, "measures", str(draft))


@pytest.mark.parametrize(
    ("details", "said"),
    [
        ({"age": 42, "sex": "male"}, "percentile 15"),  # GRIP-1: z -1.05 on Mathiowetz 1985
        ({"age": 42, "sex": "other"}, "sex not given"),
        ({}, "age and sex not given"),
    ],
)
def test_age_and_sex_are_the_encounter_s(tmp_path: Path, details: dict[str, Any], said: str) -> None:
    script = Script()
    script.say("grip_strength", "grip ninety five pounds", side="right", value=95.0, unit="[lb_av]")
    script.say("flexed_digit_posture", "flexed", side="right", digit="middle", status="present")
    store = open_store(tmp_path / "store")
    store.open_encounter(REFERENCE, Details(**details), WHO, WHEN)
    review = script.take(store)
    for name in ("f1", "f2"):
        review.confirm(name, WHO, WHEN)
    store.close()
    shown = _run(tmp_path, "measures", REFERENCE, "--score", "kanavel_count")
    assert said in shown
    assert ("Kanavel's signs: 1 of 4" in shown) is ("age" in details)  # no score where the age is not known


def test_before_a_review_there_is_nothing(draft: Path, tmp_path: Path) -> None:
    with pytest.raises(ReviewError, match="has not begun"):
        _run(tmp_path, "measures", str(draft))


def test_one_date_gives_no_series(draft: Path, tmp_path: Path) -> None:
    _confirm_two(draft, tmp_path)
    assert "No value was signed at two dates" in _run(tmp_path, "over-time", "h7")


def test_two_signed_dates_are_followed(draft: Path, tmp_path: Path) -> None:
    from dictation.reviewing import review_of
    from dictation.settings import read_settings

    _run(tmp_path, "review", str(draft), "--reviewer", WHO, typed="stop\n")
    later = Script()
    later.say("wrist_extension", "right wrist extension", side="right", value=66.0, unit="deg", mode="active")
    path = tmp_path / "later.draft.json"
    other = later.draft()
    other.source.sha256 = "b" * 64  # another recording
    path.write_text(other.model_dump_json(), encoding="utf-8")
    _run(tmp_path, "review", str(path), "--encounter", "h7", "--reviewer", WHO, typed="stop\n")
    store = open_store(tmp_path / "store")
    encounter = store.encounter("h7")
    for sha256, examined in zip(encounter.facts.drafts, ("2026-03-01", "2026-06-01"), strict=True):
        state_details(encounter, {"examiner": f"Dr {examined}"}, WHO, WHEN)  # who examined is not always who signs
        review = review_of(encounter, sha256, read_settings())
        for name in list(review.state.pending):
            review.confirm(name, WHO, WHEN)
        review.sign(WHO, "Hand surgeon", WHEN, ending="h7", examined=examined)
    store.close()
    shown = _run(tmp_path, "over-time", "h7")
    assert "2026-03-01  55" in shown
    assert "2026-06-01  66  11 more, " in shown
    assert "another examiner" in shown
    assert "left" not in shown
    for name in ("plots.svg", "plots.html"):
        assert f"Wrote {tmp_path / name}" in _run(tmp_path, "over-time", "h7", "--plots", str(tmp_path / name))
        written = (tmp_path / name).read_text(encoding="utf-8")
        assert "2026-06-01, 66°: 11 more, " in written
        assert "LEFT" not in written
    with pytest.raises(InputError, match="give --plots one of the two"):
        _run(tmp_path, "over-time", "h7", "--plots", str(tmp_path / "plots.png"))
