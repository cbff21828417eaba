"""Settings: environment over file over the platform's convention, and a sentence for each fault."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest

from dictation.errors import InputError
from dictation.settings import read_settings


def _file(folder: Path, text: str) -> dict[str, str]:
    path = folder / "settings.toml"
    path.write_text(text, encoding="utf-8")
    return {"DICTATION_SETTINGS": str(path)}


def test_without_file_or_variables_the_convention_of_the_platform_holds(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    found = read_settings({})
    assert found.recogniser == "auto"
    assert found.whisper_model is None
    assert found.data_folder.is_absolute()
    assert found.data_folder != found.cache_folder


def test_the_environment_wins_over_the_file(tmp_path: Path) -> None:
    environ = _file(tmp_path, 'reviewer = "Dr File"\nrecogniser = "embedded"\nwhisper_model = "~/weights"\n')
    found = read_settings({**environ, "DICTATION_REVIEWER": "Dr Environment"})
    assert (found.reviewer, found.recogniser) == ("Dr Environment", "embedded")
    assert found.whisper_model == Path("~/weights").expanduser()


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("reviewer = Dr Bare", "not TOML"),
        ("reviwer = 'Dr A'", "reviwer"),
        ("reviewer = 3", "reviewer"),
        ("recogniser = 'best'", "embedded"),
        ("second_reading = 'perhaps'", "off, on"),
    ],
)
def test_a_faulty_file_is_one_sentence_naming_the_fault(tmp_path: Path, text: str, named: str) -> None:
    with pytest.raises(InputError, match=named) as caught:
        read_settings(_file(tmp_path, text))
    assert "\n" not in str(caught.value)


def test_a_settings_file_named_but_absent_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="DICTATION_SETTINGS"):
        read_settings({"DICTATION_SETTINGS": str(tmp_path / "none.toml")})


def test_settings_cannot_be_changed_after_reading() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        read_settings({}).recogniser = "whisper"  # type: ignore[misc]  # the point of the test
