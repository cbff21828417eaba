"""The commands about encounters as a whole, from a draft to the other machine and back."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner
from scripted import WHO, invented_examination

from dictation.cli import commands
from dictation.errors import InputError, ReviewError
from dictation.store.store import open_store


@pytest.fixture
def draft(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A draft file of an invented examination, and settings of an empty folder."""
    monkeypatch.setenv("DICTATION_SETTINGS", str(tmp_path / "settings.toml"))
    (tmp_path / "settings.toml").write_text("", encoding="utf-8")
    path = tmp_path / "h7.draft.json"
    path.write_text(invented_examination().draft().model_dump_json(), encoding="utf-8")
    return path


def _run(store: Path, *args: str, typed: str = "") -> str:
    result = CliRunner().invoke(commands, ["--store", str(store), *args], input=typed, catch_exceptions=True)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.output


def test_an_encounter_goes_to_another_machine_and_is_erased_here(draft: Path, tmp_path: Path) -> None:
    here, there, file = tmp_path / "here", tmp_path / "there", tmp_path / "out.zip"
    _run(here, "review", str(draft), "--encounter", "H-2041", "--reviewer", WHO, typed="stop\n")
    assert "H-2041" in _run(here, "encounter", "list")
    assert "not encrypted" in _run(here, "encounter", "export", "H-2041", str(file))
    assert "all verified" in _run(there, "encounter", "import", str(file), "--who", WHO)
    assert "H-2041" in _run(there, "encounter", "list")
    with pytest.raises(ReviewError, match="nothing was erased"):
        _run(here, "encounter", "erase", "H-2041", "--why", "asked for", "--who", WHO, typed="2042\n")
    assert "Erased" in _run(here, "encounter", "erase", "H-2041", "--why", "asked for", "--who", WHO, typed="2041\n")
    assert "no encounter yet" in _run(here, "encounter", "list")
    with pytest.raises(InputError, match="no encounter of that reference"):
        _run(here, "encounter", "export", "H-2041", str(tmp_path / "again.zip"))


def test_a_back_up_can_be_used_as_the_store(draft: Path, tmp_path: Path) -> None:
    _run(tmp_path / "here", "review", str(draft), "--encounter", "H-2041", "--reviewer", WHO, typed="stop\n")
    assert "1 encounter, 0 recordings, verified" in _run(tmp_path / "here", "back-up", str(tmp_path / "copy"))
    copy = open_store(tmp_path / "copy")
    assert [one.reference for one in copy.encounters()] == ["H-2041"]
    copy.close()
