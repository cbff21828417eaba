"""Several examinations in one recording: where they are parted, the file of cuts, the parts' sound, what a person changes."""

from __future__ import annotations

import stat
import wave
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from dictation.errors import AudioError, InputError
from dictation.lexicon.loading import load_lexicon
from dictation.pipeline import draft_text
from dictation.splitting.cutting import MADE, cut_apart
from dictation.splitting.marks import DIGITS, LETTERS, Said, Stretch, examinations, find_marks, propose
from dictation.splitting.splits import left_out_s, read_splits, splits_beside, write_splits
from dictation.terminal.parting import part

LEXICON = load_lexicon()
ROOT = Path(__file__).parents[2]
RESETS = LEXICON.language["reset"]


def _said(text: str) -> list[Said]:
    """Words a second apart, half a second long each."""
    return [Said(word, float(at), at + 0.5) for at, word in enumerate(text.split())]


def _proposed(text: str) -> list[tuple[str, str | None]]:
    """The words of each examination proposed, and its reference."""
    words = _said(text)
    found = propose(words, find_marks(words, RESETS), len(words) + 1.0)
    assert found[0].start_s == 0.0
    assert found[-1].end_s == len(words) + 1.0
    assert all(one.end_s == two.start_s for one, two in pairwise(found))  # nothing lies between
    return [
        (" ".join(w.text for w in words if one.start_s <= w.start_s < one.end_s), one.reference) for one in found
    ]


def test_one_examination_stays_one() -> None:
    text = "Right wrist no swelling extension forty five the patient is well"
    assert _proposed(text) == [(text, None)]
    assert _proposed("Next patient. Right hand normal.") == [("Next patient. Right hand normal.", None)]


def test_next_patient_begins_an_examination_and_an_end_ends_one() -> None:
    assert _proposed("Right wrist tender. Next patient. Left hand normal.") == [
        ("Right wrist tender.", None), ("Next patient. Left hand normal.", None),
    ]  # fmt: skip
    assert _proposed("Right wrist tender. End of examination. Left hand normal. End of examination.") == [
        ("Right wrist tender. End of examination.", None), ("Left hand normal. End of examination.", None),
    ]  # fmt: skip
    assert _proposed("Wrist tender. End of examination. Next patient. Left hand.") == [
        ("Wrist tender. End of examination.", None), ("Next patient. Left hand.", None),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("spoken", "reference"),
    [
        ("reference H two zero four one.", "H2041"), ("reference number hotel dash two oh four one", "H-2041"),
        ("encounter double seven three", "773"), ("Reference H-2041.", "H-2041"), ("reference is A. B. 12 stroke 7", "AB12/7"),
        ("reference x-ray nine nine", "X99"),
    ],
)  # fmt: skip
def test_a_reference_is_spoken_in_digits_and_letters(spoken: str, reference: str) -> None:
    assert _proposed(f"{spoken} Right wrist tender.")[0][1] == reference
    text = f"Next patient. {spoken}"
    assert _proposed(f"Right wrist tender. {text} Left hand normal.")[1][1] == reference


def test_words_before_the_first_statement_are_no_examination() -> None:
    text = "Carpal tunnel clinic, new patient. Right wrist. No swelling."
    assert len(examinations(draft_text(text, lexicon=LEXICON), RESETS)) == 1
    more = f"{text} Next patient. Left wrist. No swelling."
    assert len(examinations(draft_text(more, lexicon=LEXICON), RESETS)) == 2


def test_every_sample_is_one_examination() -> None:
    texts = [path.read_text(encoding="utf-8") for path in sorted((ROOT / "samples").glob("*.txt"))]
    assert len(texts) == 10
    assert {len(examinations(draft_text(text, lexicon=LEXICON), RESETS)) for text in texts} == {1}


@pytest.mark.parametrize("text", ["with reference to the wrist", "for reference two", "I encounter no resistance"])
def test_an_ordinary_reference_is_none(text: str) -> None:
    assert _proposed(text) == [(text, None)]


def test_a_reference_late_in_an_examination_begins_another() -> None:
    first = "Right wrist no swelling no redness no scars extension forty five flexion sixty pronation eighty supination eighty."
    found = _proposed(f"reference one two three. {first} reference four five six. Left hand normal.")
    assert [reference for _, reference in found] == ["123", "456"]
    assert found[1][0] == "reference four five six. Left hand normal."


def test_the_spelling_alphabet_is_whole() -> None:
    assert set(LETTERS.values()) == set("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
    assert all(word[0].upper() == letter for word, letter in LETTERS.items() if word != "aitch")
    assert set(DIGITS.values()) == set("0123456789")


def test_the_examination_after_an_end_takes_nothing_over() -> None:
    """What parts examinations resets the side in extraction too."""
    for words in ("Next patient.", "End of examination."):
        draft = draft_text(f"Right wrist. No swelling. {words} Tenderness over the lunate.", lexicon=LEXICON)
        assert [field.side for field in draft.fields] == ["right", None]
        assert len(examinations(draft, RESETS)) == 2


SPLITS = [Stretch(0.0, 75.25, "H-1"), Stretch(75.25, 100.0), Stretch(110.0, 3700.0, "h/2")]


def test_cuts_are_written_and_read_again(tmp_path: Path) -> None:
    path = splits_beside(tmp_path / "clinic.draft.json")
    assert path == splits_beside(tmp_path / "clinic.wav")
    write_splits(path, SPLITS)
    assert read_splits(path) == SPLITS
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    path.write_text("Start, End,reference\n0,1:15.25,H-1\n1:15.25,1:40\n1:50,1:01:40,h/2\n\n", encoding="utf-8-sig")
    assert read_splits(path) == SPLITS
    assert left_out_s(SPLITS, 3710.0) == 20.0


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        ("", "does not begin"), ("a,b,c\n1,2,3", "does not begin"), ("start,end,reference\n", "names no examination"),
        ("start,end,reference\n0,x,H-1", "Line 2"), ("start,end,reference\n0,10\n\n5,20,H-1", "overlap"),
        ("start,end,reference\n0,10,=1+1", "Line 2"), ("start,end,reference\n10,5,H-1", "ends before it begins"),
        ("start,end,reference\n0,10,H-1\n10,20,h-1", "one reference"), ("start,end,reference\n0,10,a,b", "Line 2"),
        ("start,end,reference\n-5,10,H", "Line 2"), ("start,end,reference\n0,1e9,H", "Line 2"),
        ('start,end,reference\n0,"10', "Cannot read"),
    ],
)  # fmt: skip
def test_cuts_that_cannot_be_used_are_one_sentence(tmp_path: Path, lines: str, says: str) -> None:
    path = tmp_path / "clinic.splits.csv"
    path.write_text(lines, encoding="utf-8")
    with pytest.raises(InputError, match=says):
        read_splits(path)


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    """Four seconds whose samples count up, so that each part shows where it is from."""
    path = tmp_path / "clinic.wav"
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(16_000)
        out.writeframes((np.arange(64_000) // 4).astype("<i2").tobytes())
    return path


def test_each_part_has_the_sound_of_its_stretch_and_no_other(tmp_path: Path, recording: Path) -> None:
    stretches = [Stretch(0.0, 1.5, "H-1"), Stretch(2.0, 4.0)]
    folder = tmp_path / "parts"
    assert cut_apart(recording, stretches, folder) == 0.5
    for name, (start, end) in {"001.wav": (0, 24_000), "002.wav": (32_000, 64_000)}.items():
        with wave.open(str(folder / name), "rb") as part_:
            found = np.frombuffer(part_.readframes(64_000), "<i2")
        assert found.tolist() == (np.arange(start, end) // 4).tolist()
        assert stat.S_IMODE((folder / name).stat().st_mode) == 0o600
    before = {path.name: path.stat().st_mtime_ns for path in folder.iterdir()}
    assert cut_apart(recording, stretches, folder) == 0.5
    assert {path.name: path.stat().st_mtime_ns for path in folder.iterdir()} == before  # the same cuts are made once
    assert cut_apart(recording, [Stretch(0.0, 2.0, "H-1"), Stretch(2.0, 4.0)], folder) == 0.0
    assert (folder / "001.wav").stat().st_mtime_ns != before["001.wav"]


@pytest.mark.slow
def test_what_cannot_be_cut_is_one_sentence_and_leaves_nothing_that_looks_done(tmp_path: Path, recording: Path) -> None:
    with pytest.raises(InputError, match="shorter than its cuts"):
        cut_apart(recording, [Stretch(0.0, 9.0)], tmp_path / "parts")
    recording.write_bytes(b"no sound")
    with pytest.raises(AudioError):
        cut_apart(recording, [Stretch(0.0, 2.0)], tmp_path / "parts")
    assert not (tmp_path / "parts" / MADE).exists()


def _parted(typed: str, stretches: list[Stretch]) -> tuple[list[Stretch] | None, str]:
    lines: list[str] = []
    answers: Iterator[str] = iter(typed.split("; "))
    words = _said("Right wrist tender Next patient Left hand normal")
    found = part(stretches, words, "clinic.wav", lambda prompt: next(answers), lambda line, tone: lines.append(line))
    return found, "\n".join(lines)


def test_cuts_are_shown_with_their_words_and_only_a_confirmation_returns_them() -> None:
    two = [Stretch(0.0, 2.75), Stretch(2.75, 9.0, "H-1")]
    found, shown = _parted("; help; confirm", two)
    assert found == two
    assert "“Right wrist tender”" in shown
    assert "H-1" in shown
    assert _parted("stop", two)[0] is None


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("move 2 0:04.5; confirm", [Stretch(0.0, 4.5), Stretch(4.5, 9.0, "H-1")]),
        ("cut 6; confirm", [Stretch(0.0, 2.75), Stretch(2.75, 6.0, "H-1"), Stretch(6.0, 9.0)]),
        ("join 2; confirm", [Stretch(0.0, 9.0, "H-1")]),
        ("leave 1; confirm", [Stretch(2.75, 9.0, "H-1")]),
        ("name 1 H 7; name 2; confirm", [Stretch(0.0, 2.75, "H 7"), Stretch(2.75, 9.0)]),
    ],
)
def test_every_cut_can_be_changed(typed: str, expected: list[Stretch]) -> None:
    assert _parted(typed, [Stretch(0.0, 2.75), Stretch(2.75, 9.0, "H-1")])[0] == expected


@pytest.mark.parametrize(
    "typed", ["move 3 1", "move 2 9:00", "move 2 x", "cut 99", "join 1", "name 1 h-1", "name 1 <b>", "what"]
)
def test_what_cannot_be_is_said_and_changes_nothing(typed: str) -> None:
    two = [Stretch(0.0, 2.75), Stretch(2.75, 9.0, "H-1")]
    found, shown = _parted(f"{typed}; confirm", two)
    assert found == two
    assert shown.count("clinic.wav: 2 examinations") == 2
