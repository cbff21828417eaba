"""Templates of a clinic's own: they arrange, they lose nothing and change nothing, and a broken one says where."""

from __future__ import annotations

from pathlib import Path

import pytest
from scripted import ENDING, LEXICON, WHEN, Script, decide_all, invented_examination

from dictation.errors import TemplateError
from dictation.note.document import LENGTHS, fields_of
from dictation.note.options import NoteOptions
from dictation.note.templating import LEFT_OUT, SHIPPED, note_document
from dictation.note.text import render_text
from dictation.review.records import SignedRecord


@pytest.fixture
def record(tmp_path: Path) -> SignedRecord:
    review = invented_examination().review(tmp_path)
    decide_all(review)
    review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING, examined="2025-03-04 14:00")
    return review.add_addendum("Seen again.", "Dr B. Invented", "Registrar", WHEN, ending=ENDING)


def _own(folder: Path, text: str, name: str = "full.jinja") -> NoteOptions:
    own = folder / "own"
    own.mkdir(exist_ok=True)
    (own / name).write_text(text, encoding="utf-8")
    return NoteOptions(templates=own)


def test_each_length_has_its_template_and_no_other_is_shipped() -> None:
    assert {path.name for path in SHIPPED.iterdir()} == {f"{length}.jinja" for length in LENGTHS}


def test_a_clinic_arranges_its_note(record: SignedRecord, tmp_path: Path) -> None:
    options = _own(
        tmp_path,
        "= The Hand Clinic of Nowhere\n"
        "Seen {{ examined }} by {{ signer }}.\n"
        "{% for part in parts|reverse %}\n# {{ part.heading|upper }}\n{% for line in part.lines %}\n- {{ line }}\n"
        "{% endfor %}\n{{ part.table }}\n{% endfor %}\n{{ facts }}\n",
    )
    note = render_text(record, LEXICON, options)
    assert note.startswith("THE HAND CLINIC OF NOWHERE\n\nSeen 2025-03-04 14:00 by Dr A. Invented.\n\nPLAN\n  Splint")
    assert note.index("IMPRESSION") < note.index("LOOK")
    assert note.count("No erythema or scar on the RIGHT.") == 1


def test_a_template_that_leaves_things_out_loses_nothing(record: SignedRecord, tmp_path: Path) -> None:
    note = render_text(record, LEXICON, _own(tmp_path, "{{ part_of.plan.lines|first }}"))
    end = note.index(LEFT_OUT.upper())
    assert note.count("Splint or cast at the LEFT wrist, at night.") == 1
    for decision in record.complete.kept:
        assert f"{decision.sentence}." in note
    assert note.index("Seen again. Dr B. Invented") > end
    assert record.head in note
    assert "makes no diagnosis" in note
    document = note_document(record, LEXICON, _own(tmp_path, ""))
    assert fields_of(document) == {decision.field.id for decision in record.complete.kept}
    assert document.title == "Hand, wrist and elbow examination"


def test_a_template_cannot_change_a_statement(record: SignedRecord, tmp_path: Path) -> None:
    options = _own(
        tmp_path,
        "{% for line in parts[1].lines %}\n- {{ line|replace('No', 'Some')|lower|trim|truncate(3) }}\n{% endfor %}\n",
    )
    note = render_text(record, LEXICON, options)
    assert "No erythema" in note
    assert "Some" not in note


def test_what_was_spoken_is_no_markup_of_a_template(tmp_path: Path) -> None:
    script = Script()
    script.say("occupation", "x", qualifier="{{ facts }} {% for %}\n# A heading\n- an item")
    review = script.review(tmp_path)
    decide_all(review)
    record = review.sign("= Dr {{ 7*7 }} Invented", "# Surgeon", WHEN, ending=ENDING)
    note = render_text(record, LEXICON, _own(tmp_path, "{{ signer }}\n\n{{ role }}\n\n{{ parts[0].lines|first }}"))
    assert note.startswith(
        "HAND, WRIST AND ELBOW EXAMINATION\n\n= Dr {{ 7*7 }} Invented\n\n# Surgeon\n\n"
        "Occupation: {{ facts }} {% for %} # A heading - an item."
    )


BROKEN = [
    ("= A\n{% for part in parts %}\n{{ part.heading }}\n", 3, "end of template"),
    ("= A\n\n{{ patients.name }}\n", 3, "'patients' is undefined"),
    ("= A\n{{ signer.nothing }}\n", 2, "nothing"),
    ("{{ 1 / 0 }}\n", 1, "ZeroDivisionError"),
    ("= A\n{{ ''.__class__.__mro__ }}\n", 2, "unsafe"),
    ("= A\n{% for n in range(10000000) %}{% endfor %}\n", 2, "OverflowError"),
    ("= A\n\n{% include 'foot.jinja' %}\n", 3, "foot.jinja"),
    ("{{ signer|nofilter }}\n", 1, "nofilter"),
]


@pytest.mark.parametrize(("text", "line", "problem"), BROKEN)
def test_a_broken_template_names_its_file_and_line(
    record: SignedRecord, tmp_path: Path, text: str, line: int, problem: str
) -> None:
    options = _own(tmp_path, text)
    with pytest.raises(TemplateError) as caught:
        render_text(record, LEXICON, options)
    said = str(caught.value)
    assert f"full.jinja, line {line}: " in said
    assert problem in said
    assert "Invented" not in said  # nothing of the record
    assert render_text(record, LEXICON)  # which is as it was
    assert caught.value.exit_code == 3


def test_a_template_that_is_no_text_and_a_folder_that_is_not_there(record: SignedRecord, tmp_path: Path) -> None:
    options = _own(tmp_path, "")
    (tmp_path / "own" / "full.jinja").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(TemplateError, match=r"full\.jinja: it is not UTF-8"):
        render_text(record, LEXICON, options)
    with pytest.raises(TemplateError, match="templates_folder"):
        render_text(record, LEXICON, NoteOptions(templates=tmp_path / "nowhere"))
