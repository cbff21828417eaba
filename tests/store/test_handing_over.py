"""One encounter as one file: whole out and whole in, and a stranger's file believed in nothing unverified."""

from __future__ import annotations

import hashlib
import json
import stat
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from scripted import WHEN, WHO, invented_examination

from dictation.errors import HandedOverError, InputError, OutputError, RecordError
from dictation.record import parse_draft
from dictation.store import handing_over
from dictation.store.facts import Details
from dictation.store.handing_over import export_encounter, import_encounter
from dictation.store.journal import Step
from dictation.store.sound_folder import sound_path
from dictation.store.store import Encounter, Store, open_store

SOUND = b"invented sound" * 1000
SOUND_SHA256 = hashlib.sha256(SOUND).hexdigest()


@pytest.fixture
def stores(tmp_path: Path) -> Iterator[tuple[Store, Store]]:
    """A store with one encounter, H-7, and an empty one."""
    here, there = open_store(tmp_path / "here"), open_store(tmp_path / "there")
    encounter = here.open_encounter("H-7", Details(purpose="nerve", age=52), WHO, WHEN)
    path = sound_path(here, SOUND_SHA256)
    path.parent.mkdir()
    path.write_bytes(SOUND)
    encounter.append([Step("sound kept", after={"sha256": SOUND_SHA256, "name": "h7.wav"})], WHO, WHEN)
    content = invented_examination().draft().model_dump_json().encode()
    encounter.take_draft(content, SOUND_SHA256, "h7.wav", spoken=True, who=WHO, time=WHEN)
    encounter.append([Step("confirmed", "f1", after={"sentence": "x"}, draft=next(iter(encounter.facts.drafts)))], WHO, WHEN)
    yield here, there
    here.close()
    there.close()


def _exported(store: Store, tmp_path: Path) -> Path:
    target = tmp_path / "h7.encounter.zip"
    assert export_encounter(store.encounter("H-7"), target) == 1
    return target


def _same(one: Encounter, other: Encounter) -> None:
    assert other.entries == one.entries
    assert other.facts == one.facts
    for sha256 in one.facts.drafts:
        assert other.draft_content(sha256) == one.draft_content(sha256)


def test_out_and_in_gives_the_same_encounter_with_its_sound(stores: tuple[Store, Store], tmp_path: Path) -> None:
    here, there = stores
    file = _exported(here, tmp_path)
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    _same(here.encounter("H-7"), import_encounter(there, file, WHO, WHEN, parse_draft))
    assert sound_path(there, SOUND_SHA256).read_bytes() == SOUND
    assert stat.S_IMODE(sound_path(there, SOUND_SHA256).stat().st_mode) == 0o600
    assert [entry.what for entry in there.journal()] == [handing_over.IMPORTED]
    (summary,) = there.encounters()
    assert (summary.reference, summary.drafts, summary.signed) == ("H-7", 1, 0)


def test_and_out_again_gives_the_same_content(stores: tuple[Store, Store], tmp_path: Path) -> None:
    here, there = stores
    import_encounter(there, _exported(here, tmp_path), WHO, WHEN, parse_draft)
    export_encounter(there.encounter("H-7"), tmp_path / "again.zip")
    with zipfile.ZipFile(tmp_path / "h7.encounter.zip") as one, zipfile.ZipFile(tmp_path / "again.zip") as other:
        assert {n: one.read(n) for n in one.namelist()} == {n: other.read(n) for n in other.namelist()}


def test_what_is_there_already_is_not_taken_twice_nor_written_over(stores: tuple[Store, Store], tmp_path: Path) -> None:
    here, there = stores
    file = _exported(here, tmp_path)
    with pytest.raises(InputError, match="already"):
        import_encounter(here, file, WHO, WHEN, parse_draft)
    with pytest.raises(OutputError, match="exists already"):
        export_encounter(here.encounter("H-7"), file)
    there.open_encounter("h-7", Details(), WHO, WHEN)
    with pytest.raises(InputError, match="reference already"):
        import_encounter(there, file, WHO, WHEN, parse_draft)
    assert not sound_path(there, SOUND_SHA256).exists()
    assert len(there.encounters()) == 1


Members = dict[str, bytes]


def _altered(file: Path, change: Callable[[Members], None]) -> Path:
    with zipfile.ZipFile(file) as packed:
        members = {name: packed.read(name) for name in packed.namelist()}
    change(members)
    target = file.with_name("altered.zip")
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in members.items():
            packed.writestr(name, content)
    return target


def _rehashed(members: Members) -> None:
    manifest = json.loads(members["manifest.json"])
    manifest["files"] = {n: hashlib.sha256(c).hexdigest() for n, c in members.items() if n != "manifest.json"}
    members["manifest.json"] = json.dumps(manifest).encode()


def _draft_name(members: Members) -> str:
    return next(name for name in members if name.startswith("drafts/"))


def _flip(name: str) -> Callable[[Members], None]:
    def change(members: Members) -> None:
        members[name] = bytes([members[name][0] ^ 1]) + members[name][1:]

    return change


def _journal_line_gone(members: Members) -> None:
    members["journal.jsonl"] = b"\n".join(members["journal.jsonl"].splitlines()[:-1]) + b"\n"
    _rehashed(members)


def _decision_changed(members: Members) -> None:
    lines = [json.loads(line) for line in members["journal.jsonl"].splitlines()]
    lines[-1]["content"] = lines[-1]["content"].replace('"f1"', '"f2"')
    members["journal.jsonl"] = b"".join(json.dumps(line).encode() + b"\n" for line in lines)
    _rehashed(members)


def _draft_changed(members: Members) -> None:
    members[_draft_name(members)] += b" "
    _rehashed(members)


def _draft_gone(members: Members) -> None:
    del members[_draft_name(members)]
    _rehashed(members)


def _sound_of_another(members: Members) -> None:
    members["sound/" + "0" * 64] = b"other"
    _rehashed(members)


def _climbing(members: Members) -> None:
    members["drafts/../../../../tmp/climbed.json"] = b"{}"
    _rehashed(members)


def _absolute(members: Members) -> None:
    members["/tmp/absolute"] = b"{}"
    _rehashed(members)


def _no_manifest(members: Members) -> None:
    del members["manifest.json"]


def _deep(members: Members) -> None:
    members["manifest.json"] = b"[" * 100_000


def _another_format(members: Members) -> None:
    members["manifest.json"] = members["manifest.json"].replace(b"hand-examination-encounter", b"something")


@pytest.mark.parametrize(
    "change",
    [
        _flip("journal.jsonl"), _flip("manifest.json"), _flip("sound/" + SOUND_SHA256), _journal_line_gone, _decision_changed,
        _draft_changed, _draft_gone, _sound_of_another, _climbing, _absolute, _no_manifest, _deep, _another_format,
    ],
)  # fmt: skip
def test_nothing_of_a_damaged_or_a_strange_file_is_taken_in(
    stores: tuple[Store, Store], tmp_path: Path, change: Callable[[Members], None]
) -> None:
    here, there = stores
    file = _altered(_exported(here, tmp_path), change)
    with pytest.raises(RecordError):
        import_encounter(there, file, WHO, WHEN, parse_draft)
    assert there.encounters() == []
    assert not any(path.name.startswith("climbed") for path in tmp_path.rglob("*"))
    folder = sound_path(there, SOUND_SHA256).parent
    assert not folder.exists() or list(folder.iterdir()) == []


def test_a_newer_form_asks_for_an_update(stores: tuple[Store, Store], tmp_path: Path) -> None:
    def newer(members: Members) -> None:
        members["manifest.json"] = members["manifest.json"].replace(b'"version": 1', b'"version": 2')

    with pytest.raises(HandedOverError, match="update the program"):
        import_encounter(stores[1], _altered(_exported(stores[0], tmp_path), newer), WHO, WHEN, parse_draft)


def test_a_bomb_is_not_unpacked(stores: tuple[Store, Store], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(handing_over, "LARGEST_TEXT", 2**20)
    file = tmp_path / "bomb.zip"
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("manifest.json", b"\0" * (2**20 + 1))
    assert file.stat().st_size < 10_000
    with pytest.raises(HandedOverError, match="does not have"):
        import_encounter(stores[1], file, WHO, WHEN, parse_draft)


def test_a_header_that_lies_about_its_size_is_not_believed(
    stores: tuple[Store, Store], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(handing_over, "LARGEST_TEXT", 2**16)
    file = tmp_path / "lies.zip"
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("manifest.json", b"\0" * 2**20)
    raw = file.read_bytes().replace((2**20).to_bytes(4, "little"), (100).to_bytes(4, "little"))
    file.write_bytes(raw)
    with pytest.raises(HandedOverError):
        import_encounter(stores[1], file, WHO, WHEN, parse_draft)


def test_too_many_files_are_refused(stores: tuple[Store, Store], tmp_path: Path) -> None:
    file = tmp_path / "many.zip"
    with zipfile.ZipFile(file, "w") as packed:
        for number in range(handing_over.MOST_FILES + 1):
            packed.writestr(f"drafts/{number:064x}.json", b"")
    with pytest.raises(HandedOverError, match="too many"):
        import_encounter(stores[1], file, WHO, WHEN, parse_draft)


@pytest.mark.parametrize("content", [b"", b"no zip at all", b"PK\x03\x04" + b"\0" * 50])
def test_no_zip_at_all(stores: tuple[Store, Store], tmp_path: Path, content: bytes) -> None:
    file = tmp_path / "x.zip"
    file.write_bytes(content)
    with pytest.raises(HandedOverError):
        import_encounter(stores[1], file, WHO, WHEN, parse_draft)
    with pytest.raises(InputError, match="no file"):
        import_encounter(stores[1], tmp_path / "none.zip", WHO, WHEN, parse_draft)


def test_deleted_sound_does_not_come_back(stores: tuple[Store, Store], tmp_path: Path) -> None:
    here, there = stores
    file = _exported(here, tmp_path)

    def deleted(members: Members) -> None:
        encounter = here.encounter("H-7")
        encounter.append([Step("sound deleted", after={"sha256": SOUND_SHA256, "why": "consent withdrawn"})], WHO, WHEN)
        sound = members["sound/" + SOUND_SHA256]
        sound_path(here, SOUND_SHA256).unlink()
        export_encounter(encounter, tmp_path / "after.zip")
        with zipfile.ZipFile(tmp_path / "after.zip") as packed:
            members.clear()
            members.update({name: packed.read(name) for name in packed.namelist()})
        members["sound/" + SOUND_SHA256] = sound
        _rehashed(members)

    with pytest.raises(HandedOverError, match="was deleted"):
        import_encounter(there, _altered(file, deleted), WHO, WHEN, parse_draft)
