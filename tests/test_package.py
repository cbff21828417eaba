"""The built wheel, installed alone in a fresh environment, does the job elsewhere and without a network."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import pytest
from scoring import Score, read_cases, score

pytestmark = pytest.mark.slow
ROOT = Path(__file__).parents[1]
SAMPLES = ROOT / "samples"
OFFLINE = ROOT / "tests" / "offline"
"""On a process's path, refuses it every connection that leaves the machine."""


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "build", "--wheel", "--outdir", str(folder), str(ROOT)]
    built = subprocess.run(command, capture_output=True, text=True, check=False)
    assert built.returncode == 0, built.stdout[-2000:] + built.stderr[-2000:]
    (found,) = folder.glob("*.whl")
    return found


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of programs of a fresh environment that holds the wheel and what it asks for."""
    place = tmp_path_factory.mktemp("environment") / "env"
    venv.create(place, with_pip=True)
    programs = place / ("Scripts" if os.name == "nt" else "bin")
    command = [str(programs / "python"), "-m", "pip", "install", "--quiet", str(wheel)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-2000:]
    return programs


def _run(installed: Path, folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run the installed command in a folder of its own, with a home of its own, any connection refused."""
    kept = {key: value for key, value in os.environ.items() if not key.startswith(("DICTATION_", "PYTHON", "XDG_"))}
    environment = {**kept, "HOME": str(folder), "PYTHONPATH": str(OFFLINE)}
    return subprocess.run(
        [str(installed / "dictation"), *arguments],
        cwd=folder, env=environment, capture_output=True, text=True, check=False,
    )  # fmt: skip


def test_the_wheel_holds_the_lexicon_and_no_tests(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    held = {name.removeprefix("dictation/lexicon/data/") for name in names if "lexicon/data/" in name}
    lexicon = ROOT / "lexicon"
    assert held == {path.relative_to(lexicon).as_posix() for path in lexicon.rglob("*") if path.is_file()}
    assert {name.split("/")[0] for name in names if ".dist-info" not in name} == {"dictation"}


def test_the_guard_refuses_connections(installed: Path, tmp_path: Path) -> None:
    result = _run(installed, tmp_path, "fetch-whisper", "tiny.en", "--yes")
    assert result.returncode == 5
    assert "could not be fetched" in result.stderr
    assert "Traceback" not in result.stderr


def test_help_and_the_lexicon_check(installed: Path, tmp_path: Path) -> None:
    page = _run(installed, tmp_path, "--help")
    assert page.returncode == 0
    assert "Exit codes" in page.stdout
    checked = _run(installed, tmp_path, "lexicon", "check")
    assert checked.returncode == 0, checked.stderr
    assert "No fault" in checked.stdout


def test_the_wheel_alone_drafts_a_sample_without_network(installed: Path, tmp_path: Path) -> None:
    sample = str(SAMPLES / "carpal_tunnel.txt")
    result = _run(installed, tmp_path, "draft", sample, "--out-dir", "drafts")
    assert result.returncode == 0, result.stderr
    assert _score("carpal_tunnel", tmp_path / "drafts").f1 >= 0.9


def test_the_wheel_alone_hears_a_sample_and_comes_to_a_note(installed: Path, tmp_path: Path) -> None:
    sample = str(SAMPLES / "carpal_tunnel.opus")
    result = _run(installed, tmp_path, "draft", sample, "--out-dir", "drafts", "--recogniser", "embedded")
    assert result.returncode == 0, result.stderr
    assert _score("carpal_tunnel", tmp_path / "drafts").f1 >= 0.7
    shown = _run(installed, tmp_path, "demonstrate", sample, "--recogniser", "embedded")
    assert shown.returncode == 0, shown.stderr
    assert shown.stdout.index("DRAFT:") < shown.stdout.index("DECISIONS") < shown.stdout.index("HAND, WRIST")
    assert "DEMONSTRATION" in shown.stdout


def _score(name: str, folder: Path) -> Score:
    (case,) = (case for case in read_cases(SAMPLES / "expected.jsonl") if case["id"] == name)
    return score(case, json.loads((folder / f"{name}.draft.json").read_text(encoding="utf-8")))
