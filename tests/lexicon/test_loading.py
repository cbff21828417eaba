"""The shipped lexicon loads whole; a clinic's own file is laid over it; every fault names file, line and term."""

from __future__ import annotations

import hashlib
import shutil
from pathlib import Path

import pytest

from dictation.errors import LexiconError
from dictation.lexicon.loading import lexicon_faults, load_lexicon
from dictation.lexicon.shipped import lexicon_folder

ENTRY = """concepts:
  - id: wibble_test
    preferred: "Wibble test"
    kind: test
    part: special_tests
    takes: [side, status]
    statuses: [positive, negative]
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A lexicon of one place file and nothing else."""
    folder = tmp_path / "lexicon"
    folder.mkdir()
    (folder / "one.yaml").write_text('version: "7"\njoints:\n  - id: wrist\n    preferred: "Wrist"\n', encoding="utf-8")
    return folder


def with_file(folder: Path, text: str, name: str = "two.yaml") -> Path:
    (folder / name).write_text(text, encoding="utf-8")
    return folder


def test_the_shipped_lexicon_holds_what_the_examination_needs() -> None:
    shipped = load_lexicon()
    assert len(shipped.concepts) > 150
    assert set(shipped.digits) == {"thumb", "index", "middle", "ring", "little"}
    assert set(shipped.joints) == {"elbow", "druj", "wrist", "cmc", "mcp", "pip", "dip", "ip"}
    assert set(shipped.aspects) == {"dorsal", "volar", "radial", "ulnar"}
    assert len(shipped.structures) > 40
    assert {"side", "negation", "status", "unit", "cue", "retraction"} <= set(shipped.language)
    assert shipped.conversation
    assert len(set(shipped.dictations)) >= 500
    assert shipped.phrases
    assert shipped.version != "0"
    assert shipped.personal_sha256 is None


def test_every_term_can_be_said_by_its_preferred_name() -> None:
    for term in load_lexicon().terms():
        assert term.preferred.lower() in {form.text.lower() for form in term.spoken}, term.id


def test_the_checksum_is_over_every_file_in_order() -> None:
    folder = lexicon_folder()
    names = ("*.yaml", "*.txt", "conversation/*.txt", "dictations/*.txt")
    paths = [path for name in names for path in sorted(folder.glob(name))]
    assert len(paths) == sum(path.is_file() and path.suffix != ".md" for path in folder.rglob("*"))
    whole = b"".join(path.name.encode() + b"\0" + path.read_bytes() + b"\0" for path in paths)
    assert load_lexicon().checksum == hashlib.sha256(whole).hexdigest()


def test_a_changed_file_changes_the_checksum(tmp_path: Path) -> None:
    for name in ("wrist.yaml", "plain_words.txt", "dictations/clinics.txt"):
        copy = shutil.copytree(lexicon_folder(), tmp_path / name.replace("/", " "))
        (copy / name).write_bytes((copy / name).read_bytes() + b"# one line more\n")
        assert load_lexicon(None, copy).checksum != load_lexicon().checksum


def test_a_folder_without_lexicon_files_says_so(tmp_path: Path) -> None:
    with pytest.raises(LexiconError, match=r"No lexicon files in .*install the program again"):
        load_lexicon(None, tmp_path)


def test_a_small_lexicon_loads(folder: Path) -> None:
    small = load_lexicon(None, with_file(folder, ENTRY))
    concept = small.concepts["wibble_test"]
    assert (small.version, concept.preferred, concept.takes) == ("7", "Wibble test", frozenset({"side", "status"}))
    assert [form.text for form in concept.spoken] == ["Wibble test"]


def test_a_form_can_carry_keys_of_the_field(folder: Path) -> None:
    text = ENTRY + '    spoken:\n      - form: "wibbles"\n        status: "positive"\n    observed: ["the wibble"]\n'
    forms = load_lexicon(None, with_file(folder, text)).concepts["wibble_test"].spoken
    assert [(f.text, dict(f.sets), f.observed) for f in forms] == [
        ("Wibble test", {}, False), ("wibbles", {"status": "positive"}, False), ("the wibble", {}, True),
    ]  # fmt: skip


def test_mishearings_are_given_to_their_term_once(folder: Path) -> None:
    text = ENTRY + '    misheard: ["wobble test"]\nmishearings:\n  wibble_test: ["wobble test", "nibble test"]\n'
    concept = load_lexicon(None, with_file(folder, text)).concepts["wibble_test"]
    assert concept.misheard == ("wobble test", "nibble test")


@pytest.mark.parametrize(
    ("text", "line", "term", "what"),
    [
        (ENTRY + "    colour: red\n", 8, "wibble_test", "unknown key colour"),
        ("colours: []\n", 1, None, "unknown key colours"),
        ("concepts:\n  - preferred: x\n", 2, None, "an entry needs an id"),
        ("concepts:\n  - id: two words\n", 2, None, "an entry needs an id"),
        ("concepts:\n  - id: 7\n", 2, None, "an entry needs an id"),
        ("concepts:\n  - id: one\n", 2, "one", "preferred is missing"),
        ("concepts:\n  - id: one\n    preferred: no\n", 2, "one", "preferred is missing, or not in quotes"),
        ('concepts:\n  - id: one\n    preferred: "x"\n', 2, "one", "kind is missing"),
        ("concepts: one\n", 1, None, "concepts must be a list of entries"),
        ("joints: [wrist]\n", 1, None, "joints must be a list of entries"),
        ('joints:\n  - id: wrist\n    preferred: "x"\n', 2, "wrist", "this id is already used"),
        (ENTRY + "    plausible: [1]\n", 8, "wibble_test", "plausible must be two numbers"),
        (ENTRY + "    spoken: [no]\n", 8, "wibble_test", "a spoken form must be text; put it in quotes"),
        (ENTRY + '    spoken:\n      - form: "x"\n        colour: "red"\n', 10, "wibble_test", "unknown key colour"),
        (ENTRY + "    spoken: wobble\n", 8, "wibble_test", "spoken must be a list of texts in quotes"),
        (ENTRY + "    wording: wobble\n", 8, "wibble_test", "wording must be a mapping"),
        (ENTRY + "    wording:\n      positive: 7\n", 9, "wibble_test", "the wording for positive must be text"),
        (ENTRY + '    pronunciations:\n      wibble: [" "]\n', 9, "wibble_test", "wibble has an empty pronunciation"),
        (ENTRY + "    unit: 7\n", 8, "wibble_test", "unit must be text; put it in quotes"),
        (ENTRY + '    unit: ""\n', 8, "wibble_test", "unit is empty; write one"),
        (ENTRY + "    misheard: wobble\n", 8, "wibble_test", "must be a list of texts in quotes"),
        (ENTRY + "mishearings:\n  wobble_test: []\n", 9, "wobble_test", "mishearings are listed for an unknown id"),
        (ENTRY + 'language:\n  side:\n    left: [no]\n', None, "side", "must be a list of texts in quotes"),
    ],
)  # fmt: skip
def test_a_fault_names_file_line_and_term(folder: Path, text: str, line: int | None, term: str | None, what: str) -> None:
    with pytest.raises(LexiconError) as err:
        load_lexicon(None, with_file(folder, text))
    message = str(err.value)
    assert message.startswith(f"Lexicon two.yaml, line {line or ''}")
    assert (f", term {term}: " in message) if term else (", term" not in message)
    assert what in message


def test_a_clinics_own_file_replaces_and_adds(folder: Path, tmp_path: Path) -> None:
    own = tmp_path / "own.yaml"
    own.write_text(
        'version: "own"\n'
        + ENTRY.replace("Wibble test", "Wibble manoeuvre")
        + 'structures:\n  - id: wibble\n    preferred: "Wibble"\n',
        encoding="utf-8",
    )
    plain = load_lexicon(None, with_file(folder, ENTRY))
    laid_over = load_lexicon(own, folder)
    assert (plain.concepts["wibble_test"].preferred, "wibble" in plain.structures) == ("Wibble test", False)
    assert (laid_over.concepts["wibble_test"].preferred, "wibble" in laid_over.structures) == ("Wibble manoeuvre", True)
    assert laid_over.personal_sha256 == hashlib.sha256(own.read_bytes()).hexdigest()
    assert (laid_over.version, laid_over.checksum) == (plain.version, plain.checksum)


def test_a_fault_in_a_clinics_own_file_names_it(tmp_path: Path) -> None:
    own = tmp_path / "own.yaml"
    own.write_text(ENTRY.replace("kind: test", "kind: guess"), encoding="utf-8")
    with pytest.raises(LexiconError, match=r"Lexicon own\.yaml, line 2, term wibble_test: kind guess is unknown"):
        load_lexicon(own)


def test_a_missing_own_file_is_a_lexicon_error(tmp_path: Path) -> None:
    with pytest.raises(LexiconError, match=r"gone\.yaml.*cannot be read"):
        load_lexicon(tmp_path / "gone.yaml")


@pytest.mark.parametrize(
    ("text", "line", "term", "what"),
    [
        ('language:\n  smell:\n    sour: ["sour"]\n', 2, "smell", "no such class of words"),
        ('language:\n  side:\n    middle: ["middle"]\n', 3, "side", "middle is no meaning of side; known: right, left"),
        ('language:\n  side:\n    left: [" "]\n', 3, "side", "left has an empty form"),
        ('wording:\n  guess:\n    present: "{name}{place}"\n', 2, "guess", "no such kind; known: "),
        ('wording:\n  test:\n    positive: "{where}"\n', 3, "test", "wording for positive has an unknown placeholder"),
        ('wording:\n  test:\n    positive: "{name}"\n', 3, "test", "wording for positive says no place"),
        ('wording:\n  test:\n    value: "{name}{place}"\n', 3, "test", "wording for value says no value"),
        ('phrases:\n  - "{finding}"\n  - "{colour}"\n', 3, "phrases", "shape '{colour}' has the unknown slot colour"),
        ('phrases: ["(no|nil {finding}"]\n', 1, "phrases", "shape '(no|nil {finding}' has a bracket without"),
    ],
)
def test_a_fault_in_the_words_around_the_terms_is_named(tmp_path: Path, text: str, line: int, term: str, what: str) -> None:
    own = tmp_path / "own.yaml"
    own.write_text(text, encoding="utf-8")
    (fault,) = lexicon_faults(own)
    assert str(fault).startswith(f"Lexicon own.yaml, line {line}, term {term}: {what}")


def test_a_clinics_own_file_adds_to_the_words_around_the_terms_and_takes_none_away(tmp_path: Path) -> None:
    own = tmp_path / "own.yaml"
    own.write_text(
        'language:\n  negation:\n    before: ["nowt by way of"]\nwording:\n  finding:\n    absent: "{name} absent{place}"\n',
        encoding="utf-8",
    )
    shipped, laid_over = load_lexicon(), load_lexicon(own)
    before = shipped.language["negation"]["before"]
    assert laid_over.language["negation"]["before"] == (*before, "nowt by way of")
    assert laid_over.wording["finding"] == {**shipped.wording["finding"], "absent": "{name} absent{place}"}
