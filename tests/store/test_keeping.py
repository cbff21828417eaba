"""Sound kept, named, deleted; an encounter erased; a back-up made in use; what verifying finds."""

from __future__ import annotations

import stat
from collections.abc import Iterator
from pathlib import Path

import pytest
from scripted import ENDING, REFERENCE, WHEN, WHO, again, decide_all, edit_store, invented_examination

from dictation.errors import InputError, OutputError, RecordError, StoreError
from dictation.review.opening import check_encounter
from dictation.review.rules import Review
from dictation.store.back_up import back_up
from dictation.store.erasing import erase_encounter
from dictation.store.facts import Details
from dictation.store.journal import Moment, Step
from dictation.store.sound import (
    add_sound,
    delete_old_sound,
    delete_sound,
    find_sound,
    sound_path,
    state_details,
    stray_sound,
    sweep_sound,
    withdraw_consent,
)
from dictation.store.store import FILE, Encounter, Store, open_store
from dictation.store.verifying import verify_store

SPOKEN = b"RIFF invented sound " * 200


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """An empty store."""
    opened = open_store(tmp_path / "store")
    yield opened
    opened.close()


@pytest.fixture
def sound(tmp_path: Path) -> Path:
    """A file that stands for a recording."""
    file = tmp_path / "spoken.wav"
    file.write_bytes(SPOKEN)
    return file


def _encounter(store: Store, reference: str = REFERENCE, consent: str | None = "given") -> Encounter:
    return store.open_encounter(reference, Details(consent=consent), WHO, WHEN)


def _signed(store: Store) -> Review:
    review = invented_examination().take(store)
    decide_all(review)
    review.sign(WHO, "Hand surgeon", WHEN, ending=ENDING)
    return review


@pytest.mark.parametrize("keep", [True, False])
def test_sound_is_kept_or_named_and_found_again(store: Store, sound: Path, keep: bool) -> None:
    encounter = _encounter(store)
    sha256 = add_sound(encounter, sound, keep=keep, who=WHO, time=WHEN)
    assert add_sound(encounter, sound, keep=keep, who=WHO, time=WHEN) == sha256  # the same again is no second one
    found = find_sound(store.encounter(REFERENCE), sha256)
    assert (found.state, found.recording.kept) == ("there", keep)
    assert found.path is not None
    assert found.path.read_bytes() == SPOKEN
    assert (found.path == sound) is not keep
    if keep:
        assert stat.S_IMODE(found.path.stat().st_mode) == 0o600
        assert stat.S_IMODE(found.path.parent.stat().st_mode) == 0o700
    assert str(sound) not in str([entry.after for entry in encounter.entries])  # no place of this machine in the journal


def test_a_recording_of_one_encounter_is_refused_in_another(store: Store, sound: Path) -> None:
    add_sound(_encounter(store), sound, keep=False, who=WHO, time=WHEN)
    other = _encounter(store, "H-9")
    with pytest.raises(InputError, match="another encounter"):
        add_sound(other, sound, keep=True, who=WHO, time=WHEN)
    assert store.encounter("H-9").facts.recordings == {}


@pytest.mark.parametrize("consent", ["refused", "withdrawn"])
def test_no_sound_is_kept_without_consent(store: Store, sound: Path, consent: str) -> None:
    with pytest.raises(InputError, match="Consent"):
        add_sound(_encounter(store, consent=consent), sound, keep=True, who=WHO, time=WHEN)


@pytest.mark.parametrize("keep", [True, False])
def test_withdrawing_consent_deletes_the_sound_and_is_journalled(store: Store, sound: Path, keep: bool) -> None:
    encounter = _encounter(store)
    sha256 = add_sound(encounter, sound, keep=keep, who=WHO, time=WHEN)
    path = find_sound(encounter, sha256).path
    assert withdraw_consent(encounter, "Dr B", WHEN) == 1
    assert path is not None
    assert not path.exists()
    later = store.encounter(REFERENCE)
    assert later.facts.details.consent == "withdrawn"
    assert [(e.what, e.who) for e in later.entries[-2:]] == [("details stated", "Dr B"), ("sound deleted", "Dr B")]
    assert find_sound(later, sha256).state == "deleted"
    assert later.facts.recordings[sha256].deleted == "consent withdrawn"


@pytest.mark.parametrize("consent", ["refused", "withdrawn"])
def test_consent_changed_to_none_by_any_way_deletes_the_sound(store: Store, sound: Path, consent: str) -> None:
    encounter = _encounter(store)
    sha256 = add_sound(encounter, sound, keep=True, who=WHO, time=WHEN)
    assert state_details(encounter, {"age": 54, "consent": consent}, WHO, WHEN) == 1
    later = store.encounter(REFERENCE)
    assert (later.facts.details.age, later.facts.details.consent) == (54, consent)
    assert later.facts.recordings[sha256].deleted == f"consent {consent}"
    assert not sound_path(store, encounter.id, sha256).exists()


def test_other_details_leave_the_sound(store: Store, sound: Path) -> None:
    encounter = _encounter(store)
    sha256 = add_sound(encounter, sound, keep=True, who=WHO, time=WHEN)
    assert state_details(encounter, {"consent": "given", "age": 54}, WHO, WHEN) == 0
    with pytest.raises(InputError, match="consent"):
        state_details(encounter, {"consent": "perhaps"}, WHO, WHEN)
    assert find_sound(store.encounter(REFERENCE), sha256).state == "there"


def test_a_file_that_took_the_place_of_a_recording_is_neither_played_nor_deleted(store: Store, sound: Path) -> None:
    encounter = _encounter(store)
    sha256 = add_sound(encounter, sound, keep=False, who=WHO, time=WHEN)
    sound.write_bytes(b"another")
    assert find_sound(encounter, sha256).state == "changed"
    assert delete_sound(encounter, "on signing", WHO, WHEN) == 1
    assert sound.read_bytes() == b"another"
    assert encounter.entries[-1].after["was"] == "changed"


def test_sound_that_went_missing_is_said_and_nothing_fails(store: Store, sound: Path) -> None:
    encounter = _encounter(store)
    sha256 = add_sound(encounter, sound, keep=True, who=WHO, time=WHEN)
    path = find_sound(encounter, sha256).path
    assert path is not None
    path.unlink()
    assert find_sound(encounter, sha256).state == "missing"
    delete_sound(encounter, "on signing", WHO, WHEN)
    assert encounter.entries[-1].after["was"] == "missing"


def test_old_sound_goes_after_so_many_days_and_newer_stays(store: Store, sound: Path, tmp_path: Path) -> None:
    newer = tmp_path / "newer.wav"
    newer.write_bytes(b"newer")
    old, new = _encounter(store), _encounter(store, "H-9")
    first = add_sound(old, sound, keep=True, who=WHO, time=Moment("2025-01-01T00:00:00Z"))
    second = add_sound(new, newer, keep=True, who=WHO, time=Moment("2025-01-20T00:00:00Z"))
    assert delete_old_sound(store, 30, "the program", Moment("2025-02-01T00:00:00Z")) == 1
    assert find_sound(store.encounter(REFERENCE), first).state == "deleted"
    assert find_sound(store.encounter("H-9"), second).state == "there"


def test_what_a_crash_left_of_a_copy_is_named_and_swept_and_recordings_stay(store: Store, sound: Path) -> None:
    encounter = _encounter(store)
    sha256 = add_sound(encounter, sound, keep=True, who=WHO, time=WHEN)
    strays = [sound_path(store, encounter.id, "b" * 64), sound_path(store, encounter.id, "c" * 64).with_suffix(".part")]
    for path in strays:
        path.write_bytes(b"left by a crash")
    assert stray_sound(store) == strays
    assert "2 file(s) of sound belong to no recording" in verify_store(store).remarks[0]
    assert sweep_sound(store, WHO, WHEN) == 2
    assert sweep_sound(store, WHO, WHEN) == 0
    assert not any(path.exists() for path in strays)
    assert find_sound(store.encounter(REFERENCE), sha256).state == "there"
    assert [(e.what, e.after) for e in store.journal()][-1] == ("stray sound deleted", {"files": 2})
    assert verify_store(store, check_encounter).remarks == []


def test_sound_that_is_left_where_it_is_is_never_swept(store: Store, sound: Path) -> None:
    add_sound(_encounter(store), sound, keep=False, who=WHO, time=WHEN)
    assert (stray_sound(store), sweep_sound(store, WHO, WHEN), sound.exists()) == ([], 0, True)


def test_withdrawing_consent_leaves_no_stray_sound_of_the_encounter(store: Store, sound: Path) -> None:
    encounter = _encounter(store)
    add_sound(encounter, sound, keep=True, who=WHO, time=WHEN)
    stray = sound_path(store, encounter.id, "b" * 64)
    stray.write_bytes(SPOKEN)
    withdraw_consent(encounter, WHO, WHEN)
    assert not stray.exists()


def test_erasing_leaves_hashes_alone_in_every_file_of_the_store(store: Store, sound: Path) -> None:
    review = _signed(store)
    encounter = review.journal.encounter
    add_sound(encounter, sound, keep=True, who=WHO, time=WHEN)
    _encounter(store, "H-9")
    said = [b"pisotriquetral", REFERENCE.encode(), b"RIFF invented"]
    assert any(word in path.read_bytes() for path in store.folder.rglob("*") if path.is_file() for word in said)
    erase_encounter(encounter, "Dr B", WHEN)
    left = b"".join(path.read_bytes() for path in store.folder.rglob("*") if path.is_file())
    assert [word for word in said if word in left] == []
    assert [one.reference for one in store.encounters()] == ["H-9"]
    tomb = store.journal()[-1]
    assert (tomb.what, tomb.who, set(tomb.after)) == ("encounter erased", "Dr B", {"encounter", "head", "entries"})
    assert tomb.after["head"] == encounter.head
    assert verify_store(store).faults == []
    with pytest.raises(InputError, match="no encounter"):
        store.encounter(REFERENCE)


def test_a_back_up_made_in_use_is_a_store_of_its_own(store: Store, sound: Path, tmp_path: Path) -> None:
    review = invented_examination().take(store)
    sha256 = add_sound(review.journal.encounter, sound, keep=True, who=WHO, time=WHEN)
    review.confirm("f2", WHO, WHEN)
    made = back_up(store, tmp_path / "copy")
    review.confirm("f6", WHO, WHEN)  # the store goes on
    copied = made.encounter(REFERENCE)
    assert [entry.field for entry in copied.entries if entry.what == "confirmed"] == ["f2"]
    assert find_sound(copied, sha256).state == "there"
    assert verify_store(made, check_encounter).faults == []
    assert {stat.S_IMODE(p.stat().st_mode) for p in made.folder.rglob("*") if p.is_file()} == {0o600}
    made.close()
    with pytest.raises(OutputError, match="exists already"):
        back_up(store, tmp_path / "copy")


def test_verifying_a_whole_store_finds_no_fault(store: Store) -> None:
    _signed(store)
    found = verify_store(store, check_encounter)
    assert (found.faults, found.remarks) == ([], [])
    assert found.heads == {REFERENCE: store.encounter(REFERENCE).head}
    assert found.entries == len(store.encounter(REFERENCE).entries) + 1


_DAMAGE = [
    ("UPDATE entry SET content = replace(content, 'confirmed', 'x') WHERE number = 5 AND chain != 'store'", "Entry 5 of"),
    ("UPDATE entry SET hash = 'x' WHERE number = 3 AND chain != 'store'", "Entry 3 of"),
    ("DELETE FROM entry WHERE number = 4 AND chain != 'store'", "Entry 4 of"),
    ("UPDATE encounter SET signed = 0", "does not agree"),
    ("UPDATE encounter SET reference = 'H-9'", "does not agree"),
    ("UPDATE draft SET content = substr(content, 2)", "draft in the store was changed"),
    ("DELETE FROM draft", "draft in the store is missing"),
]


@pytest.mark.parametrize(("statement", "fault"), _DAMAGE)
def test_verifying_names_the_encounter_and_its_first_broken_entry(store: Store, statement: str, fault: str) -> None:
    _signed(store)
    edit_store(store, statement)
    (found,) = verify_store(store, check_encounter).faults
    assert fault in found
    assert "swelling" not in found.casefold()


@pytest.mark.parametrize(("content", "state"), [(None, "missing"), (b"another", "changed")])
def test_verifying_says_what_became_of_sound_that_was_to_be_kept(
    store: Store, sound: Path, content: bytes | None, state: str
) -> None:
    encounter = _encounter(store)
    path = sound_path(store, encounter.id, add_sound(encounter, sound, keep=True, who=WHO, time=WHEN))
    path.unlink() if content is None else path.write_bytes(content)
    found = verify_store(store, check_encounter)
    assert found.faults == []
    assert found.remarks == [f"The sound kept of a recording of encounter {REFERENCE} is {state}; look for it in a back-up."]
    delete_sound(encounter, "on signing", WHO, WHEN)
    assert f"The sound kept of a recording of encounter {REFERENCE} is missing" not in str(verify_store(store).remarks)


def test_an_encounter_taken_out_whole_is_missed(store: Store) -> None:
    _signed(store)
    for table, key in (("draft", "encounter"), ("entry", "chain"), ("encounter", "id"), ("chain", "id")):
        edit_store(store, f"DELETE FROM {table} WHERE {key} != 'store'")
    assert verify_store(store).faults == ["1 encounter(s) are missing and were not erased; restore the store from a back-up."]


def test_a_break_in_the_store_s_own_journal_is_named(store: Store) -> None:
    _signed(store)
    edit_store(store, "UPDATE entry SET content = replace(content, 'Invented', 'Other') WHERE chain = 'store'")
    with pytest.raises(RecordError, match="Entry 1 of the store"):
        verify_store(store)


def test_entries_that_do_not_fit_their_draft_are_found(store: Store) -> None:
    review = invented_examination().take(store)
    step = Step("confirmed", "no such field", None, {"sentence": "x"}, review.draft_sha256)
    review.journal.encounter.append([step], WHO, WHEN)
    (fault,) = verify_store(store, check_encounter).faults
    assert "Entry 3 of the journal does not fit its draft" in fault
    with pytest.raises(RecordError, match="does not fit its draft"):
        again(review)


def test_a_clock_set_back_is_a_remark_and_no_fault(store: Store) -> None:
    review = invented_examination().take(store)
    review.confirm("f2", WHO, Moment("2025-03-04T13:31:00Z", 60))
    review.confirm("f6", WHO, Moment("2025-03-04T13:30:30Z", 0))
    found = verify_store(store, check_encounter)
    assert found.faults == []
    assert found.remarks == [f"Entry 4 of encounter {REFERENCE} is dated before the one before it: the clock was set back."]


def test_a_truncated_store_is_refused(store: Store) -> None:
    _signed(store)
    store.close()
    file = store.folder / FILE
    whole = file.read_bytes()
    assert len(whole) > 12_000
    for part in (100, len(whole) // 2, len(whole) - 4096):
        file.write_bytes(whole[:part])
        assert "back-up" in _fault(store.folder)


def _fault(folder: Path) -> str:
    """What opening and verifying a store says is wrong with it."""
    try:
        damaged = open_store(folder)
        try:
            return verify_store(damaged, check_encounter).faults[0]
        finally:
            damaged.close()
    except (StoreError, RecordError) as err:
        return str(err)
