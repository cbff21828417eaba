"""A clinic's own terms: added, listed, said what they mean, and known to everything from the next dictation on."""

from __future__ import annotations

import hashlib
import shutil
import stat
import subprocess
import time
from pathlib import Path

import pytest
import running
from running import Run, one_sentence

from dictation.drafting import draft_files
from dictation.errors import LexiconError
from dictation.lexicon.bias import OWN_FIRST, bias_words
from dictation.lexicon.loading import load_lexicon
from dictation.meaning import meaning_of
from dictation.own_terms import add_forms, add_term, id_of
from dictation.pipeline import draft_text
from dictation.record import DraftRecord
from dictation.settings import OWN_TERMS, Settings, read_settings
from tests.benchmarks.bench_lexicon import own_terms

run = running.run  # fixture
ADD = ("lexicon", "add", "Dubrule test", "--kind", "test", "--pronounced", "dubrule=D UW B R UW L")


@pytest.fixture
def own(tmp_path: Path) -> Path:
    return tmp_path / "config" / "hand-examination-dictation" / OWN_TERMS


def draft(text: str, tmp_path: Path, own: Path | None) -> DraftRecord:
    settings = Settings(tmp_path, tmp_path / "store", tmp_path / "cache", personal_lexicon=own)
    return draft_text(text, settings=settings)


def found(drafted: DraftRecord) -> list[tuple[str, str | None, str | None]]:
    return [(f.concept, f.side, f.status) for f in drafted.fields]


def test_a_term_added_is_known_from_the_next_dictation_on(run: Run, own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said = "Right hand. Dubrule test positive. Puffed up."
    assert found(draft_text(said)) == []
    assert run(*ADD) == 0
    assert run("lexicon", "add", "--to", "swelling", "--spoken", "puffed up") == 0
    assert "known from the next dictation on" in capsys.readouterr().out
    assert read_settings().personal_lexicon == own
    assert found(draft_text(said)) == [("dubrule_test", "right", "positive"), ("swelling", "right", "present")]
    assert stat.S_IMODE(own.stat().st_mode) == 0o600
    assert run("lexicon", "check") == 0
    assert run("lexicon", "list", "--own") == 0
    listed = [line.split()[0] for line in capsys.readouterr().out.splitlines()[1:]]
    assert listed == ["swelling", "dubrule_test", "2"]


def test_a_term_takes_what_most_of_its_kind_have(tmp_path: Path) -> None:
    from dictation.lexicon.appending import NewTerm
    from dictation.lexicon.entries import Concept

    term = add_term(tmp_path / "own.yaml", NewTerm("", "Glove mark", "finding"), None)
    assert isinstance(term, Concept)
    assert (term.id, term.part, term.statuses[:2]) == ("glove_mark", "look", ("present", "absent"))
    assert {"side", "digit", "status"} <= term.takes


@pytest.mark.parametrize(
    ("args", "code", "what"),
    [
        (("Tinel's test", "--kind", "test"), 6, "already"),
        (("Dubrule", "--kind", "guess"), 6, "no kind guess"),
        (("Dubrule", "--kind", "test", "--spoken", "the"), 6, "'the' would be heard in every sentence"),
        (("Dubrule", "--kind", "test", "--spoken", "swollen"), 6, "already belongs to swelling"),
        (("Dubrule", "--kind", "test", "--pronounced", "dubrule=D UB"), 6, "which is no phone"),
        (("Dubrule", "--kind", "measure", "--unit", "mm", "--plausible", "9", "1"), 6, "plausible must rise"),
        (("Dubrule", "--kind", "test", "--wording", "positive=yes"), 6, "write {place}"),
        (("Dubrule", "--kind", "test", "--part", "feet"), 6, "part feet is unknown"),
        (("--to", "dubrule", "--spoken", "x y"), 6, "no term of the id dubrule"),
        (("--to", "swelling", "--spoken", "Swollen"), 6, "is said 'Swollen' already"),
        (("Dubrule",), 2, "--kind"),
        (("--to", "swelling"), 2, "--spoken"),
        (("Dubrule", "--kind", "test", "--pronounced", "dubrule"), 2, "write it as"),
    ],
)
def test_what_cannot_be_added_leaves_the_file_as_it_was(
    run: Run, own: Path, capsys: pytest.CaptureFixture[str], args: tuple[str, ...], code: int, what: str
) -> None:
    assert run(*ADD) == 0
    before = own.read_bytes()
    capsys.readouterr()
    assert run("lexicon", "add", *args) == code
    err = capsys.readouterr().err
    assert what in " ".join(err.split())
    if code == 6:
        one_sentence(err)
        assert err.startswith("Nothing was added. ")
    assert own.read_bytes() == before
    assert [p.name for p in own.parent.iterdir()] == [OWN_TERMS]


def test_comments_and_who_may_read_the_file_stay(run: Run, own: Path) -> None:
    own.parent.mkdir(parents=True)
    own.write_text("# ours, for all in the clinic\nalso_spoken: # short ones\n  swelling:\n    - puffed up # as Jo says\n")
    own.chmod(0o644)
    assert run("lexicon", "add", "--to", "swelling", "--spoken", "blown up") == 0
    text = own.read_text()
    assert text.splitlines()[:4] == [
        "# ours, for all in the clinic", "also_spoken: # short ones", "  swelling:", "    - puffed up # as Jo says",
    ]  # fmt: skip
    assert text.splitlines()[4:] == ['    - "blown up"']
    assert stat.S_IMODE(own.stat().st_mode) == 0o644


def test_a_file_with_a_fault_is_not_added_to(run: Run, own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own.parent.mkdir(parents=True)
    own.write_text("concepts:\n  - id: one\n")
    assert run(*ADD) == 6
    assert f"{OWN_TERMS}, line 2, term one: preferred is missing" in capsys.readouterr().err
    assert own.read_text() == "concepts:\n  - id: one\n"


def test_check_names_every_fault_with_its_line(run: Run, own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own.parent.mkdir(parents=True)
    own.write_text(
        'concepts:\n  - id: a_test\n    preferred: "A test of ours"\n    kind: test\n    part: feel\n    takes: [side]\n'
        '    statuses: [positive]\n    spoken:\n      - "our test"\n      - "the"\n      - "swollen"\n'
        '    pronunciations:\n      ours: ["AW ER Q"]\n'
        '  - id: b_test\n    preferred: "B test of ours"\n    kind: test\n    part: feel\n    takes: [side]\n'
        '    statuses: [positive]\n    joint: knee\n    spoken:\n      - "the"\n      - "our test"\n      - "swollen"\n'
        'also_spoken:\n  c_test: ["x ray view"]\n'
    )
    assert run("lexicon", "check") == 6
    lines = [line.partition(": ") for line in capsys.readouterr().err.splitlines()]
    assert [(head.split("line ")[1], what.split(";")[0].split(",")[0]) for head, _, what in lines] == [
        ("13, term a_test", "ours is said with Q"),
        ("26, term c_test", "also_spoken names an unknown id"),
        ("14, term b_test", "joint knee is unknown"),
        ("22, term b_test", "form 'the' would be heard in every sentence"),
        ("24, term b_test", "form 'swollen' already belongs to swelling"),
    ]


def test_list_filters(run: Run, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("lexicon", "list", "tinel", "--kind", "test", "--part", "special_tests") == 0
    assert capsys.readouterr().out.splitlines()[0].split()[:2] == ["tinel_test", "Tinel's"]
    assert run("lexicon", "list", "--kind", "joint") == 0
    assert capsys.readouterr().out.splitlines()[-1] == "8 terms."
    assert run("lexicon", "list", "no such words") == 0
    assert capsys.readouterr().out == "0 terms.\n"


def test_meaning_says_what_where_and_how_it_is_heard(run: Run, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("lexicon", "meaning", "felons test positive on the right") == 0
    out = capsys.readouterr().out
    assert "Corrected  phalen's test positive on the right" in out
    assert "Phalen's test (test phalen_test)" in out
    assert "Note       Phalen's test positive on the RIGHT" in out
    assert "Heard as   test: T EH S T" in out
    assert run("lexicon", "meaning", "good morning") == 0
    assert "No field" in capsys.readouterr().out


def test_meaning_names_what_sounds_near() -> None:
    assert any(text == "phalen's" or "phalen" in text for text, _ in meaning_of("felons", load_lexicon()).near)


@pytest.mark.parametrize(("name", "made"), [("Dubois' café-test, 2nd", "dubois_cafe_test_2nd"), ("2PD", "t_2pd")])
def test_an_id_is_made_from_a_name(name: str, made: str) -> None:
    assert id_of(name) == made


@pytest.mark.parametrize("form", ["ZQTEST", "Élan sign", "9-peg test", "grip/peg sign", "half-moon/crescent mark 2"])
def test_capitals_accents_digits_hyphens_and_slashes(tmp_path: Path, form: str) -> None:
    from dictation.lexicon.appending import NewTerm

    own = tmp_path / "own.yaml"
    add_term(own, NewTerm("ours", form, "test"), None)
    for said in (form, form.lower()):
        assert found(draft(f"Right hand. {said} positive.", tmp_path, own)) == [("ours", "right", "positive")]
    assert load_lexicon(own).concepts["ours"].preferred == form


def test_ten_thousand_terms_load_and_draft(tmp_path: Path) -> None:
    own = tmp_path / "own.yaml"
    own.write_text(own_terms(10_000), encoding="utf-8")
    began = time.process_time()
    drafted = draft("Right hand. No swelling. Babababastonba test positive.", tmp_path, own)
    assert time.process_time() - began < 60  # generous: a busy machine; the figure is the benchmark's
    assert ("own_0", "right", "positive") in found(drafted)
    assert ("swelling", "right", "absent") in found(drafted)


def test_versions_and_checksums_are_in_the_record(tmp_path: Path) -> None:
    own = tmp_path / "own.yaml"
    add_forms(own, "swelling", ["puffed up"], [], {}, None)
    source = draft("Right hand puffed up.", tmp_path, own).source
    lexicon = load_lexicon()
    assert (source.lexicon_version, source.lexicon_sha256) == (lexicon.version, lexicon.checksum)
    assert source.personal_lexicon_sha256 == hashlib.sha256(own.read_bytes()).hexdigest()
    assert draft("Right hand puffed up.", tmp_path, None).source.personal_lexicon_sha256 is None


def test_a_run_keeps_the_lexicon_it_began_with_and_the_next_sees_the_change(tmp_path: Path) -> None:
    own = tmp_path / "own.yaml"
    add_forms(own, "swelling", ["puffed up"], [], {}, None)
    settings = Settings(tmp_path, tmp_path / "store", tmp_path / "cache", personal_lexicon=own)
    texts = [tmp_path / "a.txt", tmp_path / "b.txt"]
    for text in texts:
        text.write_text("Right hand puffed up and blown up.")

    def change(_outcome: object) -> None:
        if "blown up" not in own.read_text():
            add_forms(own, "swelling", ["blown up"], [], {}, own)
            own.write_text(own.read_text().replace('"puffed up", ', ""))

    first = draft_files(texts, tmp_path / "one", "auto", settings, begin=lambda _: None, done=change)
    shas = {o.draft.source.personal_lexicon_sha256 for o in first if o.draft}
    assert len(shas) == 1
    assert all("puffed up" in o.draft.fields[0].evidence[0].said for o in first if o.draft)
    second = draft_files(texts, tmp_path / "two", "auto", settings, begin=lambda _: None, done=lambda _: None)
    assert [o.draft.source.personal_lexicon_sha256 for o in second if o.draft] == [
        hashlib.sha256(own.read_bytes()).hexdigest()
    ] * 2
    assert all("blown up" in o.draft.fields[0].evidence[0].said for o in second if o.draft)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        (None, r"own\.yaml, line 1: cannot be read \(FileNotFoundError\)"),
        (b"", "it holds nothing"),
        (b"# only words\n", "it holds nothing"),
        (b"\x00\x01binary", "not YAML"),
        (b"a: \xff", "not UTF-8"),
        (b"concepts: &a\n  - *a\n", "anchors, aliases and tags are not used"),
        (b"concepts: !!python/object:os.system []\n", "anchors, aliases and tags are not used"),
        (b"concepts: []\nconcepts: []\n", "line 2: key concepts is repeated"),
        (b"concepts: " + b"[" * 100 + b"]" * 100, "nested too deeply"),
        (b"".join(b" " * n + b"a:\n" for n in range(60)), "nested too deeply"),
        (b"concepts:\n  - {id: x, preferred: x, kind: test, plausible: [.inf, 1]}\n", "'.inf' is read as a number"),
        (b"concepts:\n  - {id: x, preferred: x, kind: test, plausible: [1:30, 100]}\n", "'1:30' is read as a number"),
        (b"joints:\n  - {id: knee, preferred: Knee}\n", "the record has no joint of this id"),
        (b"just words\n", "must be a mapping"),
        (b"#" * 8_000_001, "larger than 8 MB; split it"),
        (b'phrases: ["the {colour} hand"]\n', "unknown slot colour"),
    ],
    ids=lambda value: repr(value)[:30],
)
def test_a_file_that_cannot_be_used_is_one_sentence_and_nothing_is_drafted(
    run: Run, own: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], text: bytes | None, what: str
) -> None:
    file = tmp_path / "own.yaml"
    if text is not None:
        file.write_bytes(text)
    with pytest.raises(LexiconError, match=what):
        draft("Right hand.", tmp_path, file)
    (tmp_path / "a.txt").write_text("Right hand. No swelling.")
    settings = tmp_path / "config" / "hand-examination-dictation" / "settings.toml"
    settings.parent.mkdir(parents=True)
    settings.write_text(f'personal_lexicon = "{file}"\n')
    assert run("draft", "a.txt", "--out-dir", "out") == 6
    one_sentence(capsys.readouterr().err)
    assert not (tmp_path / "out").exists()


def test_a_file_that_may_not_be_read_is_one_sentence(
    run: Run, own: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    own.parent.mkdir(parents=True)
    own.write_text('also_spoken: {swelling: ["puffed up"]}\n')
    read = Path.read_bytes

    def refused(path: Path) -> bytes:  # a mode that forbids it would not hold where the tests run as the superuser
        if path == own:
            raise PermissionError(13, "Permission denied")
        return read(path)

    monkeypatch.setattr(Path, "read_bytes", refused)
    for command in (("lexicon", "check"), ("lexicon", "list"), ("lexicon", "meaning", "swelling"), ("explain", "Right hand.")):
        assert run(*command) == 6
        err = capsys.readouterr().err
        one_sentence(err)
        assert f"{own.name}, line 1: cannot be read (PermissionError); check the path" in err


def test_whisper_is_told_of_a_term_of_ones_own(tmp_path: Path) -> None:
    from dictation.lexicon.appending import NewTerm

    own = tmp_path / "own.yaml"
    add_term(own, NewTerm("", "Dubrule test", "test"), None)
    add_forms(own, "swelling", ["florp"], [], {}, None)
    shipped, words = bias_words(load_lexicon()), bias_words(load_lexicon(own))
    assert words[:2] == ("florp", "Dubrule")  # first, for a prompt is short
    assert words[2:] == shipped
    own.write_text(own_terms(500), encoding="utf-8")
    words = bias_words(load_lexicon(own))
    assert words.index(shipped[0]) == OWN_FIRST  # many of them do not crowd out the lexicon's
    assert len(words) == len(shipped) + 500


@pytest.mark.sound
@pytest.mark.skipif(shutil.which("flite") is None, reason="flite is not installed; it speaks the sentence of this test")
def test_the_embedded_recogniser_hears_a_term_of_ones_own(tmp_path: Path) -> None:
    from dictation.lexicon.appending import NewTerm
    from dictation.pipeline import draft_audio

    sound = tmp_path / "said.wav"
    said = "Right hand. Zambrule test positive. No swelling. Zambrule test negative on the left."
    subprocess.run(["flite", "-voice", "slt", "-t", said, "-o", str(sound)], check=True)
    own = tmp_path / "own.yaml"
    before = draft_audio(sound, recogniser="embedded", settings=Settings(tmp_path, tmp_path / "store", tmp_path / "cache"))
    add_term(own, NewTerm("", "Zambrule test", "test"), None)
    settings = Settings(tmp_path, tmp_path / "store", tmp_path / "cache", personal_lexicon=own)
    after = draft_audio(sound, recogniser="embedded", settings=settings)
    assert "zambrule" not in {w.said.lower() for w in before.transcript.words}
    assert "zambrule_test" not in {f.concept for f in before.fields}
    assert ("zambrule_test", "right", "positive") in found(after)
    assert any(f.concept == "swelling" and (f.status == "absent" or f.checked()) for f in after.fields)
