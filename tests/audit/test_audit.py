"""What an audit counts over signed records, and that nothing in it is anybody's."""

from __future__ import annotations

import csv
import io
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import running
from running import Run
from scripted import LEXICON, WHEN, WHO, Script, check, word

from dictation.audit.cases import signed_cases
from dictation.audit.counts import FEWEST, Counts, Table
from dictation.audit.showing import as_csv, bars, write_csv, write_plots
from dictation.lexicon.loading import load_lexicon
from dictation.record import DraftRecord
from dictation.review.opening import open_review
from dictation.review.rules import Review
from dictation.store.facts import Details
from dictation.store.journal import Moment
from dictation.store.store import Store, open_store

run = running.run  # a fixture
SECRET = ("H-2041", "Invented", "pisotriquetral", "a reason nobody may read")


class Misheard(Script):
    """A draft whose words "felons test" were corrected."""

    def draft(self) -> DraftRecord:
        draft = super().draft()
        for word_ in draft.transcript.corrected:
            if word_.text in {"felons", "test"}:
                word_.reason = "sounds like Phalen's test"
        return draft


def _examination(store: Store, number: int, *, purpose: str = "nerve", minutes: int = 10) -> Review:
    """Draft, decide and sign one invented examination: a side amended, a finding rejected, one added by hand."""
    script = Misheard()
    script.say("phalen_test", "felons test positive", side="right", status="positive", flags=[check("term_corrected")])
    script.say("swelling", "no swelling", side="right", status="absent", flags=[check("side_carried")])
    script.say("scar", "no scars", side="right", status="absent")
    script.say("wrist_extension", "extension forty five", side="right", value=45.0, unit="deg", mode="active")
    script.leave("and the um pisotriquetral something")
    reference = f"H-2041-{number}"
    encounter = store.open_encounter(reference, Details(purpose=purpose), WHO, WHEN)
    content = script.draft().model_dump_json().encode()
    sha256 = encounter.take_draft(content, f"{number:064}", "invented.wav", spoken=False, who=WHO, time=WHEN)
    review = open_review(encounter, sha256, LEXICON, word)
    review.confirm("f1", WHO, WHEN)
    if number % 2:
        review.amend("f2", {"side": "left"}, WHO, WHEN)
    else:
        review.confirm("f2", WHO, WHEN)
    review.reject("f3", "a reason nobody may read", WHO, WHEN)
    review.confirm("f4", WHO, WHEN)
    review.clear(0, WHO, WHEN)
    signed = Moment.of(WHEN.local().replace(hour=15, minute=minutes))
    review.sign(WHO, "Hand surgeon", signed, ending=reference[-4:], dictated=None if number < 0 else "2025-03-04 15:00")
    return review


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """A store of ten signed examinations, and one that is not."""
    opened = open_store(tmp_path / "store")
    for number in range(10):
        _examination(opened, number, minutes=number)
    Script().take(opened, "H-unsigned")
    yield opened
    opened.close()


def _tables(store: Store, **keys: str) -> dict[str, Table]:
    counts = Counts(LEXICON)
    for case in signed_cases(store, **keys):
        counts.add(case)
    return {table.name: table for table in counts.tables()}


def test_what_is_left_out_is_counted_by_purpose(store: Store) -> None:
    rows = {row[2]: row for row in _tables(store)["left_out"].rows}
    tinel = LEXICON.concepts["tinel_test"].preferred
    assert rows[tinel] == ("nerve", "special_tests", tinel, 10, 10, 1.0)
    assert LEXICON.concepts["phalen_test"].preferred not in rows  # mentioned every time


def test_corrections_are_counted_of_what_was_drafted(store: Store) -> None:
    rows = {row[:2]: row[2:] for row in _tables(store)["corrections"].rows}
    assert rows[("rejected", LEXICON.concepts["scar"].preferred)] == (10, 10, 1.0)
    assert rows[("side amended", LEXICON.concepts["swelling"].preferred)] == (5, 10, 0.5)
    assert not any("extension" in str(what) for what in rows)  # confirmed every time


def test_a_doubt_is_right_where_the_statement_was_amended_or_rejected(store: Store) -> None:
    rows = {row[0]: row[1:] for row in _tables(store)["doubts"].rows}
    assert rows == {
        "no flag": (10, 20, 0.5), "any flag": (5, 20, 0.25), "term_corrected": (0, 10, 0.0), "side_carried": (5, 10, 0.5),
    }  # fmt: skip


def test_the_time_to_sign_is_that_from_the_dictation_the_signer_stated(store: Store) -> None:
    (row,) = _tables(store)["time_to_sign"].rows
    expected = np.percentile(np.arange(10), [25, 50, 75, 100])  # numpy's own percentiles, of minutes 0 to 9
    assert row[:2] == ("as the signer stated", 10)
    assert list(row[2:]) == pytest.approx(expected, abs=0.06)


def test_a_mishearing_confirmed_again_and_again_is_suggested_once_it_is_not_known(store: Store) -> None:
    counts = Counts(LEXICON)
    for case in signed_cases(store):
        counts.add(case)
    known = {form.casefold() for form in LEXICON.concepts["phalen_test"].misheard}
    found = [(one.heard, one.term, one.seen) for one in counts.suggestions()]
    assert found == ([] if "felons test" in known else [("felons test", "phalen_test", 10)])


def test_nothing_names_a_patient_a_clinician_or_what_was_said_of_one(store: Store, tmp_path: Path) -> None:
    tables = _tables(store)
    write_csv(tmp_path / "csv", list(tables.values()))
    write_plots(tmp_path / "plots.html", list(tables.values()), 10)
    written = "".join(path.read_text(encoding="utf-8-sig") for path in [*(tmp_path / "csv").iterdir(), tmp_path / "plots.html"])
    assert len(written) > 1000
    assert [text for text in SECRET if text in written] == []


def test_no_row_is_about_fewer_than_five_examinations(tmp_path: Path) -> None:
    store = open_store(tmp_path)
    for number in range(FEWEST - 1):
        _examination(store, number)
    for number in range(FEWEST - 1, 2 * FEWEST):
        _examination(store, number, purpose="wound")
    tables = _tables(store, purpose="nerve")
    assert {name: table.rows for name, table in tables.items()} == dict.fromkeys(tables, ())
    assert {row[0] for row in _tables(store)["left_out"].rows} == {"wound"}
    store.close()


def test_what_was_signed_before_a_day_and_what_only_demonstrates_is_left_out(store: Store) -> None:
    assert len(list(signed_cases(store, since="2025-03-05"))) == 0
    assert len(list(signed_cases(store, since="2025-03-04"))) == 10


def test_a_cell_that_a_spreadsheet_would_act_on_is_text() -> None:
    table = Table("t", "T", ("heard", "n"), (("=1+1", 3), ("@x", 4), ("plain", -2)), "")
    rows = list(csv.reader(io.StringIO(as_csv(table).decode("utf-8-sig"))))
    assert rows == [["heard", "n"], ["'=1+1", "3"], ["'@x", "4"], ["plain", "-2"]]


def test_every_bar_is_in_words_too_and_the_picture_is_well_formed(store: Store) -> None:
    table = _tables(store)["doubts"]
    picture = bars(table)
    drawn = ET.fromstring(picture.svg).iter("{http://www.w3.org/2000/svg}rect")
    widths = [float(one.get("width", "0")) for one in drawn if one.get("class") == "bar"]
    shares = [float(row[3]) for row in table.rows]
    assert [width / max(widths) for width in widths] == pytest.approx([share / max(shares) for share in shares], abs=0.01)
    assert "side_carried: 50% (5 of 10)." in picture.alternative_text


def test_the_command_prints_tables_and_takes_into_own_terms_what_a_person_accepts(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    store = open_store(tmp_path / "s")
    for number in range(FEWEST - 1):
        _examination(store, number)
    assert run("--store", "s", "audit") == 0
    assert "That is too few" in capsys.readouterr().out
    for number in range(FEWEST - 1, FEWEST + 2):
        _examination(store, number)
    store.close()
    assert run("--store", "s", "audit", "--csv", "tables", "--plots", "plots.html") == 0
    out = capsys.readouterr().out
    for title in ("Left out of the examination", "Corrections", "Heard in place of a term", "Doubts", "Minutes from the end"):
        assert title in out
    assert len(list((tmp_path / "tables").glob("*.csv"))) == 5
    assert [text for text in SECRET if text in out] == []
    from dictation.audit.counts import Suggestion

    heard = Suggestion("fay lens", "phalen_test", "Phalen's test", 7)
    monkeypatch.setattr(Counts, "suggestions", lambda self: [heard, Suggestion("x ray vision", "scar", "scar", 5)])
    answers = iter(["yes", "no"])
    monkeypatch.setattr("builtins.input", lambda prompt="": next(answers))
    assert run("--store", "s", "audit", "--suggest") == 0
    own = next((tmp_path / "config").rglob("own_terms.yaml"))
    lexicon = load_lexicon(own)
    assert "fay lens" in lexicon.concepts["phalen_test"].misheard
    assert "x ray vision" not in lexicon.concepts["scar"].misheard


@pytest.mark.parametrize("args", [("--since", "yesterday"), ("--purpose", "cosmetic"), ("--plots", "x.png")])
def test_what_was_asked_wrongly_is_one_sentence(run: Run, capsys: pytest.CaptureFixture[str], args: tuple[str, str]) -> None:
    assert run("audit", *args) == 3
    running.one_sentence(capsys.readouterr().err)
