"""Every command's help comes at once: whole, and without loading anything heavy."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator

import click
import pytest

from dictation.cli import commands

HEAVY = {
    "av",
    "distributed",
    "ctranslate2",
    "faster_whisper",
    "jinja2",
    "numpy",
    "platformdirs",
    "psycopg",
    "pocketsphinx",
    "pydantic",
    "rich",
    "scipy",
    "spacy",
    "sqlalchemy",
    "starlette",
    "uvicorn",
    "yaml",
}
COMMANDS = [
    "",
    "audit",
    "bulk",
    "demonstrate",
    "draft",
    "encounter",
    "encounter add-sound",
    "encounter addendum",
    "encounter change",
    "encounter erase",
    "encounter export",
    "encounter import",
    "encounter list",
    "encounter new",
    "encounter show",
    "encounter withdraw-consent",
    "explain",
    "fetch-whisper",
    "lexicon",
    "lexicon add",
    "lexicon check",
    "lexicon list",
    "lexicon meaning",
    "listen",
    "measures",
    "note",
    "over-time",
    "page",
    "review",
    "settings",
    "settings show",
    "sound-check",
    "split",
    "store",
    "store back-up",
    "store sweep",
    "store verify",
    "voice-check",
]
_HELP = """
import sys
from dictation.cli import main
try:
    main({args!r})
except SystemExit as err:
    print("code", err.code)
print("loaded", *sorted({{name.split(".")[0] for name in sys.modules}} & set({heavy!r})))
"""


def _named(command: click.Command, name: str) -> Iterator[str]:
    yield name
    if isinstance(command, click.Group):
        for part, inner in command.commands.items():
            yield from _named(inner, f"{name} {part}".strip())


def _run(code: str) -> str:
    return subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout


def test_the_table_names_every_command() -> None:
    assert sorted(_named(commands, "")) == COMMANDS


@pytest.mark.parametrize("command", COMMANDS, ids=[name or "dictation" for name in COMMANDS])
def test_help_says_what_a_command_does_and_loads_nothing_heavy(command: str) -> None:
    printed = _run(_HELP.format(args=[*command.split(), "--help"], heavy=sorted(HEAVY)))
    assert printed.startswith(f"Usage: dictation {command}".rstrip())
    described = printed.split("\n\n")[1]
    assert described.rstrip().endswith(".")
    assert printed.endswith("code 0\nloaded\n")


def test_the_check_of_what_is_loaded_can_fail() -> None:
    code = _HELP.format(args=["settings", "show"], heavy=sorted(HEAVY))
    assert _run(code).endswith("loaded platformdirs\n")


def test_the_package_itself_loads_nothing_heavy() -> None:
    assert _run(f"import sys, dictation; print(sorted(set({sorted(HEAVY)!r}) & set(sys.modules)))") == "[]\n"
