"""What the embedded recogniser knows is a pure function of the lexicon, kept safely and used again."""

from __future__ import annotations

import stat
from dataclasses import replace
from pathlib import Path

import pytest
from arpa_for_tests import log_probability, read_arpa

from dictation.lexicon import compiled, vocabulary
from dictation.lexicon.entries import Lexicon
from dictation.lexicon.loading import load_lexicon
from dictation.lexicon.spelling import recogniser_words
from dictation.lexicon.vocabulary import Stock, compile_vocabulary, compiled_texts, given_pronunciations, pronunciations
from dictation.sounds import Sounds

STOCK = Stock({"dip": ("D IH P",), "no": ("N OW",), "house": ("HH AW S",)}, lambda: ({"house": 0.4, "no": 0.6}, {}))


@pytest.fixture(scope="module")
def small() -> Lexicon:
    """A few entries of the shipped lexicon, so that compiling takes no time."""
    whole = load_lexicon()
    concepts = {id_: whole.concepts[id_] for id_ in ("swelling", "tinel_test")}
    return replace(
        whole, concepts=concepts, joints={"mcp": whole.joints["mcp"]}, structures={}, language={},
        phrases=("no {finding}",), conversation=("I am at the house.",), dictations=("There is no house.",),
        checksum="small",
    )  # fmt: skip


def entries(dictionary: str) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for line in dictionary.splitlines():
        word, _, phones = line.partition(" ")
        found.setdefault(word.split("(")[0], []).append(phones)
    return found


def test_every_word_of_the_lexicon_can_be_said() -> None:
    lexicon = replace(load_lexicon(), phrases=("no {finding}",), dictations=())
    known = entries(compiled_texts(lexicon, Sounds(lexicon).pronounce, STOCK)[0])
    words = {w for term in lexicon.terms() for form in term.spoken for w in recogniser_words(form.text)}
    assert len(words) > 1000
    assert words - known.keys() == set()
    phones = {p for said in known.values() for way in said for p in way.split()}
    assert len(phones) == 39  # ARPABET without stress, as the acoustic model has them
    assert known["MCP"] == ["EH M S IY P IY"]
    assert "P IH P" in known["PIP"]


def said(word: str, lexicon: Lexicon) -> tuple[str, ...]:
    return pronunciations(word, given_pronunciations(lexicon), STOCK.pronunciations, Sounds(lexicon).pronounce)


def test_words_and_abbreviations_of_the_same_letters_are_told_apart(small: Lexicon) -> None:
    assert said("dip", small) == ("D IH P",)
    assert said("DIP", small)[0] == "D IY AY P IY"
    assert said("IF", small) == ("AY EH F",)
    assert said("MCPs", small) == ("EH M S IY P IY Z",)


def test_an_entrys_own_pronunciation_comes_before_the_stock_dictionarys(small: Lexicon) -> None:
    mine = replace(small.concepts["swelling"], pronunciations={"house": ("HH UW S",)})
    assert said("house", small) == ("HH AW S",)
    assert said("house", replace(small, concepts={"swelling": mine})) == ("HH UW S",)


def test_kept_for_the_owner_alone_and_used_again(small: Lexicon, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "cache"
    first = compile_vocabulary(small, Sounds(small).pronounce, STOCK, folder)
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert stat.S_IMODE(first.model.parent.stat().st_mode) == 0o700
    assert [p.name for p in folder.iterdir()] == [first.model.parent.name]  # nothing half-made is left
    monkeypatch.setattr(vocabulary, "compiled_texts", lambda *_: pytest.fail("compiled again"))
    assert compile_vocabulary(small, Sounds(small).pronounce, STOCK, folder) == first


def test_another_lexicon_is_another_vocabulary_and_old_ones_go(small: Lexicon, tmp_path: Path) -> None:
    pronounce = Sounds(small).pronounce
    places = [
        compile_vocabulary(replace(small, checksum=f"change {i}"), pronounce, STOCK, tmp_path).model.parent for i in range(5)
    ]
    assert len(set(places)) == 5
    assert sum(place.is_dir() for place in places) == compiled.KEPT
    assert places[-1].is_dir()


def test_a_clinics_own_file_is_part_of_the_key(small: Lexicon, tmp_path: Path) -> None:
    pronounce = Sounds(small).pronounce
    own = compile_vocabulary(replace(small, personal_sha256="abc"), pronounce, STOCK, tmp_path)
    assert own != compile_vocabulary(small, pronounce, STOCK, tmp_path)


def test_a_failed_compile_leaves_nothing(small: Lexicon, tmp_path: Path) -> None:
    def fails(_word: str) -> list[list[str]]:
        raise RuntimeError("broken")

    with pytest.raises(RuntimeError):
        compile_vocabulary(replace(small, pronunciations={}), fails, STOCK, tmp_path / "cache")
    assert not (tmp_path / "cache").exists()


def test_a_folder_that_cannot_be_written_is_done_without(small: Lexicon, tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("not a folder")
    made = compile_vocabulary(small, Sounds(small).pronounce, STOCK, blocked)
    assert made.model.is_file()
    assert tmp_path not in made.model.parents


def test_without_talk_or_everyday_words_it_still_compiles(small: Lexicon) -> None:
    bare = Stock({}, lambda: ({}, {}))
    _, model = compiled_texts(replace(small, conversation=(), dictations=()), Sounds(small).pronounce, bare)
    assert "\\3-grams:" in model


@pytest.mark.parametrize(("share", "sentence"), [("TALK_WEIGHT", "i am at the house"), ("EVERYDAY_WEIGHT", "house house")])
def test_talk_is_likelier_for_the_share_it_has(
    small: Lexicon, monkeypatch: pytest.MonkeyPatch, share: str, sentence: str
) -> None:
    def likely() -> float:
        stock = replace(STOCK, everyday=lambda: ({"house": 0.9, "no": 0.1}, {"house": {"house": 0.9}}))
        return log_probability(read_arpa(compiled_texts(small, Sounds(small).pronounce, stock)[1]), sentence)

    before = likely()
    monkeypatch.setattr(vocabulary, share, 0.0)
    assert before > likely() + 0.5


def test_a_sentence_of_clinic_talk_is_likelier_for_the_talk_in_the_model(monkeypatch: pytest.MonkeyPatch) -> None:
    from dictation.recognition.stock import stock

    lexicon, own = load_lexicon(), stock()

    def likely() -> float:
        table = read_arpa(compiled_texts(lexicon, Sounds(lexicon).pronounce, own)[1])
        return log_probability(table, "did you manage to park")

    before = likely()
    monkeypatch.setattr(vocabulary, "TALK_WEIGHT", 0.0)
    assert before > likely() + 5
