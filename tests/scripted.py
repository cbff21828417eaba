"""Scripted drafts for the tests of review and note: invented statements, built from the record's own classes.

No recogniser and no extraction is involved, so a test of the rules fails only for the rules.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from itertools import count
from pathlib import Path
from typing import Any

from dictation.errors import ReviewError
from dictation.lexicon.entries import Lexicon
from dictation.lexicon.loading import load_lexicon
from dictation.measurement.cautions import cautions
from dictation.note.wording import word_field
from dictation.record import (
    Corrected,
    DraftRecord,
    Evidence,
    Flag,
    FlagCode,
    HeardWord,
    RecordField,
    Run,
    Side,
    Source,
    TranscriptRecord,
    Unplaced,
)
from dictation.review.opening import open_review, read_file, take_in
from dictation.review.rules import Review
from dictation.store.facts import Details
from dictation.store.journal import Moment
from dictation.store.store import Encounter, Store, open_store

SHIPPED = load_lexicon()
LEXICON = replace(SHIPPED, concepts={name: replace(c, wording={}) for name, c in SHIPPED.concepts.items()})
"""The shipped lexicon without the entries' own wordings, so that sentences here change with wording.yaml
alone.
"""

WHO = "Dr A. Invented"
WHEN = Moment("2025-03-04T13:30:00Z", 60)
REFERENCE = "H-2041"
ENDING = "2041"
"""How the reference ends, which a signer types."""


def word(field: RecordField) -> str:
    """Return the sentence of a field by the shipped lexicon."""
    return word_field(field, LEXICON)


def check(code: str, message: str = "A doubt.") -> Flag:
    """Return a flag that asks to look."""
    return Flag(code=FlagCode(code), level="check", message=message)


def info(code: str, message: str = "A remark.") -> Flag:
    """Return a flag that only says how a value came about."""
    return Flag(code=FlagCode(code), level="info", message=message)


class Script:
    """A draft under construction."""

    def __init__(self) -> None:
        self.words: list[HeardWord] = []
        self.fields: list[RecordField] = []
        self.unplaced: list[Unplaced] = []
        self.runs: list[Run] = []

    def say(self, concept: str, said: str, **keys: Any) -> str:
        """Add a statement resting on the words said, half a second each; return its id."""
        entry = LEXICON.concepts[concept]
        start = len(self.words)
        for text in said.split():
            at = len(self.words) * 0.5
            self.words.append(HeardWord(said=text, start=at, end=at + 0.4, probability=0.9))
        evidence = Evidence(
            role="statement",
            said=said,
            corrected=said,
            words=(start, len(self.words)),
            start=start * 0.5,
            end=len(self.words) * 0.5,
        )
        values = {"joint": entry.joint, "digit": entry.digit, "structure": entry.structure, **keys}
        field = RecordField.model_validate(
            {
                "id": f"f{len(self.fields) + 1}",
                "part": entry.part,
                "concept": concept,
                "evidence": [evidence],
                "confidence": 0.9,
                **values,
            }
        )
        self.fields.append(field)
        return field.id

    def leave(self, text: str, reason: str = "looks clinical, but no concept was found") -> int:
        """Add a stretch of unplaced speech; return its index."""
        self.unplaced.append(Unplaced(text=text, start=1.0, end=2.0, reason=reason))
        return len(self.unplaced) - 1

    def carry(self, side: Side, *ids: str) -> int:
        """Say that the fields stand under one carried side; return the index of the run."""
        self.runs.append(Run(side=side, words=(0, len(self.words)), start=0.0, end=len(self.words) * 0.5, fields=list(ids)))
        return len(self.runs) - 1

    def draft(self) -> DraftRecord:
        """Return the draft."""
        corrected = [Corrected.model_validate({"text": w.said, "from": (i, i + 1)}) for i, w in enumerate(self.words)]
        return DraftRecord(
            source=Source(
                name="invented.wav",
                sha256="0" * 64,
                duration_s=60.0,
                recogniser="scripted",
                model=None,
                program_version="0.0.0",
                lexicon_version=LEXICON.version,
            ),
            transcript=TranscriptRecord(words=self.words, corrected=corrected),
            fields=self.fields,
            runs=self.runs,
            unplaced=self.unplaced,
        )

    def take(self, store: Store, reference: str = REFERENCE, lexicon: Lexicon = LEXICON) -> Review:
        """Take the draft into a store, where it is not yet, and return its review as it stands there."""
        content = self.draft().model_dump_json().encode()
        encounter = store.find(reference) or store.open_encounter(reference, Details(), WHO, WHEN)
        sha256 = encounter.take_draft(content, "0" * 64, "invented.wav", spoken=False, who=WHO, time=WHEN)
        return open_review(encounter, sha256, lexicon, lambda field: word_field(field, lexicon))

    def review(self, folder: Path, name: str = "invented") -> Review:
        """Write the draft into folder and return its review, opened as the commands open it."""
        path = folder / f"{name}.draft.json"
        path.write_text(self.draft().model_dump_json(), encoding="utf-8")
        return taken(path, folder / "store")


def taken(path: Path, folder: Path) -> Review:
    """Return the review of a draft file, taken into the store in a folder where it is not yet."""
    file, store = read_file(path), open_store(folder)
    held = store.holding(file.sha256)
    encounter: Encounter = held[0] if held else take_in(store, file, REFERENCE, WHO, WHEN)
    return open_review(encounter, file.sha256, LEXICON, word)


def invented_examination() -> Script:
    """Return a short invented examination: doubts, positives, numbers, plain negatives, a plan, unplaced
    speech.
    """
    script = Script()
    script.say("hand_dominance", "right handed", side="right")
    script.say(
        "swelling",
        "mild swelling dorsally",
        side="right",
        joint="wrist",
        aspect="dorsal",
        status="present",
        severity="mild",
    )
    script.say("erythema", "no redness", side="right", status="absent", flags=[info("side_carried")])
    script.say("scar", "no scars", side="right", status="absent", flags=[info("side_carried")])
    script.say("deformity", "no deformity", side="left", status="absent")
    script.say("wrist_extension", "extension forty five", side="right", value=45.0, unit="deg", mode="active")
    script.say("elbow_extension", "lacks twenty degrees of extension", side="left", value=-20.0, unit="deg")
    script.say(
        "abductor_pollicis_brevis_power",
        "APB four plus",
        side="right",
        value=4.0,
        unit="{score}",
        grade_sign="+",
    )
    script.say(
        "phalen_test",
        "felons test positive",
        side="right",
        status="positive",
        flags=[check("term_corrected", "“felons test” was read as “Phalen's test”.")],
    )
    script.say(
        "carpal_tunnel_syndrome",
        "suspected carpal tunnel syndrome",
        side="right",
        status="present",
        certainty="suspected",
    )
    script.say(
        "splint",
        "a wrist splint at night",
        status="present",
        joint="wrist",
        qualifier="at night",
        flags=[check("side_missing", "No side was said for the splint.")],
    )
    script.leave("and the um pisotriquetral something")
    return script


@cache
def _memory() -> tuple[Store, Iterator[int]]:
    return open_store(Path("memory"), "sqlite://"), count()


def in_memory(script: Script, lexicon: Lexicon = LEXICON) -> Review:
    """Return a review in an encounter of its own, in a store that is on no disk."""
    store, number = _memory()
    return script.take(store, f"N{next(number)}-{ENDING}", lexicon)


def again(review: Review) -> Review:
    """Return the review as it stands in its store, read anew."""
    store = review.journal.encounter.store
    encounter = store.encounter(review.journal.reference)
    return open_review(encounter, review.draft_sha256, review.lexicon, review.word)


def cautious(review: Review) -> Review:
    """Return the review with the cautions that the commands give it."""
    return open_review(review.journal.encounter, review.draft_sha256, review.lexicon, review.word, cautions)


def edit_store(store: Store, statement: str, *values: object) -> None:
    """Change the store's database behind the program's back. statement: SQL, a question mark for each value."""
    if store.shared:
        statement = statement.replace("?", "%s")
    with store.engine.connect() as connection:
        connection.exec_driver_sql(statement, values or None)  # type: ignore[arg-type]
        connection.commit()
    store.close()


def decide_all(review: Review) -> None:
    """Confirm what can be, give the rest a side, clear the speech that made no field."""
    for name in list(review.state.pending):
        try:
            review.confirm(name, WHO, WHEN)
        except ReviewError:
            review.amend(name, {"side": "left"}, WHO, WHEN)
    for index in list(review.state.uncleared):
        review.clear(index, WHO, WHEN)
