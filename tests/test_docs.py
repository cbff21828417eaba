"""The pages say what the program does, and nothing else: commands, codes, keys, errors, named tests."""

from __future__ import annotations

import ast
import importlib
import json
import re
from pathlib import Path

import click
import pytest

import dictation
from dictation import checks, errors
from dictation.cli import commands
from dictation.faults import TRACEBACK_VARIABLE
from dictation.lexicon import loading
from dictation.record import FlagCode
from dictation.settings import SETTINGS_FILE_VARIABLE, VARIABLES

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
LEXICON = (ROOT / "lexicon" / "README.md").read_text(encoding="utf-8")
PAGES = README + DEVELOPERS + LEXICON
JOB = "    python3 -m venv .venv && .venv/bin/pip install . && .venv/bin/dictation demonstrate samples/carpal_tunnel.opus\n"
TESTS = "    python3 -m venv .venv-test && .venv-test/bin/pip install -e '.[test]' && .venv-test/bin/python -m pytest\n"
DETAILS = 300
"""Words that may stand before the first command: the job comes first, and is short."""


def _commands(group: click.Group, path: str = "dictation") -> list[tuple[str, click.Command]]:
    found = []
    for name, command in group.commands.items():
        if isinstance(command, click.Group):
            found += _commands(command, f"{path} {name}")
        else:
            found.append((f"{path} {name}", command))
    return found


COMMANDS = dict(_commands(commands))
ERRORS = {
    name: kind for name, kind in vars(errors).items() if isinstance(kind, type) and issubclass(kind, errors.DictationError)
}


def test_the_two_commands_stand_in_the_readme_word_for_word() -> None:
    assert README.index(JOB) < README.index(TESTS)
    assert len(README[: README.index(JOB)].split()) < DETAILS
    assert (ROOT / "samples" / "carpal_tunnel.opus").is_file()


def test_every_command_and_option_is_in_the_readme() -> None:
    assert len(COMMANDS) >= 7
    missing = [path for path in COMMANDS if f"{path} " not in README and f"{path}`" not in README]
    assert missing == []
    for command in COMMANDS.values():
        for option in command.params:
            if isinstance(option, click.Option):
                assert option.opts[0] in README.replace("\n", " "), (command.name, option.opts)


def test_every_command_the_pages_name_exists() -> None:
    named = re.findall(r"\bdictation ([a-z][a-z-]*)(?: ([a-z][a-z-]*))?", _code(PAGES))
    assert len(named) > 10
    groups = {path.split()[1] for path in COMMANDS if len(path.split()) == 3}
    for first, second in named:
        path = f"dictation {first} {second}" if first in groups else f"dictation {first}"
        assert path in COMMANDS


def test_every_flag_code_is_in_the_table_and_no_other() -> None:
    assert _first_cells(DEVELOPERS, "### Flags") == [code.value for code in FlagCode]


def test_every_cut_on_sound_has_the_value_it_has_in_its_file() -> None:
    rows = re.findall(r"^\| `([\w.]+)\.([A-Z_]+)` \| ([\d.]+) \|", _section(DEVELOPERS, "### Cuts on sound"), re.MULTILINE)
    told = {(module, name): float(value) for module, name, value in rows}
    assert told == {key: getattr(importlib.import_module(f"dictation.{key[0]}"), key[1]) for key in told}
    named = {"CHECK_BELOW", "LOW_PROBABILITY", "HARDLY_HEARD", "ORDINARY_TALK", "POOR_DB", "CLIPPED_POOR"}
    sure = {name for name in vars(checks) if name.startswith("SURE_OF_")}
    assert len(sure) == 3
    assert {name for _, name in told} >= named | sure


def test_every_exit_code_and_error_is_in_its_table_and_no_other() -> None:
    codes = {int(code) for code in _first_cells(README, "## Exit codes")}
    assert codes == {kind.exit_code for kind in ERRORS.values()} | {0, 2, 130}
    rows = re.findall(r"^\| `(\w+)` \| (\d+) \|", _section(DEVELOPERS, "### Errors"), re.MULTILINE)
    assert {name: int(code) for name, code in rows} == {n: k.exit_code for n, k in ERRORS.items()}


@pytest.mark.parametrize("keys", ["_CONCEPT_KEYS", "_PLACE_KEYS"])
def test_every_key_of_a_lexicon_entry_is_explained(keys: str) -> None:
    known = getattr(loading, keys)
    assert len(known) >= 9
    explained = re.findall(r"^ +(?:- )?(\w+):|`(\w+)`", LEXICON + DEVELOPERS, re.MULTILINE)
    assert sorted(known - {word for found in explained for word in found}) == []


def test_every_key_that_a_form_may_carry_is_a_key_of_a_field_on_the_page() -> None:
    record = _section(DEVELOPERS, "## The record")
    assert len(loading.FIELD_KEYS) >= 9
    assert [key for key in sorted(loading.FIELD_KEYS) if f"`{key}`" not in record] == []


def test_every_lexicon_file_is_explained() -> None:
    files = sorted(path.name for path in (ROOT / "lexicon").iterdir() if path.name != "README.md")
    assert len(files) >= 8
    assert [name for name in files if not re.search(rf"`(lexicon/)?{re.escape(name)}/?`", PAGES)] == []


def test_every_setting_and_variable_is_in_its_table_and_no_other() -> None:
    rows = re.findall(r"^\| `(\w+)` \| `(DICTATION_\w+)` \|", README, re.MULTILINE)
    assert dict(rows) == VARIABLES
    known = {*VARIABLES.values(), SETTINGS_FILE_VARIABLE, TRACEBACK_VARIABLE}
    assert set(re.findall(r"DICTATION_[A-Z_]*[A-Z]", PAGES)) == known


def test_the_samples_page_says_how_many_fields_it_expects() -> None:
    lines = (ROOT / "samples" / "expected.jsonl").read_text(encoding="utf-8").splitlines()
    fields = [field for line in lines for field in json.loads(line)["fields"]]
    concepts = {field["concept"] for field in fields}
    page = (ROOT / "samples" / "README.md").read_text(encoding="utf-8")
    assert f"{len(fields)} fields over {len(concepts)} concepts" in page


def test_every_test_and_file_that_the_pages_name_exists() -> None:
    named = re.findall(r"`(tests/[\w/]+\.py)::(\w+)`", DEVELOPERS)
    assert len(named) > 30
    assert [f"{file}::{test}" for file, test in named if test not in _tests_of(file)] == []
    paths = re.findall(r"`((?:tests|lexicon|samples|dictation)/[\w/]+\.\w+)`", PAGES)
    assert [path for path in paths if not (ROOT / path).is_file()] == []
    ours = re.findall(r"`((?:extraction|recognition|review|note)/[\w/]*|\w+\.py)`", DEVELOPERS)
    assert len(ours) > 10
    package = ROOT / "dictation"
    lost = [p for p in ours if not (package / p).exists() and not list(package.rglob(p.rsplit("/", 1)[-1]))]
    assert lost == []


def test_every_hazard_has_a_control_and_a_test_or_owns_up() -> None:
    rows = [row.split(" | ") for row in _section(DEVELOPERS, "## Hazard log").splitlines() if "**" in row]
    assert len(rows) >= 14
    for hazard, control, shown in rows:
        assert len(control) > 20, hazard
        assert "::test_" in shown or "no test yet" in shown, hazard


def test_every_room_is_in_the_table() -> None:
    table = _section(DEVELOPERS, "## The way through")
    rooms = set(re.findall(r"`(\w+)/?`", " ".join(re.findall(r"^\| \d+ \| ([^|]+)\|", table, re.MULTILINE))))
    there = {path.stem for path in (ROOT / "dictation").iterdir() if not path.name.startswith("__")}
    assert rooms == there


def test_the_changelog_begins_with_this_version() -> None:
    page = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    assert re.findall(r"^## (\S+)", page, re.MULTILINE)[0] == dictation.__version__


def test_the_words_are_explained() -> None:
    words = " ".join(_first_cells(README, "## Words", code=False))
    for word in ("field", "side", "status", "evidence", "flag", "decision", "journal", "draft", "signed"):
        assert word in words


def _section(page: str, heading: str) -> str:
    assert f"\n{heading}\n" in page
    return re.split(r"\n#+ ", page.split(f"\n{heading}\n", 1)[1], maxsplit=1)[0]


def _first_cells(page: str, heading: str, *, code: bool = True) -> list[str]:
    """The first cells of the table under a heading, its head aside."""
    rows = [row for row in _section(page, heading).splitlines() if row.startswith("| ")][2:]
    cells = [row.split(" | ")[0].removeprefix("| ") for row in rows]
    return [cell.strip("`") for cell in cells] if code else cells


def _code(page: str) -> str:
    """What stands in backticks or is indented as code."""
    indented = [line for line in page.splitlines() if line.startswith("    ")]
    return "\n".join([*re.findall(r"`([^`]+)`", page), *indented])


def _tests_of(file: str) -> set[str]:
    path = ROOT / file
    tree = ast.parse(path.read_text(encoding="utf-8")) if path.is_file() else ast.Module([], [])
    return {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}
