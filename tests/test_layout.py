"""The rooms of the program: who may import whom, who may load what is heavy, and how long a file may be.

Read from the source with ast; nothing is imported. Imports inside functions count like any other; those for
type checking alone do not.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "dictation"

RANKS: dict[str, int] = {
    "counting": 0,
    "errors": 0,
    "interruption": 0,
    "hosts": 0,
    # the words, and what every room may know
    "lexicon": 1,
    "transcript": 1,
    "settings": 1,
    "writing": 1,
    "faults": 1,
    "units": 1,
    # how words sound, sound itself, and the record
    "sounds": 2,
    "own_terms": 2,
    "audio": 2,
    "record": 2,
    # from sound to a draft, each unaware of the others; the pipeline hands values from one to the next
    "recognition": 3,
    "correction": 3,
    "extraction": 3,
    "completeness": 3,
    "store": 3,
    "measurement": 3,
    # from a draft to a note
    "checks": 4,  # against the published normals
    "review": 4,
    "pictures": 4,
    "note": 5,
    "exports": 6,
    "pipeline": 6,
    "drafting": 7,
    "live": 7,
    "voice_check": 7,
    "explaining": 7,
    "meaning": 7,
    "reviewing": 7,
    "splitting": 4,
    "audit": 7,
    "bulk": 8,
    "terminal": 8,
    "web": 9,
    "cli": 10,
    "__main__": 11,
    "__init__": 11,  # its two functions import the pipeline when they are called
}
"""A room imports from rooms of lower rank alone."""

NEVER: dict[str, set[str]] = {
    # a field must not be derived again while a person decides on it
    "store": {"sounds", "audio", "record"},  # it keeps what it is given, and reads no draft
    "review": {"sounds", "audio", "recognition", "correction", "extraction", "checks", "completeness"},
    "note": {"sounds", "audio", "recognition", "correction", "extraction", "checks", "completeness"},
    "exports": {"sounds", "audio", "recognition", "correction", "extraction", "checks", "completeness"},
    # the terminal shows and asks; what is drafted comes from drafting
    "terminal": {"pipeline", "audio", "recognition", "correction", "extraction"},
    "web": {"pipeline", "recognition", "correction", "extraction"},
}
"""Rooms of lower rank that a room keeps apart from all the same."""

PART_OF = {
    "cli_audit": "cli",
    "cli_bulk": "cli",
    "cli_lexicon": "cli",
    "cli_measures": "cli",
    "cli_encounter": "cli",
    "phones": "sounds",
    "playing": "audio",
    "letters": "sounds",
    "quality": "audio",
    "surroundings": "checks",
    "deciding": "checks",
    "confidence": "checks",
    "hardly_heard": "checks",
    "contradictions": "checks",
    "cli_hearing": "cli",
    "cli_review": "cli",
    "cli_listen": "cli",
    "cli_page": "cli",
}
"""Files that belong to a room though they are not in a folder of its name."""

HEAVY: dict[str, set[str]] = {
    "spacy": {"extraction"},
    "faster_whisper": {"recognition", "audio"},  # audio takes the voice-activity model that ships inside it
    "ctranslate2": {"recognition"},
    "pocketsphinx": {"recognition"},
    "av": {"audio"},
    "numpy": {"audio", "recognition", "correction", "sounds", "live"},
    "pydantic": {"record", "exports"},  # exports: the classes of the JSON that is published
    "rich": {"terminal"},
    "sqlalchemy": {"store"},
    "yaml": {"lexicon"},
    "click": {"cli"},
    "distributed": {"bulk"},
    "sounddevice": {"audio", "live"},
    "starlette": {"web"},
    "uvicorn": {"web"},
    "jinja2": {"web", "note", "exports"},
    "docx": {"exports"},
    "typst": {"exports"},
    "fhir": {"exports"},
}
"""Dependency -> the rooms that may import it."""

SEAL_KEEPERS = {"review/records.py", "review/rules.py"}
"""Files that may name the seal without which there is no complete and no signed record."""

LONGEST = 400


@dataclass(frozen=True)
class Import:
    """One import of one file: the dotted module, and the name taken from it, "" for the module itself."""

    file: str
    line: int
    module: str
    name: str

    @property
    def where(self) -> str:
        return f"{self.file}:{self.line} imports {self.module}"


def _room(dotted: str) -> str:
    """The room of a module of ours: "dictation.note.text" -> "note"."""
    parts = dotted.split(".")
    room = parts[1] if len(parts) > 1 else "__init__"
    return PART_OF.get(room, room)


def _file_room(file: str) -> str:
    room = file.split("/")[0].removesuffix(".py")
    return PART_OF.get(room, room)


def find_imports(node: ast.AST, file: str) -> Iterator[Import]:
    """Give every import that runs, wherever it stands; those under ``if TYPE_CHECKING`` do not run."""
    if isinstance(node, ast.Import):
        for alias in node.names:
            yield Import(file, node.lineno, alias.name, "")
        return
    if isinstance(node, ast.ImportFrom):
        assert node.level == 0, f"{file}:{node.lineno}: imports are absolute here"
        for alias in node.names:
            dotted = f"{node.module}.{alias.name}"
            path = PACKAGE.parent.joinpath(*dotted.split("."))
            is_module = path.is_dir() or path.with_suffix(".py").is_file()
            yield Import(file, node.lineno, dotted if is_module else str(node.module), alias.name)
        return
    only_types = isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"
    for child in node.orelse if isinstance(node, ast.If) and only_types else ast.iter_child_nodes(node):
        yield from find_imports(child, file)


def _tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


FILES = {str(path.relative_to(PACKAGE).as_posix()): path for path in sorted(PACKAGE.rglob("*.py"))}
IMPORTS = [found for file, path in FILES.items() for found in find_imports(_tree(path), file)]
OURS = [found for found in IMPORTS if found.module.split(".")[0] == "dictation"]


def _breaches(found: list[Import]) -> list[str]:
    """The imports that go up, across to a room of the same rank, or to one to be kept apart from."""
    breaches = []
    for one in found:
        if (one.module, one.name) == ("dictation", "__version__"):
            continue  # a plain text that needs nothing
        mine, other = _file_room(one.file), _room(one.module)
        if mine != other and (RANKS[other] >= RANKS[mine] or other in NEVER.get(mine, ())):
            breaches.append(f"{one.where}: {other} (rank {RANKS[other]}) from {mine} (rank {RANKS[mine]})")
    return breaches


def test_the_source_was_read() -> None:
    assert len(FILES) > 50
    assert len(OURS) > 100
    assert {"spacy", "pydantic", "click"} <= {found.module.split(".")[0] for found in IMPORTS}


def test_every_file_is_in_a_room_of_the_table() -> None:
    assert {_file_room(file) for file in FILES} == set(RANKS)


def test_rooms_import_from_lower_ranks_alone() -> None:
    assert _breaches(OURS) == []


def test_heavy_dependencies_stay_in_their_rooms() -> None:
    strays = [
        found.where
        for found in IMPORTS
        if (heavy := found.module.split(".")[0]) in HEAVY and _file_room(found.file) not in HEAVY[heavy]
    ]
    assert strays == []


@pytest.mark.parametrize(
    ("file", "line"),
    [
        ("note/text.py", "from dictation.pipeline import draft"),  # up
        ("extraction/sides.py", "import dictation.correction"),  # across
        ("review/rules.py", "from dictation import extraction"),  # down, but to be kept apart from
        ("lexicon/entries.py", "def f():\n    from dictation.record import RecordField"),  # inside a function
    ],
)
def test_the_check_of_ranks_can_fail(file: str, line: str) -> None:
    assert len(_breaches(list(find_imports(ast.parse(line), file)))) == 1


def test_imports_for_type_checking_alone_do_not_count() -> None:
    source = "if TYPE_CHECKING:\n    import spacy\nelse:\n    import yaml"
    assert [found.module for found in find_imports(ast.parse(source), "cli.py")] == ["yaml"]


def test_only_the_rules_of_review_can_make_a_complete_or_signed_record() -> None:
    named = {
        file
        for file, path in FILES.items()
        if any(getattr(node, "id", None) == "SEAL" or getattr(node, "attr", None) == "SEAL" for node in ast.walk(_tree(path)))
    }
    assert named == SEAL_KEEPERS


def test_files_inside_a_room_import_each_other_without_a_loop() -> None:
    """Loops are looked for among imports that run while a file loads."""
    graph: dict[str, set[str]] = {}
    for file, path in FILES.items():
        tops = ast.Module([n for n in _tree(path).body if isinstance(n, ast.Import | ast.ImportFrom)], [])
        module = "dictation." + file.removesuffix(".py").replace("/", ".")
        graph[module] = {one.module for one in find_imports(tops, file) if one.module.startswith("dictation.")}
    left = dict(graph)
    while free := [name for name, needs in left.items() if not needs & set(left)]:
        for name in free:
            del left[name]
    assert left == {}


def test_init_files_of_rooms_are_empty() -> None:
    rooms = [file for file in FILES if file.endswith("/__init__.py")]
    assert len(rooms) >= 5
    assert [file for file in rooms if FILES[file].read_bytes()] == []


def test_every_room_folder_has_its_init_file() -> None:
    folders = {file.rsplit("/", 1)[0] for file in FILES if "/" in file}
    assert [folder for folder in folders if f"{folder}/__init__.py" not in FILES] == []


def test_no_file_has_grown_too_long() -> None:
    lengths = {file: len(path.read_text(encoding="utf-8").splitlines()) for file, path in FILES.items()}
    assert {file: n for file, n in lengths.items() if n > LONGEST} == {}
