"""An encounter handed over as one file: whole there and back, and nothing of a malicious one is believed."""

from __future__ import annotations

import hashlib
import io
import json
import stat
import struct
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from scripted import ENDING, LEXICON, REFERENCE, WHEN, WHO, Script, decide_all, invented_examination, word

from dictation.errors import DictationError, InputError, OutputError, RecordError
from dictation.note.text import render_text
from dictation.review.opening import check_encounter, check_package, open_review
from dictation.store import package
from dictation.store.erasing import erase_encounter
from dictation.store.facts import Details
from dictation.store.journal import Step
from dictation.store.package import read_package, take_in_package, write_package
from dictation.store.sound import add_sound, delete_sound, find_sound
from dictation.store.store import Encounter, Store, open_store
from dictation.store.verifying import verify_store

Files = dict[str, bytes]


@pytest.fixture
def stores(tmp_path: Path) -> Iterator[tuple[Store, Store]]:
    """Where an encounter comes from, and where it goes."""
    pair = open_store(tmp_path / "from"), open_store(tmp_path / "to")
    yield pair
    for store in pair:
        store.close()


@pytest.fixture
def handed(stores: tuple[Store, Store], tmp_path: Path) -> Path:
    """A signed encounter with its sound, handed over as a file."""
    sound = tmp_path / "spoken.wav"
    sound.write_bytes(b"RIFF invented sound")
    review = invented_examination().take(stores[0])
    add_sound(review.journal.encounter, sound, keep=False, who=WHO, time=WHEN)
    decide_all(review)
    note = render_text(review.sign(WHO, "Hand surgeon", WHEN, ending=ENDING), LEXICON)
    write_package(review.journal.encounter, tmp_path / "e.zip", [note], "0.0.0")
    return tmp_path / "e.zip"


def _take(store: Store, path: Path) -> Encounter:
    return take_in_package(store, read_package(path), check_package, "Dr B", WHEN)


def _changed(path: Path, change: Callable[[Files], None], *, honest: bool = True) -> Path:
    """Write the file again with something changed; honest: with the checksums of what it holds then."""
    with zipfile.ZipFile(path) as archive:
        files = {name: archive.read(name) for name in archive.namelist()}
    change(files)
    if honest:
        manifest = json.loads(files["manifest.json"])
        manifest["files"] = {n: hashlib.sha256(c).hexdigest() for n, c in files.items() if n != "manifest.json"}
        files["manifest.json"] = json.dumps(manifest).encode()
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return path


def test_an_encounter_is_the_same_there(stores: tuple[Store, Store], handed: Path, tmp_path: Path) -> None:
    sent, taken = stores[0].encounter(REFERENCE), _take(stores[1], handed)
    assert taken.entries == sent.entries
    (draft,) = taken.facts.drafts
    assert open_review(taken, draft, LEXICON, word).signed() == open_review(sent, draft, LEXICON, word).signed()
    (recording,) = taken.facts.recordings
    path = find_sound(taken, recording).path
    assert path is not None
    assert path.is_relative_to(tmp_path / "to")  # never the sender's place
    assert verify_store(stores[1], check_encounter).faults == []
    assert [entry.what for entry in stores[1].journal()] == ["encounter imported"]
    assert stat.S_IMODE(handed.stat().st_mode) == 0o600


def test_the_file_can_be_read_without_the_program(handed: Path) -> None:
    with zipfile.ZipFile(handed) as archive:
        names = sorted(name.split("/")[0] for name in archive.namelist())
        assert names == ["drafts", "journal.jsonl", "manifest.json", "notes", "sound"]
        assert archive.read("notes/1.txt").startswith(b"HAND, WRIST AND ELBOW")
        lines = [json.loads(line) for line in archive.read("journal.jsonl").splitlines()]
        manifest = json.loads(archive.read("manifest.json"))
    assert [hashlib.sha256(line["content"].encode()).hexdigest() for line in lines] == [line["hash"] for line in lines]
    assert manifest["head"] == lines[-1]["hash"]


def test_what_was_added_since_comes_with_the_next_file(stores: tuple[Store, Store], handed: Path, tmp_path: Path) -> None:
    _take(stores[1], handed)
    sent = stores[0].encounter(REFERENCE)
    open_review(sent, next(iter(sent.facts.drafts)), LEXICON, word).add_addendum("More.", "Dr B", "Nurse", WHEN, ending=ENDING)
    sent.refresh()
    write_package(sent, tmp_path / "later.zip", [], "0.0.0")
    assert _take(stores[1], tmp_path / "later.zip").entries == sent.entries
    assert _take(stores[1], handed).entries == sent.entries  # the older file takes nothing away
    assert verify_store(stores[1], check_encounter).faults == []


def test_two_that_went_different_ways_are_not_made_one(stores: tuple[Store, Store], handed: Path) -> None:
    here = _take(stores[1], handed)
    here.append([Step("details stated", after={"age": 40})], WHO, WHEN)
    there = stores[0].encounter(REFERENCE)
    there.append([Step("details stated", after={"age": 50})], WHO, WHEN)
    handed.unlink()
    write_package(there, handed, [], "0.0.0")
    with pytest.raises(InputError, match="decided on otherwise"):
        _take(stores[1], handed)
    assert stores[1].encounter(REFERENCE).facts.details.age == 40


def test_the_reference_of_another_encounter_is_refused(stores: tuple[Store, Store], handed: Path) -> None:
    stores[1].open_encounter(REFERENCE.lower(), Details(), WHO, WHEN)
    with pytest.raises(InputError, match="that reference already"):
        _take(stores[1], handed)
    assert len(stores[1].encounters()) == 1


def test_what_was_erased_here_does_not_come_back(stores: tuple[Store, Store], handed: Path) -> None:
    erase_encounter(stores[0].encounter(REFERENCE), WHO, WHEN)
    with pytest.raises(InputError, match="erased here"):
        _take(stores[0], handed)


def test_a_file_in_the_way_is_never_overwritten(stores: tuple[Store, Store], handed: Path) -> None:
    before = handed.read_bytes()
    with pytest.raises(OutputError, match="exists already"):
        write_package(stores[0].encounter(REFERENCE), handed, [], "0.0.0")
    assert handed.read_bytes() == before


def test_sound_deleted_there_does_not_come_back_here(stores: tuple[Store, Store], handed: Path, tmp_path: Path) -> None:
    _take(stores[1], handed)
    (kept,) = (path for path in (tmp_path / "to").rglob("*") if path.is_file() and path.parent.parent.name == "sound")
    there = stores[0].encounter(REFERENCE)
    delete_sound(there, "consent withdrawn", WHO, WHEN)
    later = tmp_path / "later.zip"
    write_package(there, later, [], "0.0.0")
    _changed(later, lambda files: files.update({f"sound/{kept.name}": b"RIFF invented sound"}))  # slipped in again
    assert _take(stores[1], later).facts.recordings[kept.name].deleted == "consent withdrawn"
    assert not kept.exists()


def test_a_file_of_a_later_version_asks_for_an_update(stores: tuple[Store, Store], handed: Path) -> None:
    def later(files: Files) -> None:
        files["manifest.json"] = files["manifest.json"].replace(b'"version": 1', b'"version": 2')

    with pytest.raises(InputError, match="another version of the program; update"):
        _take(stores[1], _changed(handed, later, honest=False))
    assert stores[1].encounters() == []


_NAMES = [
    "../evil", "/etc/evil", "drafts/../../evil.json", "drafts\\evil", "sound/x", "sound/" + "a" * 64 + "/../b", "notes/1.txt/",
    "drafts/" + "A" * 64 + ".json", "C:evil", "extra.txt"
]  # fmt: skip


@pytest.mark.parametrize("name", _NAMES)
def test_a_path_that_leads_elsewhere_is_refused_and_nothing_is_written(
    stores: tuple[Store, Store], handed: Path, tmp_path: Path, name: str
) -> None:
    _changed(handed, lambda files: files.update({name: b"evil"}))
    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(DictationError):
        _take(stores[1], handed)
    assert sorted(tmp_path.rglob("*")) == before
    assert stores[1].encounters() == []


def test_a_zip_bomb_is_not_unpacked(handed: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(package, "MOST_TEXT", 1_000_000)
    monkeypatch.setattr(package, "MOST_SOUND", 1_000_000)
    for name in ("notes/7.txt", "sound/" + "a" * 64):
        bomb = handed.with_name("bomb.zip")
        bomb.write_bytes(handed.read_bytes())
        _changed(bomb, lambda files, name=name: files.update({name: bytes(5_000_000)}))  # type: ignore[misc]
        assert bomb.stat().st_size < 50_000
        with pytest.raises(InputError, match="unpacks to more"):
            read_package(bomb)


def test_a_size_that_lies_is_not_believed(handed: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(package, "MOST_TEXT", 1_000_000)
    _changed(handed, lambda files: files.update({"notes/7.txt": bytes(5_000_000)}))
    raw = handed.read_bytes()
    assert raw.count(struct.pack("<I", 5_000_000)) == 2
    handed.write_bytes(raw.replace(struct.pack("<I", 5_000_000), struct.pack("<I", 5_000)))
    with pytest.raises(InputError):
        read_package(handed)


def test_a_huge_index_is_refused_before_it_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for number in range(2_000):
            archive.writestr(f"notes/{number}.txt", b"")
    (tmp_path / "many.zip").write_bytes(out.getvalue())
    monkeypatch.setattr(zipfile, "ZipFile", None)
    with pytest.raises(InputError, match="too many files"):
        read_package(tmp_path / "many.zip")


_NO_ZIP = [b"", b"PK", b"PK\x05\x06" + bytes(18), b"secret swelling " * 99, b"PK\x05\x06" + b"\xff" * 18]


@pytest.mark.parametrize("content", _NO_ZIP)
def test_what_is_no_zip_is_one_sentence_that_quotes_nothing(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "e.zip").write_bytes(content)
    with pytest.raises(InputError) as caught:
        read_package(tmp_path / "e.zip")
    assert "swelling" not in str(caught.value)
    with pytest.raises(InputError, match="no file"):
        read_package(tmp_path / "none.zip")


def test_every_cut_and_most_flipped_bits_are_found(handed: Path) -> None:
    whole = handed.read_bytes()
    for size in range(0, len(whole), 211):
        handed.write_bytes(whole[:size])
        with pytest.raises(DictationError):
            read_package(handed)
    entries = read_package(_restored(handed, whole)).entries
    for place in range(0, len(whole), 97):
        handed.write_bytes(whole[:place] + bytes([whole[place] ^ 4]) + whole[place + 1 :])
        try:
            found = read_package(handed)
        except DictationError:
            continue
        assert found.entries == entries  # a bit of the zip's own dates changes nothing


def _restored(path: Path, content: bytes) -> Path:
    path.write_bytes(content)
    return path


def _first_line(files: Files, old: str, new: str) -> None:
    files["journal.jsonl"] = files["journal.jsonl"].replace(old.encode(), new.encode(), 1)


_FORGED: list[tuple[Callable[[Files], None], bool, type[DictationError]]] = [
    (lambda files: _first_line(files, REFERENCE, "H-9999"), True, RecordError),
    (lambda files: files.update({"journal.jsonl": b"\n".join(files["journal.jsonl"].splitlines()[:-1])}), True, RecordError),
    (lambda files: files.update({"notes/1.txt": b"another note"}), False, RecordError),
    (lambda files: files.update({"journal.jsonl": b""}), True, DictationError),
    (lambda files: files.update({"manifest.json": b"[" * 100_000}), False, InputError),
    (lambda files: files.update({"manifest.json": b'{"format": "other", "version": 1}'}), False, InputError),
    (lambda files: files.pop("journal.jsonl"), True, InputError),
    (lambda files: files.update({"drafts/" + hashlib.sha256(b"{}").hexdigest() + ".json": b"{}"}), True, RecordError),
    (lambda files: files.update({"sound/" + hashlib.sha256(b"x").hexdigest(): b"x"}), True, RecordError),
    (lambda files: files.update({"sound/" + "0" * 64: b"x"}), True, RecordError),
]


@pytest.mark.parametrize(("change", "honest", "kind"), _FORGED)
def test_a_forged_file_is_refused_whole(
    stores: tuple[Store, Store], handed: Path, change: Callable[[Files], None], honest: bool, kind: type[DictationError]
) -> None:
    with pytest.raises(kind) as caught:
        _take(stores[1], _changed(handed, change, honest=honest))
    assert "welling" not in str(caught.value)
    assert stores[1].encounters() == []


def test_decisions_that_do_not_fit_their_draft_are_refused(stores: tuple[Store, Store], tmp_path: Path) -> None:
    review = Script().take(stores[0])
    step = Step("confirmed", "nothing", None, {"sentence": "x"}, review.draft_sha256)
    review.journal.encounter.append([step], WHO, WHEN)
    write_package(review.journal.encounter, tmp_path / "e.zip", [], "0.0.0")
    with pytest.raises(RecordError, match="does not fit its draft"):
        _take(stores[1], tmp_path / "e.zip")
    assert stores[1].encounters() == []
