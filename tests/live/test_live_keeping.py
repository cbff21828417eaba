"""A live dictation and its encounter: consent first, taken in once, found again, deleted when consent is withdrawn."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from scripted_recogniser import saying, unavailable
from sounds_for_tests import sample_part
from test_dictating import drafting, ended, pushed

from dictation.errors import InputError
from dictation.lexicon.loading import load_lexicon
from dictation.live.dictating import Dictating
from dictation.live.keeping import begin, broken_off, dictate, take_in
from dictation.live.kept import Kept
from dictation.record import parse_draft
from dictation.settings import Settings
from dictation.store.erasing import erase_encounter
from dictation.store.facts import Details
from dictation.store.journal import Moment
from dictation.store.sound import add_sound, find_sound, withdraw_consent
from dictation.store.store import Encounter, open_store

AT = Moment("2025-03-04T13:30:00Z", 60)
WHO = "R. Invented"


@pytest.fixture
def encounter(tmp_path: Path) -> Iterator[Encounter]:
    store = open_store(tmp_path / "store")
    yield store.open_encounter("H-2041", Details(), WHO, AT)
    store.close()


def settings(tmp_path: Path) -> Settings:
    return Settings(tmp_path / "data", tmp_path / "store", tmp_path / "cache", recogniser="embedded")


@pytest.mark.parametrize("second_reading", ["on", "off"])
def test_a_dictation_listens_with_the_recogniser_of_the_settings(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, second_reading: str
) -> None:
    made: list[Callable[[], object]] = []
    monkeypatch.setattr("dictation.live.dictating.Dictating", lambda _kept, make, *_: made.append(make))
    monkeypatch.setattr("dictation.recognition.choose.choose_recogniser", lambda *asked, **more: (asked[0], more))
    chosen = replace(settings(tmp_path), whisper_model=tmp_path / "weights", second_reading=second_reading)
    _, kept = dictate(tmp_path / "live", load_lexicon(), chosen)
    kept.close()
    assert made[0]() == (
        "embedded",
        {"whisper_model": tmp_path / "weights", "cache_dir": tmp_path / "cache", "second_reading": second_reading == "on"},
    )


def test_nothing_is_recorded_without_consent(encounter: Encounter) -> None:
    with pytest.raises(InputError, match="without consent"):
        begin(encounter, consent=False, who=WHO, time=AT)
    begin(encounter, consent=True, who=WHO, time=AT)
    assert encounter.facts.details.consent == "given"
    withdraw_consent(encounter, WHO, AT)
    with pytest.raises(InputError, match="without consent"):
        begin(encounter, consent=True, who=WHO, time=AT)


def test_a_dictation_is_taken_in_with_its_sound_and_its_draft(encounter: Encounter, tmp_path: Path) -> None:
    samples = sample_part("self_corrections", 0, 6)
    kept = Kept(begin(encounter, consent=True, who=WHO, time=AT))
    assert broken_off(encounter) == [kept.folder]
    assert {path.stat().st_mode & 0o077 for path in encounter.store.folder.rglob("*")} == {0}, "for its owner alone"
    with pytest.raises(InputError, match="not ended yet"):
        begin(encounter, consent=True, who=WHO, time=AT)
    with Dictating(kept, saying, drafting) as dictating:
        pushed(dictating, samples.pcm[:48_000])
        dictating.mark()
        pushed(dictating, samples.pcm[48_000:])
        ended(dictating)
        taken = take_in(encounter, dictating, kept, load_lexicon(), settings(tmp_path), who=WHO, time=AT)
    assert taken is not None
    assert encounter.facts.recordings[kept_sha(encounter)].marked == (3.0,)
    assert broken_off(encounter) == []
    draft = parse_draft(encounter.draft_content(taken), "draft")
    assert {(f.concept, f.side) for f in draft.fields} == {("swelling", "left")}
    sound = find_sound(encounter, draft.source.sha256)
    assert (sound.state, sound.recording.name) == ("there", "dictated 2025-03-04 13.30.00.wav")
    assert encounter.facts.drafts[taken].recording == draft.source.sha256
    assert draft.source.sound is not None, "how good the sound is was judged"


def test_taking_in_may_be_broken_off_and_done_again(encounter: Encounter, tmp_path: Path) -> None:
    samples = sample_part("self_corrections", 0, 6)
    folder = begin(encounter, consent=True, who=WHO, time=AT)
    kept = Kept(folder)
    with Dictating(kept, saying, drafting) as dictating:
        pushed(dictating, samples.pcm)
        ended(dictating)
        kept.close()
        sha256 = add_sound(encounter, kept.path, keep=True, who=WHO, time=AT)  # and here the power fails
    assert broken_off(encounter) == [folder]
    again = Kept(folder)
    with Dictating(again, saying, drafting) as dictating:
        ended(dictating)
        taken = take_in(encounter, dictating, again, load_lexicon(), settings(tmp_path), who=WHO, time=AT)
    assert list(encounter.facts.recordings) == [sha256]
    assert list(encounter.facts.drafts) == [taken]


def test_where_nobody_spoke_the_sound_is_kept_without_a_draft(encounter: Encounter, tmp_path: Path) -> None:
    import numpy as np

    kept = Kept(begin(encounter, consent=True, who=WHO, time=AT))
    with Dictating(kept, unavailable, drafting) as dictating:
        pushed(dictating, np.zeros(16_000, np.int16))
        ended(dictating)
        assert take_in(encounter, dictating, kept, load_lexicon(), settings(tmp_path), who=WHO, time=AT) is None
    assert len(encounter.facts.recordings) == 1


@pytest.mark.parametrize("end", [withdraw_consent, erase_encounter])
def test_what_is_withdrawn_or_erased_leaves_no_sound_of_a_dictation_going_on(encounter: Encounter, end: object) -> None:
    kept = Kept(begin(encounter, consent=True, who=WHO, time=AT))
    kept.add(sample_part("self_corrections", 0, 1).pcm)
    end(encounter, WHO, AT)  # type: ignore[operator]
    assert not kept.folder.exists()
    kept.close()  # by whoever still holds it open
    assert [*encounter.store.folder.rglob("*.wav")] == []


def kept_sha(encounter: Encounter) -> str:
    (sha256,) = encounter.facts.recordings
    return sha256
