"""Whole terms found where the words around leave a slot for one."""

import pytest

from dictation.checks import check_fields
from dictation.correction.candidates import FARTHEST, Candidates, compile_candidates
from dictation.correction.correct import correct, corrector_for
from dictation.extraction.extract import extract
from dictation.lexicon.loading import load_lexicon
from dictation.phones import PHONES, cost, distances, numbers, weight
from dictation.sounds import Sounds
from dictation.transcript import Transcript, Word

LEXICON = load_lexicon()
SOUNDS = Sounds(LEXICON)


def sounded(heard, truth, changed):
    """Heard words of a second each, the phones of what was truly said in place of the changed ones."""
    words = tuple(Word(word, float(i), i + 1.0) for i, word in enumerate(heard.split()))
    first, end = changed
    phones = []
    for i, word in enumerate(heard.split()):
        if not first <= i < end:
            said = SOUNDS.pronounce(word)[0]
            phones += [Word(p, i + k / len(said), i + (k + 1) / len(said)) for k, p in enumerate(said)]
    said = [p for word in truth.split() for p in SOUNDS.pronounce(word)[0]]
    step = (end - first) / len(said)
    phones += [Word(p, first + k * step, first + (k + 1) * step) for k, p in enumerate(said)]
    return Transcript(words, frozenset({0}), tuple(sorted(phones, key=lambda word: word.start)))


def spoken(text):
    return Transcript(tuple(Word(word) for word in text.split()), frozenset({0}))


def corrected_by_sound(heard):
    return correct(heard, LEXICON, by_second_reading=True)


def text(corrected):
    return " ".join(word.text for word in corrected.corrected)


def test_a_term_misheard_as_many_words_is_found_by_what_was_read_a_second_time():
    heard = sounded("tender over the left try angular fight broke are to lead", "triangular fibrocartilage", (4, 11))
    assert text(corrected_by_sound(heard)) == "tender over the left triangular fibrocartilage"


def test_a_change_keeps_what_was_heard_how_far_off_and_why():
    heard = sounded("there is on a cow my chances on the left", "onychomycosis", (2, 7))
    word = next(word for word in corrected_by_sound(heard).corrected if word.reason)
    assert (word.text, word.from_) == ("onychomycosis", (2, 7))
    assert word.reason == "Sounds like onychomycosis."
    assert 0 < word.distance <= 0.6


def test_a_number_inside_is_never_taken_away():
    heard = sounded("no tenderness over the triangular five bro cartilage", "triangular fibrocartilage", (4, 8))
    assert "five" in text(corrected_by_sound(heard)).split()


def test_an_ordinal_is_written_only_where_it_was_heard():
    heard = sounded("tender over the left for that stance or compartment", "third extensor compartment", (4, 9))
    assert "third" not in text(corrected_by_sound(heard))


def test_a_noise_in_the_second_reading_does_not_hide_its_phones():
    heard = sounded("there is on a cow my chances on the left", "onychomycosis", (2, 7))
    noise = Word("+NSN+", 9.5, 9.9)
    assert text(corrected_by_sound(Transcript(heard.words, heard.breaks, (*heard.second_reading, noise)))) == text(
        corrected_by_sound(heard)
    )


def test_a_doubt_without_a_change_asks_to_be_checked():
    heard = Transcript(tuple(Word(word) for word in "phalen's test positive on the left".split()), frozenset({0}))
    corrected = corrected_by_sound(heard)
    doubted = [corrected.corrected[0].__class__("phalen's", (0, 1), None, None, "finkelstein's"), *corrected.corrected[1:]]
    corrected = corrected.__class__(heard, tuple(doubted))
    (field,) = check_fields(extract(corrected, LEXICON).fields, corrected, LEXICON)
    assert any(flag.level == "check" and "finkelstein's" in flag.message for flag in field.flags)


@pytest.mark.parametrize(
    ("heard", "term"),
    [
        ("there is on excel my cousins on the left", "onychomycosis"),
        ("no tenderness over the flex or premier laura jane", "flexor pronator origin"),
        ("tender over the left flex are palaces longest", "flexor pollicis longus"),
        ("no rheumatoid sunni fighters", "rheumatoid synovitis"),
    ],
)
def test_words_alone_are_enough_where_the_slot_is_plain_and_the_change_asks_to_be_checked(heard, term):
    corrected = correct(spoken(heard), LEXICON)
    assert term in text(corrected)
    fields = check_fields(extract(corrected, LEXICON).fields, corrected, LEXICON)
    assert [flag.level for field in fields for flag in field.flags if flag.code == "term_corrected"][:1] == ["check"]


def test_the_flag_names_the_whole_of_what_was_read():
    corrected = correct(spoken("tender over the left flex are palaces longest"), LEXICON)
    (field,) = check_fields(extract(corrected, LEXICON).fields, corrected, LEXICON)
    messages = [flag.message for flag in field.flags if flag.code == "term_corrected"]
    assert messages == ['Heard as "flex are palaces longest", read as "flexor pollicis longus".']


def test_a_term_that_nearly_stands_in_words_alone_asks_to_be_checked():
    corrected = correct(spoken("narrative sensation is reduced on the left"), LEXICON)
    doubts = {word.runner_up for word in corrected.corrected if word.runner_up and not word.reason}
    (field,) = check_fields(extract(corrected, LEXICON).fields, corrected, LEXICON)
    assert doubts or text(corrected).startswith("neurotip sensation")
    assert any(flag.level == "check" for flag in field.flags)


@pytest.mark.parametrize(
    "said",
    [
        "left a p b power five",
        "tender over the c m c of the thumb",
        "the eggs are two pounds fifty",
        "we left the coast at ten past six",
    ],
)
def test_letters_spelled_and_words_that_sound_like_letters_stay(said):
    assert text(correct(spoken(said), LEXICON)) == said


def test_correcting_what_slots_corrected_changes_nothing():
    once = text(correct(spoken("there is on excel my cousins on the left"), LEXICON))
    assert text(correct(spoken(once), LEXICON)) == once


def test_a_pause_inside_a_corrected_stretch_stands_before_its_first_word():
    heard = Transcript(tuple(Word(word) for word in "tender over the snuff boxx".split()), frozenset({0, 4}))
    from dictation.extraction.tokens import tokenise
    from dictation.transcript import CorrectedTranscript, CorrectedWord

    words = [CorrectedWord(word.said, (i, i + 1)) for i, word in enumerate(heard.words[:3])]
    words += [CorrectedWord(word, (3, 5), "Sounds like it.", 0.1) for word in ("anatomical", "snuffbox")]
    tokens = tokenise(CorrectedTranscript(heard, tuple(words)), {}, frozenset())
    assert [token.text for token in tokens if token.pause] == ["tender", "anatomical"]


@pytest.mark.parametrize("said", ["finkelstein", "carpal tunnel", "onychomycosis"])
def test_the_index_finds_what_sounds_the_same_first(said):
    candidates = corrector_for(LEXICON).slots._candidates
    phones = [phone for word in said.split() for phone in SOUNDS.pronounce(word)[0]]
    distance, number = candidates.near(phones, FARTHEST)[0]
    assert distance == 0
    assert any(tuple(phones) == way for way in candidates.targets[number].said)


def test_an_index_of_nothing_finds_nothing():
    assert Candidates((), compile_candidates(()), 16).near(("T", "EH", "S", "T"), FARTHEST) == ()


def test_many_distances_at_once_are_those_one_by_one():
    import numpy as np

    one = numbers(SOUNDS.pronounce("interosseous")[0])
    others = [numbers(SOUNDS.pronounce(word)[0]) for word in ("interesting", "osseous", "thumb", "interosseous")]
    longest = max(map(len, others))
    padded = np.array([[*other, *[0] * (longest - len(other))] for other in others])
    found = distances(one, padded, np.array([len(other) for other in others]))
    assert found == pytest.approx([cost(one, other) / max(weight(one), weight(other)) for other in others])
    assert len(PHONES) == 39


def test_a_long_lived_process_remembers_only_so_many_words(monkeypatch):
    monkeypatch.setattr("dictation.sounds.REMEMBERED", 50)
    sounds = Sounds(LEXICON)
    for number in range(200):
        sounds.pronounce(f"word{chr(97 + number % 26)}{chr(97 + number // 26)}")
        sounds.known(f"word{chr(97 + number % 26)}{chr(97 + number // 26)}")
    assert len(sounds._cache) <= 50
    assert len(sounds._known) <= 50
