"""What is compiled is kept by content, safely, and only ever saves time."""

from __future__ import annotations

import os
import stat
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from dictation.completeness.not_mentioned import complete_examination
from dictation.correction.correct import compile_corrections, correct
from dictation.extraction.matching import compile_patterns
from dictation.lexicon import compiled
from dictation.lexicon.bias import bias_words, rank_bias_words
from dictation.lexicon.checking import PHONES
from dictation.lexicon.compiled import content_key, kept_files, kept_text
from dictation.lexicon.loading import _checked, _raise, load_lexicon
from dictation.lexicon.packing import pack, unpack
from dictation.lexicon.shipped import lexicon_folder, read_shipped
from dictation.note.wording import note_wording
from dictation.phones import PHONES as SOUNDED
from dictation.pipeline import draft_text
from dictation.settings import Settings
from dictation.sounds import Sounds
from dictation.transcript import read_text

KEY = content_key("lexicon", None)


def never() -> str:
    raise AssertionError("compiled again")


@pytest.fixture
def forgotten(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """Forget what is in memory, as a new process would not know it."""

    def forget() -> None:
        from collections import OrderedDict

        from dictation.lexicon import loading

        monkeypatch.setattr(compiled, "_memory", OrderedDict())
        loading._loaded.cache_clear()

    forget()
    return forget


def test_a_text_is_made_once_and_for_its_owner_alone(tmp_path: Path) -> None:
    cache = tmp_path / "cache"
    assert kept_text(cache, KEY, "use", lambda: "naïve\ntext") == "naïve\ntext"
    assert kept_text(cache, KEY, "use", never) == "naïve\ntext"
    (folder,) = cache.iterdir()
    (file,) = folder.iterdir()
    assert [stat.S_IMODE(p.stat().st_mode) for p in (cache, folder, file)] == [0o700, 0o700, 0o600]


@pytest.mark.parametrize("damage", [b"", b"x", b"0" * 64 + b"\nother text", None])
def test_a_damaged_file_is_compiled_again(tmp_path: Path, damage: bytes | None) -> None:
    kept_text(tmp_path / "c", KEY, "use", lambda: "text")
    file = tmp_path / "c" / f"compiled-{KEY}" / "use"
    file.write_bytes(file.read_bytes()[:-1] + b"?" if damage is None else damage)
    assert kept_text(tmp_path / "c", KEY, "use", lambda: "text") == "text"
    assert kept_text(tmp_path / "c", KEY, "use", never) == "text"


def test_a_damaged_model_is_compiled_again(tmp_path: Path) -> None:
    first = kept_files(tmp_path / "c", KEY, "vocabulary", lambda: {"words": "a b", "model": "c d"})
    first["model"].write_text("c")
    again = kept_files(tmp_path / "c", KEY, "vocabulary", lambda: {"words": "a b", "model": "c d"})
    assert again["model"].read_text() == "c d"
    assert kept_files(tmp_path / "c", KEY, "vocabulary", lambda: {}) == again


@pytest.mark.parametrize("mode", [0o500, 0o777])
def test_a_folder_that_cannot_be_written_or_that_others_can_write_is_done_without(tmp_path: Path, mode: int) -> None:
    cache = tmp_path / "cache"
    cache.mkdir()
    cache.chmod(mode)
    try:
        if mode == 0o500 and os.access(cache, os.W_OK):
            cache.chmod(0o700)
            cache.rmdir()
            cache.write_text("a file in its place")  # the tests' user may write anywhere
        assert kept_text(cache, KEY, "use", lambda: "text") == "text"
        files = kept_files(cache, KEY, "vocabulary", lambda: {"words": "a b"})
        assert files["words"].read_text() == "a b"
        assert cache not in files["words"].parents
        assert not cache.is_dir() or list(cache.iterdir()) == []
    finally:
        cache.chmod(0o700)


def test_the_key_is_of_the_lexicon_the_clinics_own_and_the_program(monkeypatch: pytest.MonkeyPatch) -> None:
    keys = {content_key("a", None), content_key("b", None), content_key("a", "own")}
    monkeypatch.setattr(compiled, "_program", lambda: "another version of the code")
    keys.add(content_key("a", None))
    assert len(keys) == 4


def test_those_used_last_are_kept(tmp_path: Path) -> None:
    for n in range(compiled.KEPT + 2):
        key = content_key(f"lexicon {n}", None)
        kept_text(tmp_path / "c", key, "use", lambda: "text")
        os.utime(tmp_path / "c" / f"compiled-{key}", (n, n))
    assert len(list((tmp_path / "c").iterdir())) == compiled.KEPT
    assert (tmp_path / "c" / f"compiled-{key}").is_dir()


def test_a_lexicon_comes_back_as_it_was() -> None:
    shipped = read_shipped(lexicon_folder())
    read = _checked(shipped, None, _raise)
    again = unpack(pack(read), None, shipped.conversation, shipped.dictations)
    assert again == read
    assert all(term.spoken == twin.spoken for term, twin in zip(read.terms(), again.terms(), strict=True))
    changed = replace(read.concepts["swelling"], spoken=read.concepts["swelling"].spoken[1:])
    assert again.concepts["swelling"] != changed


def test_every_use_is_a_pure_function_of_the_lexicon() -> None:
    lexicon = load_lexicon()
    twin = unpack(pack(lexicon), None, lexicon.conversation, lexicon.dictations)
    assert compile_corrections(lexicon, Sounds(lexicon)) == compile_corrections(twin, Sounds(twin))
    assert compile_patterns(lexicon) == compile_patterns(twin)
    assert rank_bias_words(lexicon) == rank_bias_words(twin) == bias_words(lexicon)
    assert note_wording(lexicon) == note_wording(twin)
    assert complete_examination(lexicon) == complete_examination(twin)
    assert len(note_wording(lexicon)) == len(lexicon.concepts)
    assert len(complete_examination(lexicon)) > 10


def test_a_draft_is_the_same_cold_cached_and_without_a_cache(tmp_path: Path, forgotten: Callable[[], None]) -> None:
    text = "Right wrist. No swelling. Felons test positive. Wrist extension sixty degrees."
    drafts = []
    for cache in (tmp_path / "cache", tmp_path / "cache", Path(os.devnull)):
        settings = Settings(data_folder=tmp_path, store_folder=tmp_path / "store", cache_folder=cache)
        drafts.append(draft_text(text, settings=settings).model_dump())
        forgotten()
    assert drafts[0] == drafts[1] == drafts[2]
    assert [f["concept"] for f in drafts[0]["fields"]] == ["swelling", "phalen_test", "wrist_extension"]
    kept = {file.name for file in (tmp_path / "cache").glob("compiled-*/*")}
    assert kept == {"lexicon", "abbreviations", "corrections", "patterns"}


def test_two_lexicons_in_one_process_are_kept_apart() -> None:
    lexicon = load_lexicon()
    without = {name: c for name, c in lexicon.concepts.items() if name != "phalen_test"}
    other = replace(lexicon, concepts=without, checksum="without Phalen")
    heard = read_text("felons test positive")
    words = [" ".join(w.text for w in correct(heard, one).corrected) for one in (lexicon, other, lexicon)]
    assert words == ["phalen's test positive", words[1], "phalen's test positive"]
    assert words[1] != words[0]


def test_phones_are_the_same_wherever_they_are_listed() -> None:
    assert frozenset(SOUNDED) == PHONES
