"""Three invented records whose every export is kept as it should be, in ``golden/``.

Their drafts are kept too, so that what extraction learns later changes nothing here. ``make_golden.py`` writes all of it anew.
"""

from __future__ import annotations

import io
import json
import re
import uuid
from collections.abc import Callable
from pathlib import Path
from unittest.mock import patch

import pypdfium2
from docx import Document as read_docx
from scripted import ENDING, SHIPPED, WHEN, WHO

from dictation.errors import ReviewError
from dictation.exports.formats import FORMATS
from dictation.note.document import LENGTHS
from dictation.note.options import NoteOptions
from dictation.note.wording import word_field
from dictation.record import DraftRecord, parse_draft
from dictation.review.opening import open_review
from dictation.review.records import SignedRecord
from dictation.review.rules import Review
from dictation.store.facts import Details
from dictation.store.store import open_store

GOLDEN = Path(__file__).with_name("golden")

DICTATIONS = {
    "nerve": (
        "She is right handed. Numbness in the right hand. Right hand. No swelling. No scars. Thenar wasting. "
        "Tinel's test positive at the wrist. Phalen's test positive at thirty seconds. APB power four plus. "
        "Light touch reduced in the index finger. Radial pulse normal. Left hand. No swelling. Phalen's test negative. "
        "Impression, suspected carpal tunnel syndrome on the right. Plan, nerve conduction studies of the right wrist."
    ),
    "finger": (
        "Left hand. Swelling of the ring finger PIP joint. No erythema of the ring finger. No wound. "
        "Ring finger PIP flexion sixty. Ring finger PIP extension lacks fifteen degrees. Ring finger MCP flexion eighty. "
        "FDS to the ring finger not tested. Capillary refill less than two seconds in the ring finger. "
        "No triggering of the index finger. No triggering of the middle finger. Plan, splint for the left ring finger."
    ),
    "wrist": (
        "Right wrist. Mild swelling. Tenderness over the distal radius. No tenderness in the anatomical snuffbox. "
        "Active wrist extension forty five degrees. Active wrist flexion fifty degrees. Pronation seventy. Supination sixty. "
        "Grip strength eighteen kilograms. Left wrist. Active wrist extension seventy degrees. Active wrist flexion seventy "
        "five degrees. Grip strength thirty two kilograms. Plan, radiographs of the right wrist."
    ),
}


def _nerve(review: Review) -> SignedRecord:
    """Signed, then an addendum that says what was entered in error."""
    stated = {"examined": "2025-03-04 14:00", "dictated": "2025-03-04 14:10"}
    review.sign("Dr Åse Łódzka-Ñandú", "Hand surgeon", WHEN, ending=ENDING, **stated)
    wrong = next(name for name, d in review.state.fields.items() if d.field.concept == "thenar_wasting")
    text = "The thenar muscles are equal; that was another patient."
    return review.add_addendum(text, "Dr B. Invented", "Registrar", WHEN, ending=ENDING, errors=[wrong])


def _finger(review: Review) -> SignedRecord:
    """With a statement amended, one rejected and one added by hand."""
    return review.sign("Dr A. Invented", "Hand therapist", WHEN, ending=ENDING)


def _wrist(review: Review) -> SignedRecord:
    """A demonstration."""
    return review.sign("the program", "demonstration", WHEN, ending=ENDING, demonstration=True)


_SIGNED: dict[str, Callable[[Review], SignedRecord]] = {"nerve": _nerve, "finger": _finger, "wrist": _wrist}


def kept_draft(name: str) -> bytes:
    """Return the draft that is kept."""
    return (GOLDEN / f"{name}.draft.json").read_bytes()


def golden_record(name: str) -> SignedRecord:
    """Return the record of a kept draft, decided and signed the same way each time."""
    content = kept_draft(name)
    draft: DraftRecord = parse_draft(content, name)
    store = open_store(Path("memory"), "sqlite://")
    details = Details(purpose="nerve" if name == "nerve" else None, age=54, sex="female", examiner="Dr A. Invented")
    with patch.object(uuid, "uuid4", return_value=uuid.UUID(int=1)):  # an encounter's id is in its journal's hashes
        encounter = store.open_encounter(f"G-{name}-{ENDING}", details, WHO, WHEN)
    sha256 = encounter.take_draft(content, draft.source.sha256, draft.source.name, spoken=False, who=WHO, time=WHEN)
    review = open_review(encounter, sha256, SHIPPED, lambda field: word_field(field, SHIPPED))
    for run in review.open_runs():
        review.decide_side(run, draft.runs[run].side, WHO, WHEN)
    if name == "finger":
        by_concept = {d.field.concept: key for key, d in review.state.fields.items()}
        review.reject(by_concept["wound"], "=said of the other hand", WHO, WHEN)
        review.amend(by_concept["swelling"], {"qualifier": "since Żuławy, 3 cm, <b>firm</b>"}, WHO, WHEN)
        review.add("radial_pulse", {"side": "left", "status": "normal"}, WHO, WHEN)
    for key in list(review.state.pending):
        try:
            review.confirm(key, WHO, WHEN)
        except ReviewError:
            review.reject(key, "not settled", WHO, WHEN)
    for index in list(review.state.uncleared):
        review.clear(index, WHO, WHEN)
    return _SIGNED[name](review)


def exports(name: str) -> dict[str, str]:
    """Return file name -> what is kept of each export of a record: the whole text, of binary files what a reader sees."""
    record = golden_record(name)
    made = {}
    for form in FORMATS.values():
        for length in LENGTHS if form.name == "text" else LENGTHS[:1]:
            with patch("dictation.exports.pdf_file.figures", return_value=[]):  # pictures have tests of their own
                content = form.write(record, SHIPPED, NoteOptions(length=length))
            middle = f".{length}" if form.name == "text" else ""
            made[f"{name}{middle}.{form.ending}{'.txt' if form.binary else ''}"] = _KEPT.get(form.name, _plain)(content)
    return made


def _plain(content: bytes) -> str:
    return content.decode("utf-8")


def _json(content: bytes) -> str:
    """All but the transcript and the evidence, which are the draft's own."""
    found = json.loads(content)
    del found["record"]["transcript"]
    for field in [*found["record"]["fields"], *(d["first"] for d in found["decisions"] if d["first"])]:
        del field["evidence"]
    return json.dumps(found, indent=1, ensure_ascii=False) + "\n"


def _html(content: bytes) -> str:
    """The page; of its pictures only that they are there."""
    return re.sub(r"<svg.*?</svg>", "[picture]", content.decode("utf-8"), flags=re.DOTALL)


def _docx(content: bytes) -> str:
    """Each paragraph with its style, each row of a table, in order."""
    lines = []
    for block in read_docx(io.BytesIO(content)).iter_inner_content():
        if hasattr(block, "rows"):
            lines += [f"[{block.style.name}] " + " | ".join(cell.text for cell in row.cells) for row in block.rows]
        else:
            lines.append(f"[{block.style.name}] {block.text}".rstrip())
    return "\n".join(lines) + "\n"


def _pdf(content: bytes) -> str:
    """The words of the file in reading order, a page a line."""
    pages = (page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(content))
    return "\n".join(" ".join(text.replace("\u200b", "").split()) for text in pages) + "\n"


_KEPT: dict[str, Callable[[bytes], str]] = {"json": _json, "html": _html, "docx": _docx, "pdf": _pdf}
