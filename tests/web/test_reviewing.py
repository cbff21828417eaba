"""The routes of a review: each form one step of the rules, and nothing that the rules do not allow."""

from __future__ import annotations

import io
import re
import zipfile
from pathlib import Path

import pytest
from opened import OWN, Opened, opened
from scripted import ENDING, WHEN, WHO, Script, check, decide_all, info, invented_examination

from dictation.exports.formats import FORMATS
from dictation.lexicon.loading import load_lexicon
from dictation.note.options import NoteOptions
from dictation.web.sitting import MOST_OPEN


@pytest.fixture(scope="module")
def untouched(tmp_path_factory: pytest.TempPathFactory) -> Opened:
    """The page, let in, for tests that write nothing."""
    return opened(tmp_path_factory.mktemp("untouched"))


@pytest.fixture
def page(tmp_path: Path) -> Opened:
    """The page over an invented examination."""
    return opened(tmp_path)


def _grouped() -> Script:
    script = Script()
    for concept in ("erythema", "scar", "deformity"):
        script.say(concept, f"no {concept}", side="right", status="absent")
    script.say("swelling", "swelling", side="right", status="present")
    return script


def test_doubtful_statements_come_first_then_the_examination_s_order(untouched: Opened) -> None:
    def order(query: str) -> list[str]:
        return re.findall(r'<article id="field-(f\d+)"', untouched.page(query))

    assert order("")[:2] == ["f9", "f11"]  # the two with a doubt
    assert order("?order=examination") == ["f1", "f2", "f3", "f4", "f5", "f6", "f7", "f8", "f9", "f10", "f11"]
    assert untouched.page("").index("Check first") < untouched.page("").index("Context</h2>")


def test_a_statement_shows_its_doubt_its_words_as_heard_and_the_transcript_its_correction(untouched: Opened) -> None:
    text = untouched.page()
    assert "“felons test” was read as “Phalen&#39;s test”." in text
    assert "<mark>felons test positive</mark>" in text
    assert re.search(r'<a href="#field-f9" tabindex="-1" id="w\d+">felons</a>', text)


def test_what_was_spoken_stands_in_the_page_as_text(tmp_path: Path) -> None:
    script = Script()
    script.say("swelling", "<script>alert(1)</script> \x1b[2K\u202e swelling", side="right", status="present")
    script.leave('"><img src=x onerror=alert(1)>', reason="<b>why</b>")
    text = opened(tmp_path, script).page()
    assert "<script>alert" not in text
    assert "<img src=x" not in text
    assert "<b>why" not in text
    assert "\x1b" not in text
    assert "\u202e" not in text


def test_confirming_writes_one_decision_in_the_reviewer_s_name_and_answers_with_what_changed(page: Opened) -> None:
    status, answer = page.decide("confirm", field="f2")
    assert status == 200
    decision = page.again().state.fields["f2"]
    assert (decision.state, decision.who) == ("confirmed", WHO)
    assert set(answer["pieces"]) == {"progress", "field-f2"}
    assert "Confirmed by Dr A. Invented" in answer["pieces"]["field-f2"]
    assert answer["version"] == page.version


def test_a_page_that_is_older_than_the_review_changes_nothing_and_is_told_what_it_missed(page: Opened) -> None:
    stale = page.version
    page.decide("confirm", field="f2")
    status, answer = page.decide("reject", field="f2", reason="misheard", version=stale)
    assert status == 409
    assert page.again().state.fields["f2"].state == "confirmed"
    assert len(answer["meanwhile"]) == 1
    assert "Mild swelling" in answer["meanwhile"][0]
    assert answer["pieces"]["field-f2"]


def test_what_a_terminal_decides_meanwhile_is_taken_up(page: Opened) -> None:
    version = page.version
    page.review.confirm("f2", "Dr B. Invented", WHEN)
    status, answer = page.decide("confirm", field="f3", version=version)
    assert status == 409
    assert "Dr B. Invented" in answer["meanwhile"][0]
    changes = page.client.get(f"{page.base}/changes?since={version}", headers=OWN).json()
    assert set(changes["pieces"]) == {"progress", "field-f2"}
    assert page.decide("confirm", field="f3")[0] == 200


def test_a_version_of_before_a_restart_is_loaded_anew(untouched: Opened) -> None:
    assert untouched.client.get(f"{untouched.base}/changes?since=0", headers=OWN).json()["pieces"] is None


@pytest.mark.parametrize(
    ("what", "values", "why"),
    [
        ("confirm", {"field": "f11"}, "side"),
        ("confirm", {"field": "nothing"}, "no such field"),
        ("confirm", {}, "no such statement"),
        ("reject", {"field": "f2", "reason": " "}, "reason"),
        ("clear", {"speech": "7"}, "not waiting"),
        ("clear", {"speech": "x"}, "load it anew"),
        ("run", {"run": "0", "side": "right"}, "not waiting"),
        ("caution", {"name": "x", "answer": "acting"}, "not waiting"),
        ("undo", {}, "no decision"),
        ("amend", {"field": "f6", "number": "many"}, "number"),
        ("amend", {"field": "f6"}, "already"),
        ("amend", {"field": "f6", "number": "400"}, "plausible"),
        ("add", {"concept": "swelling", "status": "present"}, "side"),
        ("add", {"concept": "swelling", "side": "right", "status": "="}, "never assumed"),
        ("add", {"concept": "nothing"}, "not in the lexicon"),
        ("sign", {}, "does not know"),
        ("", {}, "does not know"),
    ],
)
def test_what_the_rules_forbid_is_said_and_writes_nothing(
    untouched: Opened, what: str, values: dict[str, str], why: str
) -> None:
    status, answer = untouched.decide(what, **values)
    assert status == 409
    assert why in answer["refused"]
    assert untouched.again().journal.entries == ()


def test_without_a_name_nothing_is_decided(tmp_path: Path) -> None:
    page = opened(tmp_path, reviewer=None)
    assert page.client.get(page.base).headers["location"] == f"/name?to={page.base}"
    assert page.decide("confirm", field="f2", version=2)[0] == 409
    assert page.client.post("/name", data={"who": "Dr C. Invented", "to": page.base}, headers=OWN).status_code == 303
    assert page.decide("confirm", field="f2")[0] == 200
    assert page.again().state.fields["f2"].who == "Dr C. Invented"


def test_a_group_goes_together_once_all_of_it_was_shown_and_haste_is_said(tmp_path: Path) -> None:
    page = opened(tmp_path, _grouped())
    group = ["f1", "f2", "f3"]
    assert page.decide("together", group=group, shown=group[:2], shown_s="9")[1]["refused"].startswith("Not every field")
    status, answer = page.decide("together", group=group, shown=group, shown_s="0.1")
    assert status == 200
    assert "quicker" in answer["say"]
    assert page.again().state.pending == ["f4"]
    assert page.decide("undo")[1]["say"].startswith("Taken back: confirmed, 3 at once")
    assert len(page.again().state.pending) == 4


def test_a_positive_or_a_doubt_is_refused_in_a_group_and_stands_in_none(tmp_path: Path) -> None:
    script = _grouped()
    script.say("crepitus", "no crepitus", side="right", status="absent", flags=[check("negation_unclear")])
    page = opened(tmp_path, script)
    offered = re.findall(r'data-fields="([^"]*)"', page.page())
    assert offered == ["[&#34;f1&#34;, &#34;f2&#34;, &#34;f3&#34;]"]
    for wrong in ("f4", "f5"):
        group = ["f1", wrong]
        assert page.decide("together", group=group, shown=group, shown_s="9")[0] == 409
    assert page.again().journal.entries == ()


def test_the_side_of_a_carried_stretch_is_decided_before_its_statements(tmp_path: Path) -> None:
    script = Script()
    names = [script.say("swelling", "swelling", side="right", status="present", flags=[info("side_carried")])]
    names.append(script.say("scar", "no scar", side="right", status="absent", flags=[info("side_carried")]))
    script.carry("right", *names)
    page = opened(tmp_path, script)
    assert "after the side of its stretch" in page.page()
    assert "side of the stretch" in page.decide("confirm", field="f1")[1]["refused"]
    status, answer = page.decide("run", run="0", side="left")
    assert (status, answer["say"][:28]) == (200, "All of that stretch is LEFT.")
    assert "LEFT" in answer["pieces"]["field-f1"]
    assert page.decide("confirm", field="f1")[0] == 200


def test_a_caution_is_answered_from_the_page(tmp_path: Path) -> None:
    script = Script()
    script.say("tenderness", "tender in the snuffbox", side="left", status="present", structure="anatomical_snuffbox")
    page = opened(tmp_path, script)
    (name,) = re.findall(r'data-kind="caution" data-name="([^"]+)"', page.page())
    assert page.decide("caution", name=name, answer="perhaps")[0] == 409
    assert page.decide("caution", name=name, answer="acting")[0] == 200
    assert page.again().state.cautions == {name: "acting"}
    assert "Answered: acting" in page.page()


def test_an_amendment_is_shown_with_what_it_contradicts_before_it_counts(tmp_path: Path) -> None:
    script = Script()
    script.say("swelling", "swelling of the right wrist", side="right", joint="wrist", status="present")
    script.say("swelling", "no swelling of the left wrist", side="left", joint="wrist", status="absent")
    page = opened(tmp_path, script)
    panel = page.client.get(f"{page.base}/panel?field=f2").text
    assert '<option value="left" selected>LEFT</option>' in panel
    look = page.client.post(f"{page.base}/look", data={"what": "amend", "field": "f2", "side": "right"}, headers=OWN).text
    assert "No swelling at the RIGHT wrist" in look
    assert "does not agree with “Swelling at the RIGHT wrist”" in look
    assert page.again().journal.entries == ()
    assert page.decide("amend", field="f2", side="right")[0] == 200
    assert page.again().state.fields["f2"].field.side == "right"
    assert any(flag.code == "contradiction" for flag in page.again().state.fields["f1"].field.flags)


def test_numbers_are_typed_as_at_the_terminal_and_an_implausible_one_has_to_be_insisted_on(page: Opened) -> None:
    asked = {"what": "amend", "field": "f7", "number": "beyond 10"}
    assert "10° beyond neutral" in page.client.post(f"{page.base}/look", data=asked, headers=OWN).text
    assert page.decide("amend", field="f7", number="lacks 15")[0] == 200
    assert page.again().state.fields["f7"].field.value == -15.0
    look = page.client.post(f"{page.base}/look", data={"what": "amend", "field": "f6", "number": "120"}, headers=OWN).text
    assert "plausible" in look
    assert "Keep the number" in look
    assert page.decide("amend", field="f6", number="120", keep="yes")[0] == 200


def test_a_side_that_was_not_said_can_be_given_or_said_not_to_apply(page: Opened) -> None:
    assert page.decide("amend", field="f11", side="none")[0] == 200
    assert page.again().state.fields["f11"].state == "amended"
    assert page.decide("undo")[0] == 200
    assert page.decide("amend", field="f11", side="left")[0] == 200
    assert page.again().state.fields["f11"].sentence == "Splint or cast at the LEFT wrist, at night"


def test_unplaced_speech_becomes_a_statement_and_is_cleared_by_that(page: Opened) -> None:
    names = page.client.get(f"{page.base}/names?words=pisiform").text + page.client.get(f"{page.base}/names?words=tender").text
    assert 'data-concept="tenderness"' in names
    panel = page.client.get(f"{page.base}/panel?concept=tenderness&speech=0").text
    assert "pisotriquetral" in panel
    assert "not said yet" in panel
    sent = {"concept": "tenderness", "side": "right", "status": "present", "joint": "wrist", "speech": "0"}
    status, answer = page.decide("add", **sent)
    assert (status, answer["say"]) == (200, "Added: Tenderness at the RIGHT wrist.")
    assert page.again().state.uncleared == []
    assert "Became “Tenderness at the RIGHT wrist”" in page.page()


def test_there_is_no_preview_while_anything_is_pending_and_none_is_signed_without_the_reference_s_end(page: Opened) -> None:
    assert "There is no note yet" in page.page("/note")
    for shape in (*FORMATS, "encounter"):
        assert page.client.get(f"{page.base}/download/{shape}").status_code == 409
    decide_all(page.review)
    note = page.page("/note")
    assert "PREVIEW, NOT SIGNED" in note
    assert "Once more, before you sign" in note
    sent = {"signer": "Dr A. Invented", "role": "Hand surgeon", "ending": "9999", "version": page.version}
    refused = page.client.post(f"{page.base}/sign", data=sent, headers=OWN)
    assert refused.status_code == 409
    assert "reference ends" in refused.text
    late = page.client.post(f"{page.base}/sign", data={**sent, "ending": ENDING, "examined": "2999-01-01 10:00"}, headers=OWN)
    assert "still to come" in late.text
    stale = page.client.post(f"{page.base}/sign", data={**sent, "ending": ENDING, "version": "2"}, headers=OWN)
    assert stale.status_code == 409
    assert page.again().state.signature is None
    assert page.client.post(f"{page.base}/sign", data={**sent, "ending": ENDING}, headers=OWN).status_code == 303
    assert page.again().state.signature is not None


def test_a_signed_note_is_shown_taken_along_and_added_to(page: Opened) -> None:
    decide_all(page.review)
    page.review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING)
    page.page("/note")
    lexicon = load_lexicon()
    for name, form in FORMATS.items():
        answer = page.client.get(f"{page.base}/download/{name}?length=brief")
        assert (answer.status_code, answer.headers["content-type"]) == (200, form.media_type)
        assert answer.content == form.write(page.review.signed(), lexicon, NoteOptions("brief"))
    text = page.client.get(f"{page.base}/download/text")
    assert 'filename="H-2041.full.txt"' in text.headers["content-disposition"]
    assert "# Hand, wrist" in page.client.get(f"{page.base}/download/markdown").text
    archive = zipfile.ZipFile(io.BytesIO(page.client.get(f"{page.base}/download/encounter").content))
    assert {"manifest.json", "journal.jsonl", "notes/1.txt"} <= set(archive.namelist())
    assert page.client.get(f"{page.base}/download/other").status_code == 404
    assert page.decide("reject", field="f2", reason="late")[0] == 409
    sent = {"text": "Films were seen.", "signer": "Dr A. Invented", "role": "Hand surgeon", "ending": ENDING}
    added = page.client.post(f"{page.base}/addendum", data={**sent, "version": page.version}, headers=OWN)
    assert added.status_code == 303
    assert "Films were seen." in page.page("/note")


def test_numbers_stand_right_beside_left(tmp_path: Path) -> None:
    script = Script()
    script.say("wrist_extension", "right extension sixty", side="right", value=60.0, unit="deg", mode="active")
    script.say("wrist_extension", "left extension seventy", side="left", value=70.0, unit="deg", mode="active")
    script.say("wrist_extension", "left passive eighty", side="left", value=80.0, unit="deg", mode="passive")
    text = opened(tmp_path, script).page("/numbers")
    rows = re.findall(r"<tr><th scope=\"row\">(.*?)</th>(.*?)</tr>", text, re.DOTALL)
    cells = {name: [re.findall(r">(\d+°)<", cell) for cell in row.split("<td>")[1:]] for name, row in rows}
    assert cells == {"Active wrist extension": [["60°"], ["70°"]], "Passive wrist extension": [[], ["80°"]]}


def test_pictures_have_their_words_beside_them(untouched: Opened) -> None:
    text = untouched.page("/hands")
    assert text.count("<svg") == 2
    assert "Mild swelling on the dorsal aspect of the RIGHT wrist" in text
    assert text.count("<summary>In words</summary>") == 2


def test_the_work_list_says_state_and_what_is_left_and_filters(page: Opened) -> None:
    def row() -> list[str]:
        found = re.search(r"<tbody>\s*<tr>(.*?)</tr>", page.client.get("/").text, re.DOTALL)
        assert found is not None
        return re.findall(r"<td[^>]*>([^<]*)</td>", found[1])[:3]

    assert row() == ["draft", "2", "12"]
    page.decide("confirm", field="f2")
    assert row() == ["in review", "2", "11"]
    assert "H-2041" in page.client.get("/?words=h-20&state=in+review").text
    assert "H-2041" not in page.client.get("/?words=7777").text
    assert "H-2041" not in page.client.get("/?state=signed").text
    decide_all(page.again())
    page.review.sign("Dr A. Invented", "Hand surgeon", WHEN, ending=ENDING)
    assert row()[0] == "signed"


def test_an_encounter_opened_without_a_draft_stands_in_the_list(page: Opened) -> None:
    from dictation.store.facts import Details

    page.store.open_encounter("K-1", Details(), WHO, WHEN)
    assert "K-1" in page.client.get("/?state=recording").text


def test_an_address_that_leads_nowhere_is_one_sentence(untouched: Opened) -> None:
    encounter = untouched.base.split("/")[2]
    for path in (f"/review/{encounter}/0000", "/review/nothing/nothing", f"{untouched.base}/sound?from=0&to=1"):
        answer = untouched.client.get(path)
        assert answer.status_code == 404
        assert "Traceback" not in answer.text


def test_more_reviews_than_are_kept_in_memory_can_be_open(tmp_path: Path) -> None:
    page = opened(tmp_path)
    paths = []
    for number in range(MOST_OPEN + 1):
        review = invented_examination().take(page.store, f"M-{number}")
        paths.append(f"/review/{review.journal.encounter.id}/{review.draft_sha256}")
    assert [page.client.get(path).status_code for path in [*paths, *paths]] == [200] * (2 * MOST_OPEN + 2)


def test_a_fault_in_the_program_is_one_sentence_without_what_was_said(
    untouched: Opened, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(review: object) -> str:
        raise RuntimeError("swelling of the wrist")

    monkeypatch.setattr("dictation.web.reviewing_pages.view_words", fail)
    answer = untouched.client.get(untouched.base)
    assert answer.status_code == 500
    assert "a fault in the program (RuntimeError" in answer.text
    assert "swelling of the wrist" not in answer.text


def test_a_recording_drafted_again_shows_what_differs_and_carries_no_decision(tmp_path: Path) -> None:
    page = opened(tmp_path)
    page.decide("confirm", field="f2")
    script = invented_examination()
    script.fields[5].value = 54.0
    script.say("ganglion", "a ganglion", side="left", status="present")
    again = script.take(page.store)
    text = page.client.get(f"/review/{again.journal.encounter.id}/{again.draft_sha256}").text
    assert "This recording was drafted before" in text
    assert "In the draft before: Active wrist extension on the RIGHT: 45°, not decided there." in text
    assert "Not in the draft before." in text
    assert "As in the draft before, confirmed by Dr A. Invented." in text
    assert re.search(r'data-field="f2" data-state="pending"', text)


def test_what_nobody_mentioned_is_a_prompt_on_the_page_and_in_no_note(page: Opened) -> None:
    text = page.page()
    assert re.search(r"<summary>\d+ not mentioned</summary>", text)
    assert "silence is not “not examined”" in text
    decide_all(page.review)
    assert "not mentioned" not in page.page("/note").split('<article class="note">')[1].split("</article>")[0].lower().replace(
        "what is not mentioned here was not said", ""
    )
