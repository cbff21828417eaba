"""Pronunciations and the distance between them."""

import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictation.letters import sound_out
from dictation.lexicon.loading import load_lexicon
from dictation.phones import PHONES
from dictation.sounds import Sounds, bare, stock_dictionary

SOUNDS = Sounds(load_lexicon())
phone_strings = st.lists(st.sampled_from(PHONES), max_size=12).map(tuple)


def say(words):
    return tuple(phone for word in words.split() for phone in SOUNDS.pronounce(word)[0])


@pytest.mark.parametrize(
    ("word", "said"),
    [
        ("Phalen's", "F EY L AH N Z"),  # lexicon, possessive by rule
        ("Tinel’s,", "T IH N EH L Z"),  # curly apostrophe, punctuation
        ("thumb", "TH AH M"),  # stock dictionary
        ("snuffboxes", "S N AH F B AA K S IH Z"),  # letters
        ("m2pd", "EH M T UW P IY D IY"),  # letter by letter
        ("MCPs", "EH M S IY P IY Z"),
    ],
)
def test_pronounce(word, said):
    assert tuple(said.split()) in SOUNDS.pronounce(word)


def test_words_without_sound():
    assert SOUNDS.pronounce("—") == ()
    assert SOUNDS.pronounce("") == ()


def test_every_word_of_the_lexicon_can_be_said_in_the_recognisers_phones():
    for term in load_lexicon().terms():
        for form in term.spoken:
            for word in form.text.split():
                if bare(word):
                    ways = SOUNDS.pronounce(word)
                    assert ways, word
                    assert all(way and set(way) <= set(PHONES) for way in ways), word


def test_stock_dictionary_agrees_with_a_plain_reading_of_the_file():
    lines = stock_dictionary().read_text(encoding="utf-8").splitlines()
    for line in lines[:: len(lines) // 50]:
        word, _, said = line.partition(" ")
        word = word.partition("(")[0]
        if word not in SOUNDS._own and word not in SOUNDS._spelled and bare(word) == word:
            assert tuple(said.split()) in SOUNDS.pronounce(word)


def test_the_decoder_is_not_imported():
    code = (
        "import sys; from dictation.lexicon.loading import load_lexicon; "
        "from dictation.sounds import Sounds; "
        "Sounds(load_lexicon()).pronounce('thumb'); sys.exit('pocketsphinx' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_letter_to_sound_is_as_good_as_its_docstring_says():
    """Against the CMU Pronouncing Dictionary; the table has seen these words: a floor, not a figure."""
    words, right = 0, 0
    for line in stock_dictionary().read_text(encoding="utf-8").splitlines()[::40]:
        word, _, said = line.partition(" ")
        if word.isalpha():
            words += 1
            right += sound_out(word) == tuple(said.split())
    assert right / words > 0.5


@pytest.mark.parametrize(
    ("heard", "meant", "most"),
    [
        ("felons", "phalen's", 0.1),
        ("had burdens", "heberden's", 0.15),
        ("radio aviation", "radial deviation", 0.25),
        ("boot on ear", "boutonniere", 0.25),
        ("high poth enar", "hypothenar", 0.2),
    ],
)
def test_near_sounds_are_near(heard, meant, most):
    assert SOUNDS.distance(say(heard), say(meant)) <= most


def test_unlike_sounds_are_far():
    assert SOUNDS.distance(say("can do for you"), say("no radial")) > 0.5
    assert SOUNDS.distance(("P", "IH", "N"), ("B", "IH", "N")) < SOUNDS.distance(("P", "IH", "N"), ("W", "IH", "N"))


@given(phone_strings, phone_strings)
def test_distance_is_symmetric_and_bounded(a, b):
    distance = SOUNDS.distance(a, b)
    assert 0 <= distance <= 1
    assert distance == pytest.approx(SOUNDS.distance(b, a))
    assert SOUNDS.distance(a, a) == 0


@given(phone_strings, phone_strings)
def test_alignment_names_every_phone_once_and_in_order(a, b):
    pairs = SOUNDS.align(a, b)
    assert [i for i, _ in pairs if i is not None] == list(range(len(a)))
    assert [j for _, j in pairs if j is not None] == list(range(len(b)))


def test_unknown_phone_is_refused():
    with pytest.raises(KeyError):
        SOUNDS.distance(("QQ",), ("AH",))
