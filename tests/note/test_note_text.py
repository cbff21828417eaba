"""The note: order, sides, marks, times, checksums, cautions; and nothing in it that is not in the signed
record.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scripted import ENDING, LEXICON, SHIPPED, WHEN, WHO, Script, again, decide_all, in_memory, invented_examination

from dictation.errors import RecordError, ReviewError
from dictation.note.document import LENGTHS, Length
from dictation.note.markdown import render_markdown
from dictation.note.options import NoteOptions
from dictation.note.text import WIDTH, render_text
from dictation.review.records import SignedRecord
from dictation.review.rules import Review


def _signed(review: Review, **stated: Any) -> SignedRecord:
    decide_all(review)
    return review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING, **stated)


def _line_numbers(note: str) -> dict[str, int]:
    return {line.strip(): place for place, line in enumerate(note.splitlines())}


def test_a_note_from_top_to_bottom(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    review.reject("f5", "said by the student", WHO, WHEN)
    review.add("radial_pulse", {"side": "right", "status": "normal"}, WHO, WHEN)
    record = _signed(review, examined="2025-03-04 14:00", dictated="2025-03-04 14:10")
    assert render_text(record, LEXICON) == (
        """HAND, WRIST AND ELBOW EXAMINATION

CONTEXT
  Hand dominance: RIGHT.

LOOK
  Mild swelling on the dorsal aspect of the RIGHT wrist.
  No erythema or scar on the RIGHT.

MOVE
  Active wrist extension on the RIGHT: 45°.
  Elbow extension on the LEFT: lacks 20° of extension.

POWER
  Abductor pollicis brevis power on the RIGHT: 4+ out of 5.

CIRCULATION
  Radial pulse normal on the RIGHT (added by hand).

SPECIAL TESTS
  Phalen's test positive on the RIGHT.

IMPRESSION
  Suspected: carpal tunnel syndrome on the RIGHT.

PLAN
  Splint or cast at the LEFT wrist, at night.

Encounter: H-2041
Examined: 2025-03-04 14:00

Dictated: 2025-03-04 14:10
""".replace("\n\nDictated", "\nDictated").rstrip("\n")
        + f"""
Decided by: Dr A. Invented (12)
Statements: 9 confirmed, 1 amended, 1 added by hand, 1 rejected
Signed: Dr A. Invented, Hand surgeon, 2025-03-04 14:30 (UTC+01:00) (named, not
  authenticated)
Recogniser: scripted
Versions: program {record.signature.program_version}, lexicon {LEXICON.version}
Record checksum (SHA-256):
  {record.signature.checksum}
Journal head (SHA-256):
  {record.signature.head}

This note was dictated. A program turned the recording into statements; each statement
here was then confirmed, amended or added by the person named above.

The program makes no diagnosis and gives no advice. It does not compare the note with
the patient. What is not mentioned here was not said: it may have been examined or not.
"""
    )


def test_positives_come_before_negatives_and_right_before_left(tmp_path: Path) -> None:
    script = Script()
    script.say("scar", "no scars", side="left", status="absent")
    script.say("erythema", "red", side="left", status="present")
    script.say("scar", "no scars", side="right", status="absent")
    script.say("swelling", "swollen", side="right", status="present")
    at = _line_numbers(render_text(_signed(script.review(tmp_path)), LEXICON))
    order = [
        "Swelling on the RIGHT.",
        "No scar on the RIGHT.",
        "Erythema on the LEFT.",
        "No scar on the LEFT.",
    ]
    assert [at[line] for line in order] == sorted(at[line] for line in order)


def test_what_is_said_together(tmp_path: Path) -> None:
    script = Script()
    for place in ("lunate", "distal_radius", "anatomical_snuffbox"):
        script.say("tenderness", "not tender", side="right", structure=place, status="absent")
    script.say("tenderness", "not tender", side="left", structure="lunate", status="absent")
    script.say("tenderness", "not tender", side="left", structure="lunate", status="absent", occasion="before block")
    for digit in ("index", "ring", "little"):
        script.say("swelling", "no swelling", side="left", digit=digit, joint="pip", status="absent")
    for digit in ("thumb", "index"):
        script.say("triggering", "no triggering", side="left", digit=digit, status="absent")
    for name in ("scar", "wound", "erythema"):
        script.say(name, "none", side="right", joint="wrist", status="absent")
    script.say("bruising", "bruised", side="right", joint="wrist", status="present")
    for name in ("median_nerve_sensation", "ulnar_nerve_sensation"):
        script.say(name, "normal", side="right", status="normal")
    script.say("radial_nerve_sensation", "not tested", side="right", status="not_assessed")
    note = render_text(_signed(script.review(tmp_path)), LEXICON)
    said = [line.strip() for line in note.split("Encounter")[0].splitlines() if line.startswith("  ")]
    assert said == [
        "Bruising at the RIGHT wrist.",
        "No scar, wound or erythema at the RIGHT wrist.",
        "No swelling at the LEFT index, ring and little finger PIP joints.",
        "No tenderness at the RIGHT lunate, distal radius or anatomical snuffbox.",
        "No tenderness at the LEFT lunate.",
        "No tenderness at the LEFT lunate, before block.",
        "No triggering at the LEFT thumb and index finger.",
        "Radial nerve sensation not assessed on the RIGHT.",
        "Median nerve sensation and ulnar nerve sensation normal on the RIGHT.",
    ]


def test_silence_is_never_printed_as_not_examined(tmp_path: Path) -> None:
    note = render_text(_signed(invented_examination().review(tmp_path)), LEXICON)
    assert "not assessed" not in note
    assert "not examined" not in note
    script = Script()
    script.say("phalen_test", "Phalen not done", side="right", status="not_assessed")
    said = tmp_path / "said"
    said.mkdir()
    assert "Phalen's test not assessed on the RIGHT." in render_text(_signed(script.review(said)), LEXICON)


def test_a_preview_says_it_is_not_signed(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    with pytest.raises(ReviewError):
        review.complete()
    _signed(review)
    preview = render_text(review.complete(), LEXICON)
    assert preview.count("NOT SIGNED") >= 2
    assert "checksum" not in preview
    assert "NOT SIGNED" in render_markdown(review.complete(), LEXICON)


def test_a_demonstration_is_marked_in_every_form_of_its_note(tmp_path: Path) -> None:
    record = _signed(invented_examination().review(tmp_path), demonstration=True)
    for note in (render_text(record, LEXICON), render_markdown(record, LEXICON)):
        assert "no clinician confirmed any of this" in " ".join(note.split())
        assert "Hand surgeon" not in note
        assert "confirmed, amended or added by the person" not in " ".join(note.split())


def test_a_record_changed_after_signing_gives_no_note(tmp_path: Path) -> None:
    record = _signed(invented_examination().review(tmp_path))
    record.complete.decisions[5].field.value = 54.0
    with pytest.raises(RecordError):
        render_text(record, LEXICON)


def test_a_note_with_an_addendum_and_the_one_it_supersedes(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    signed = _signed(review)
    added = review.add_addendum("Seen *again*", "Dr B. Invented", "Registrar", WHEN, ending=ENDING)
    note = render_text(added, LEXICON)
    assert "ADDENDUM 1, 2025-03-04 14:30 (UTC+01:00)\n  Seen *again*. Dr B. Invented, Registrar." in note
    assert "SUPERSEDED" not in note
    assert added.head in note
    assert added.head not in render_text(signed, LEXICON)
    first = render_text(added, LEXICON, NoteOptions(as_signed=True))
    assert first.count("SUPERSEDED on 2025-03-04 14:30 (UTC+01:00) by an addendum") == 2
    assert "again" not in first
    assert r"Seen \*again\*" in render_markdown(added, LEXICON)


@pytest.mark.parametrize("length", LENGTHS)
def test_what_was_entered_in_error_stays_and_is_marked(length: Length, tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    _signed(review)
    added = review.add_addendum("Scar and extension are wrong.", WHO, "Surgeon", WHEN, ending=ENDING, errors=["f4", "f6"])
    note = " ".join(render_text(added, SHIPPED, NoteOptions(length=length)).split())
    mark = "PUT DOWN BY MISTAKE" if length == "patient" else "ENTERED IN ERROR"
    assert note.count(mark) == 2
    assert f"{mark} (addendum 1): No scar on the RIGHT." in note
    assert "erythema or scar" not in note
    assert ("45°" in note) + ("45 degrees" in note) == 1
    again_ = render_text(again(review).signed(), SHIPPED, NoteOptions(length=length))
    assert " ".join(again_.split()) == note
    first = render_text(added, SHIPPED, NoteOptions(length=length, as_signed=True))
    assert mark not in first
    assert first.count("SUPERSEDED") == 2


def test_only_a_statement_of_the_note_can_have_been_entered_in_error(tmp_path: Path) -> None:
    review = invented_examination().review(tmp_path)
    review.reject("f5", "said by the student", WHO, WHEN)
    _signed(review)
    for name in ("f5", "f99"):
        with pytest.raises(ReviewError, match="in error"):
            review.add_addendum("Wrong.", WHO, "Surgeon", WHEN, ending=ENDING, errors=[name])
    assert review.state.addenda == ()


def test_spoken_markup_and_escapes_stay_text(tmp_path: Path) -> None:
    script = Script()
    script.say("scar", "a scar", side="right", status="present", qualifier="# <b>old\x1b[2J</b>\n\n- ![x](http://y)")
    record = _signed(script.review(tmp_path))
    page = render_markdown(record, LEXICON)
    assert "\x1b" not in page + render_text(record, LEXICON)
    assert r"\# \<b\>old\[2J\</b\> - \!\[x\]\(http\://y\)" in page


def test_no_line_ends_between_a_number_and_its_unit() -> None:
    for length in range(60, 90, 2):
        script = Script()
        script.say("grip_strength", "x", side="right", value=18.0, unit="kg", occasion="a" * length)
        script.say("swelling", "x", side="right", status="present", qualifier=f"{'b' * (length - 30)} 18 cm")
        note = render_text(_signed(in_memory(script)), LEXICON)
        assert "18 kg" in note
        assert "18 cm" in note


@settings(deadline=None, max_examples=40)
@given(st.text(max_size=300))
def test_no_line_of_the_text_note_is_wider_than_promised_unless_one_word_is(qualifier: str) -> None:
    script = Script()
    script.say("scar", "a scar", side="right", status="present", qualifier=qualifier)
    note = render_text(_signed(in_memory(script)), LEXICON)
    assert all(len(line) <= WIDTH or len(line.split()) <= 1 for line in note.splitlines())
