"""A live dictation and its encounter: begun with consent, found again after a crash, and taken into the store.

While it goes on its files lie in the store's folder, apart from what the store knows: a recording has a checksum only once it
is whole. Taking it in may be broken off and done again: each step is one that finds itself done. Imports kept, store, pipeline
(when it drafts), errors and writing.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from dictation.errors import AudioError, InputError
from dictation.live.kept import Kept
from dictation.store.facts import DETAILED, MARKED
from dictation.store.journal import Moment, Step
from dictation.store.sound import LIVE, add_sound
from dictation.writing import remove_folder

if TYPE_CHECKING:
    from dictation.lexicon.entries import Lexicon
    from dictation.live.dictating import Dictating, Now
    from dictation.record import DraftRecord
    from dictation.settings import Settings
    from dictation.store.store import Encounter


def begin(encounter: Encounter, *, consent: bool, who: str, time: Moment) -> Path:
    """Journal the consent to recording, and return the folder for a new dictation of the encounter.

    Raises InputError where consent was not given, now or before, or where a dictation of it is not ended yet.
    """
    stated = encounter.facts.details.consent
    if not consent or stated in {"refused", "withdrawn"}:
        raise InputError("Nothing is recorded without consent to recording; ask for it, and state it of the encounter.")
    if broken_off(encounter):
        raise InputError("A dictation of this encounter is not ended yet; go on with that one, or end it.")
    if stated != "given":
        step = Step(DETAILED, before={"consent": stated}, after={"consent": "given"})
        encounter.append([step], who, time)
    return _folder(encounter) / f"dictated {datetime.fromisoformat(time.at):%Y-%m-%d %H.%M.%S}"


def broken_off(encounter: Encounter) -> list[Path]:
    """Return the folders of dictations that were begun and are not in the store yet, in their order."""
    folder = _folder(encounter)
    return sorted(one for one in folder.iterdir() if one.is_dir()) if folder.is_dir() else []


def dictate(
    folder: Path, lexicon: Lexicon, settings: Settings, changed: Callable[[Now], None] | None = None
) -> tuple[Dictating, Kept]:
    """Begin the dictation of a folder, or take it up, with the recogniser of the settings. changed: see Dictating."""
    from dictation.live.dictating import Dictating
    from dictation.pipeline import draft_so_far
    from dictation.recognition.choose import choose_recogniser

    make = partial(
        choose_recogniser, settings.recogniser, lexicon, whisper_model=settings.whisper_model,  # type: ignore[arg-type]
        cache_dir=settings.cache_folder, second_reading=settings.second_reading == "on",
    )  # fmt: skip
    kept = Kept(folder)
    name = kept.path.name
    return Dictating(kept, make, lambda heard, s, by: draft_so_far(heard, name, s, by, lexicon), changed), kept


def take_in(
    encounter: Encounter, dictating: Dictating, kept: Kept, lexicon: Lexicon, settings: Settings, *, who: str, time: Moment
) -> str | None:
    """Take an ended dictation into the store, sound first, and return the checksum of its draft.

    The draft is of the words heard live, or drafted from the sound where the recogniser did not read all of it. None where
    nobody spoke: the sound is in the encounter all the same. Raises OutputError, StoreError, RecogniserUnavailable, with all
    of it still there.
    """
    kept.close()
    sha256 = add_sound(encounter, kept.path, keep=True, who=who, time=time)
    marked = [mark.at for mark in kept.marks() if mark.what == "marked"]
    if marked and not encounter.facts.recordings[sha256].marked:
        encounter.append([Step(MARKED, after={"sha256": sha256, "moments": marked})], who, time)
    draft = _draft(dictating, kept, lexicon, settings)
    taken = None
    if draft is not None:
        content = (draft.model_dump_json(indent=1) + "\n").encode()
        taken = encounter.take_draft(content, sha256, kept.path.name, spoken=True, who=who, time=time)
    remove_folder(kept.folder)
    return taken


def _draft(dictating: Dictating, kept: Kept, lexicon: Lexicon, settings: Settings) -> DraftRecord | None:
    from dictation.audio import read_audio
    from dictation.pipeline import draft_audio, draft_heard

    if not dictating.all_read:
        try:
            return draft_audio(kept.path, recogniser=settings.recogniser, settings=settings, lexicon=lexicon)
        except AudioError:  # nobody speaks in it
            return None
    if not dictating.segments() or dictating.recogniser is None:
        return None
    samples = read_audio(kept.path)
    heard, spoken = dictating.transcript(), dictating.segments()
    return draft_heard(heard, kept.path.name, samples, spoken, dictating.recogniser, lexicon)


def _folder(encounter: Encounter) -> Path:
    return encounter.store.folder / LIVE / encounter.id
