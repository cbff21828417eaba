"""A run over many recordings: what is done is skipped, a bad one stops no other, a draft under review is left alone."""

from __future__ import annotations

import hashlib
import os
import shutil
import wave
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from types import TracebackType

import pytest

from dictation.bulk import work
from dictation.bulk.keeping import Keeping, alone
from dictation.bulk.recordings import find_recordings
from dictation.bulk.run import Report, draft_all, find_todo
from dictation.bulk.work import How, Job, as_made, checksum, draft_job, how_to_draft
from dictation.bulk.workers import Begun, Event
from dictation.errors import InputError, LexiconError, OutputError, RecogniserUnavailable
from dictation.lexicon.loading import load_lexicon
from dictation.pipeline import draft_text
from dictation.record import DraftRecord
from dictation.settings import Settings, read_settings
from dictation.splitting.marks import Stretch
from dictation.splitting.splits import splits_beside, write_splits
from dictation.store.journal import Moment, Step
from dictation.store.store import open_store

WHEN = Moment("2025-03-04T13:30:00Z", 60)
TEXTS = {"a.txt": "Right wrist. No swelling.", "b/c.txt": "Left hand. Phalen's test positive.", "d.txt": "Right elbow tender."}


class Here:
    """A Runner in this process; asked: the names of what it drafted."""

    def __init__(self, how: How) -> None:
        self.how = how
        self.asked: list[str] = []

    def __enter__(self) -> Here:
        return self

    def __exit__(self, kind: type[BaseException] | None, err: BaseException | None, trace: TracebackType | None) -> None: ...

    def run(self, jobs: Iterable[Job]) -> Iterator[Event]:
        for job in jobs:
            self.asked.append(job.name)
            yield Begun(job.name)
            yield draft_job(job, self.how)


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    """Settings of a store and of nothing else."""
    (tmp_path / "in" / "b").mkdir(parents=True)
    for name, text in TEXTS.items():
        (tmp_path / "in" / name).write_text(text, encoding="utf-8")
    return replace(read_settings({}), store_folder=tmp_path / "store", personal_lexicon=None, whisper_model=None)


def _run(tmp_path: Path, settings: Settings, *, who: str | None = None, send: bool = False) -> tuple[list[str], Report]:
    """Run over the folder; return what was drafted, and the report."""
    how = how_to_draft("auto", settings)
    report, runner = Report(), Here(how)
    found = find_recordings([tmp_path / "in"], tmp_path / "out", ["*.txt", "*.wav"])
    resets = load_lexicon().language["reset"]
    with alone(tmp_path / "out"), Keeping(tmp_path / "out", settings, who, resets=resets) as keeping:
        draft_all(find_todo(found, how, keeping, report), runner, keeping, report, lambda event: None, send=send)
    return sorted(runner.asked), report


def _drafts(tmp_path: Path) -> dict[str, bytes]:
    return {path.relative_to(tmp_path / "out").as_posix(): path.read_bytes() for path in (tmp_path / "out").rglob("*.json")}


def test_what_is_done_is_skipped_and_what_is_new_is_drafted(tmp_path: Path, settings: Settings) -> None:
    asked, report = _run(tmp_path, settings)
    assert asked == sorted(report.rows) == sorted(TEXTS)
    assert report.exit_code == 0
    assert all(row.fields and row.duration_s is None for row in report.rows.values())
    before = _drafts(tmp_path)
    assert sorted(before) == ["a.draft.json", "b/c.draft.json", "d.draft.json"]
    (tmp_path / "in" / "e.txt").write_text("Left elbow. No swelling.", encoding="utf-8")
    (tmp_path / "out" / "a.draft.json").unlink()
    asked, report = _run(tmp_path, settings)
    assert (asked, sorted(report.skipped)) == (["a.txt", "e.txt"], ["b/c.txt", "d.txt"])
    assert {name: text for name, text in _drafts(tmp_path).items() if name in before} == before


@pytest.mark.parametrize("change", ["sound", "own terms", "damaged"])
def test_a_change_of_sound_or_words_drafts_anew(tmp_path: Path, settings: Settings, change: str) -> None:
    _run(tmp_path, settings)
    expected = ["a.txt"]
    if change == "sound":
        (tmp_path / "in" / "a.txt").write_text("Left wrist. No swelling.", encoding="utf-8")
    elif change == "damaged":
        (tmp_path / "out" / "a.draft.json").write_bytes(b'{"schema_version": "1.1", "sou')
    else:
        own = tmp_path / "own_terms.yaml"
        own.write_text("also_spoken:\n  swelling: [\"puffed up\"]\n", encoding="utf-8")
        settings, expected = replace(settings, personal_lexicon=own), sorted(TEXTS)
    assert _run(tmp_path, settings)[0] == expected
    assert _run(tmp_path, settings)[0] == []


def test_a_recogniser_of_another_name_or_model_drafts_anew() -> None:
    made = as_made(b'{"source": {"sha256": "0", "recogniser": "whisper", "model": "small.en, cpu int8", "lexicon_sha256": "1", '
                   b'"personal_lexicon_sha256": null}}')  # fmt: skip
    assert made is not None
    assert (made.recogniser, made.model) == ("whisper", "small.en")
    assert as_made(b"[]") is None


def test_a_bad_recording_is_named_and_stops_no_other(tmp_path: Path, settings: Settings) -> None:
    (tmp_path / "in" / "bad.txt").write_bytes(b"\xff\xfe")
    (tmp_path / "in" / "empty.txt").write_bytes(b"")
    (tmp_path / "in" / "long.txt").write_bytes(b"left " * 400_001)
    (tmp_path / "in" / ("n" * 250 + ".txt")).write_text("No swelling.")  # its draft's name is too long for a disk
    _, report = _run(tmp_path, settings)
    assert sorted(report.rows) == sorted(TEXTS)
    assert sorted(report.failed) == sorted(["bad.txt", "empty.txt", "long.txt", "n" * 250 + ".txt"])
    assert report.exit_code == 3
    assert "not UTF-8" in str(report.failed["bad.txt"])
    assert isinstance(report.failed["n" * 250 + ".txt"], OutputError)


def test_a_fault_in_the_program_costs_its_recording_alone(
    tmp_path: Path, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    draft = work.draft_file

    def faulty(path: Path, *args: object) -> object:
        if path.name == "a.txt":
            raise ValueError("something a patient said")
        return draft(path, *args)  # type: ignore[arg-type]

    monkeypatch.setattr(work, "draft_file", faulty)
    _, report = _run(tmp_path, settings)
    assert (sorted(report.rows), report.exit_code) == (["b/c.txt", "d.txt"], 1)
    assert "patient" not in str(report.failed["a.txt"])


def test_sound_that_is_sent_gives_the_same_drafts(tmp_path: Path, settings: Settings) -> None:
    _run(tmp_path, settings)
    by_path = _drafts(tmp_path)
    for path in (tmp_path / "out").rglob("*.json"):
        path.unlink()
    _run(tmp_path, settings, send=True)
    assert _drafts(tmp_path) == by_path


def test_a_worker_with_other_words_or_weights_refuses(tmp_path: Path, settings: Settings) -> None:
    how = how_to_draft("embedded", settings)
    job = Job("a.txt", tmp_path / "in" / "a.txt", "0" * 64)
    assert isinstance(draft_job(job, replace(how, lexicon="0" * 64)).error, LexiconError)
    changed = draft_job(job, how).error
    assert isinstance(changed, InputError)
    assert "changed while it was drafted" in str(changed)
    (tmp_path / "a.wav").write_bytes(b"RIFF")
    other = replace(how, recogniser="whisper", model="large")
    assert isinstance(draft_job(Job("a.wav", tmp_path / "a.wav", "0" * 64), other).error, RecogniserUnavailable)


def test_each_draft_becomes_an_encounter_and_a_run_cut_short_before_that_makes_up_for_it(
    tmp_path: Path, settings: Settings
) -> None:
    _run(tmp_path, settings)  # as if it had ended between the draft's file and the store
    asked, report = _run(tmp_path, settings, who="Dr A. Invented")
    assert (asked, sorted(report.skipped)) == ([], sorted(TEXTS))
    store = open_store(settings.store_folder)
    assert sorted(one.reference for one in store.encounters()) == ["a", "b/c", "d"]
    assert {one.drafts for one in store.encounters()} == {1}
    (tmp_path / "in" / "a.txt").write_text("Left wrist. No swelling.", encoding="utf-8")
    _, report = _run(tmp_path, settings, who="Dr A. Invented")
    assert "rename one of the two" in str(report.failed["a.txt"])  # other words under a patient's reference
    assert len(store.encounter("a").facts.drafts) == 1
    store.close()


def test_a_draft_under_review_is_not_drafted_over(tmp_path: Path, settings: Settings) -> None:
    _run(tmp_path, settings, who="Dr A. Invented")
    own = tmp_path / "own_terms.yaml"
    own.write_text("also_spoken:\n  swelling: [\"puffed up\"]\n", encoding="utf-8")
    settings = replace(settings, personal_lexicon=own)
    store = open_store(settings.store_folder)
    encounter = store.encounter("a")
    (draft,) = encounter.facts.drafts
    encounter.append([Step("confirmed", "w1", draft=draft)], "Dr A. Invented", WHEN)
    before = _drafts(tmp_path)["a.draft.json"]
    asked, report = _run(tmp_path, settings, who="Dr A. Invented")
    assert (asked, report.decided) == (["b/c.txt", "d.txt"], ["a.txt"])
    assert _drafts(tmp_path)["a.draft.json"] == before
    assert len(store.encounter("d").facts.drafts) == 2  # not decided on yet: the new draft stands beside the old one
    asked, report = _run(tmp_path, replace(settings, personal_lexicon=None))  # not taken in: nothing held is drafted over
    assert (asked, sorted(report.decided)) == ([], ["b/c.txt", "d.txt"])
    store.close()


@pytest.fixture
def heard(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, str]:
    """A recording of three seconds in place of the texts, and what is heard in each file instead of its sound."""
    shutil.rmtree(tmp_path / "in")
    (tmp_path / "in").mkdir()
    with wave.open(str(tmp_path / "in" / "clinic.wav"), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(16_000)
        out.writeframes(b"".join(at.to_bytes(2, "little") for at in range(48_000)))
    said = {"clinic.wav": "Right wrist tender. Next patient. Left hand. No swelling."}

    def listen(path: Path, *args: object) -> DraftRecord:
        draft = draft_text(said[path.name], name=path.name, lexicon=args[-1])  # type: ignore[arg-type]
        draft.source.sha256, draft.source.recogniser, draft.source.duration_s = checksum(path), "embedded", 3.0
        return draft

    monkeypatch.setattr(work, "draft_file", listen)
    return said


def test_several_examinations_are_no_encounter_until_they_are_parted(
    tmp_path: Path, settings: Settings, heard: dict[str, str]
) -> None:
    asked, report = _run(tmp_path, settings, who="Dr A. Invented")
    assert (asked, report.rows, report.exit_code) == (["clinic.wav"], {}, 3)
    assert "speaks of 2 examinations, and is not taken into the store as one" in str(report.failed["clinic.wav"])
    asked, report = _run(tmp_path, settings, who="Dr A. Invented")
    assert (asked, report.exit_code) == ([], 3)  # nor later, from its draft
    whole = _drafts(tmp_path)["clinic.draft.json"]
    write_splits(splits_beside(tmp_path / "out" / "clinic.draft.json"), [Stretch(0.0, 1.0, "H-1"), Stretch(1.0, 2.0)])
    heard |= {"001.wav": "Right wrist tender.", "002.wav": "Next patient. Left hand. No swelling."}
    asked, report = _run(tmp_path, settings, who="Dr A. Invented")
    assert asked == ["clinic part 1", "clinic part 2"]
    assert (report.failed, report.left_out_s) == ({}, {"clinic.wav": 1.0})
    drafts = _drafts(tmp_path)
    assert sorted(drafts) == [
        "clinic.001.draft.json", "clinic.002.draft.json", "clinic.parts/cuts.json", "clinic.parts/whole.draft.json",
    ]  # fmt: skip
    assert drafts["clinic.parts/whole.draft.json"] == whole  # kept, and no longer one to review
    store = open_store(settings.store_folder)
    assert sorted(one.reference for one in store.encounters()) == ["H-1", "clinic part 2"]
    assert store.holding(hashlib.sha256(whole).hexdigest()) == []
    for reference, sound in (("H-1", "001.wav"), ("clinic part 2", "002.wav")):
        (recording,) = store.encounter(reference).facts.recordings
        assert recording == checksum(tmp_path / "out" / "clinic.parts" / sound)  # its own part, never the whole
    store.close()
    asked, report = _run(tmp_path, settings, who="Dr A. Invented")
    assert (asked, report.exit_code) == ([], 0)


def test_what_is_in_the_store_as_one_is_not_drafted_in_parts(tmp_path: Path, settings: Settings, heard: dict[str, str]) -> None:
    heard["clinic.wav"] = "Right wrist tender."
    _run(tmp_path, settings, who="Dr A. Invented")
    (tmp_path / "in" / "clinic.splits.csv").write_text("start,end,reference\n0,1,H-1\n1,2,H-2\n", encoding="utf-8")
    asked, report = _run(tmp_path, settings, who="Dr A. Invented")
    assert asked == []
    assert "erase that first" in str(report.failed["clinic.wav"])


def test_the_largest_is_drafted_first(tmp_path: Path, settings: Settings) -> None:
    how = how_to_draft("auto", settings)
    with Keeping(tmp_path / "out", settings) as keeping:
        todo = find_todo(find_recordings([tmp_path / "in"], tmp_path / "out", ["*.txt"]), how, keeping, Report())
    assert [one.recording.name for one in todo] == sorted(TEXTS, key=lambda name: -len(TEXTS[name]))


def test_what_a_killed_run_left_half_written_is_cleared_away(tmp_path: Path) -> None:
    (tmp_path / "b").mkdir()
    names = (".a.draft.json.0123456789ab.part", ".c.0123456789ab.part", "x.part")
    old, fresh, other = (tmp_path / "b" / name for name in names)
    for path in (old, fresh, other):
        path.write_text("half")
    for path in (old, other):
        os.utime(path, (1, 1))
    with alone(tmp_path):
        assert sorted(path.name for path in (tmp_path / "b").iterdir()) == [fresh.name, other.name]


def test_two_runs_into_one_folder_are_kept_apart(tmp_path: Path) -> None:
    with alone(tmp_path), pytest.raises(OutputError, match="Another run"), alone(tmp_path):
        pass
    with alone(tmp_path):
        pass
