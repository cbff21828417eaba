"""The draft record: the contract between what was said and what is confirmed.

What goes in: fields from extraction, flags from the checks. What comes out: JSON whose names are fixed
(DEVELOPERS.md, "The record"). Strict: NaN, True for 1 and "12" for 12 are refused. Imports only transcript and errors.
"""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from dictation.errors import InputError, RecordError

SCHEMA_VERSION = "1.1"

Side = Literal["right", "left"]
Digit = Literal["thumb", "index", "middle", "ring", "little"]
Joint = Literal["elbow", "druj", "wrist", "cmc", "mcp", "pip", "dip", "ip"]
Aspect = Literal["dorsal", "volar", "radial", "ulnar"]
Severity = Literal["mild", "moderate", "severe"]
Mode = Literal["active", "passive"]
Comparator = Literal["<", "<=", ">=", ">"]
Level = Literal["check", "info"]
DecisionState = Literal["pending", "confirmed", "amended", "rejected"]
Part = Literal[
    "context", "reported", "look", "feel", "move", "power", "function", "sensation", "circulation", "special_tests",
    "impression", "plan",
]  # fmt: skip
PARTS: tuple[Part, ...] = (
    "context", "reported", "look", "feel", "move", "power", "function", "sensation", "circulation", "special_tests",
    "impression", "plan",
)  # fmt: skip
"""The order of the examination, which screens and notes follow."""


class FlagCode(StrEnum):
    """Why a field is to be looked at. Stored in records, so never renamed or reused."""

    low_recognition = "low_recognition"
    term_corrected = "term_corrected"
    side_missing = "side_missing"
    side_conflict = "side_conflict"
    side_carried = "side_carried"
    copied_side = "copied_side"
    number_unclear = "number_unclear"
    direction_unclear = "direction_unclear"
    out_of_range = "out_of_range"
    unit_assumed = "unit_assumed"
    result_unclear = "result_unclear"
    negation_unclear = "negation_unclear"
    speaker_unclear = "speaker_unclear"
    contradiction = "contradiction"
    repeated = "repeated"
    expanded = "expanded"
    self_corrected = "self_corrected"


class Base(BaseModel):
    """Strict, and silent about what was in a value that does not fit: a message must hold no patient text."""

    model_config = ConfigDict(
        strict=True,
        extra="forbid",
        allow_inf_nan=False,
        hide_input_in_errors=True,
        populate_by_name=True,
        serialize_by_alias=True,
    )


class Flag(Base):
    """One doubt about a field, or how its value came about, in one plain sentence."""

    code: FlagCode = Field(strict=False)
    level: Level
    message: str


class Evidence(Base):
    """One stretch a field rests on: words as heard (transcript.words[i:j]), as corrected, and where in the sound."""

    role: Literal["statement", "side", "retraction"]
    said: str
    corrected: str
    words: tuple[int, int] = Field(strict=False)
    start: float | None = None
    end: float | None = None


class RecordField(Base):
    """One statement of the record. Units are UCUM; the sign rule is in DEVELOPERS.md, "Signs"."""

    id: str
    part: Part
    concept: str
    side: Side | None = None
    digit: Digit | None = None
    joint: Joint | None = None
    structure: str | None = None
    aspect: Aspect | None = None
    status: str | None = None
    certainty: Literal["suspected"] | None = None
    severity: Severity | None = None
    value: float | None = None
    low: float | None = None
    high: float | None = None
    unit: str | None = None
    comparator: Comparator | None = None
    grade_sign: Literal["+", "-"] | None = None
    trial: int | Literal["mean"] | None = None
    position: str | None = None
    occasion: str | None = None
    qualifier: str | None = None
    mode: Mode | None = None
    confidence: float = Field(default=0.5, ge=0, le=1)
    flags: list[Flag] = Field(default_factory=list)
    evidence: list[Evidence] = Field(default_factory=list)
    decision: DecisionState = "pending"

    def checked(self) -> bool:
        """Whether any flag asks the clinician to look before confirming."""
        return any(flag.level == "check" for flag in self.flags)


class Sound(Base):
    """What a recording is like to listen to. Levels in decibels of full scale; null where nothing could be measured.

    over_noise_db: how far the voice stands over the noise. poor: its words are not to be trusted, and every field asks to
    be checked. warnings: what to tell a person, a sentence each.
    """

    speech_share: float = Field(ge=0, le=1)
    level_db: float
    clipped_share: float = Field(ge=0, le=1)
    noise_db: float | None
    over_noise_db: float | None
    poor: bool
    warnings: list[str]


class Source(Base):
    """What was drafted from, and with what. sound: since schema 1.1, null for typed text."""

    name: str
    sha256: str
    duration_s: float | None
    recogniser: str
    model: str | None
    program_version: str
    lexicon_version: str
    lexicon_sha256: str | None = None
    personal_lexicon_sha256: str | None = None
    sound: Sound | None = None


class HeardWord(Base):
    """One word as heard; probability 0 to 1, null for typed text."""

    said: str
    start: float | None
    end: float | None
    probability: float | None = None


class SecondWord(Base):
    """One word of the other reading of the sound."""

    said: str
    start: float | None
    end: float | None


class Corrected(Base):
    """One word as corrected, naming the heard words it stands for (end excluded) and why it differs from them."""

    text: str
    from_: tuple[int, int] = Field(alias="from", strict=False)
    reason: str | None = None
    distance: float | None = None
    runner_up: str | None = None


class TranscriptRecord(Base):
    """Words as heard, as corrected, and the second reading."""

    words: list[HeardWord]
    corrected: list[Corrected]
    second_reading: list[SecondWord] = Field(default_factory=list)


class Run(Base):
    """A stretch under one carried side; review shows it as one block."""

    side: Side
    words: tuple[int, int] = Field(strict=False)
    start: float | None = None
    end: float | None = None
    fields: list[str]


class Unplaced(Base):
    """Speech that looks clinical and became no field, or sound with speech in it that could not be read."""

    text: str
    start: float | None = None
    end: float | None = None
    reason: str


class NotMentioned(Base):
    """What a complete examination would speak of and nothing was said about. A prompt, never printed by itself."""

    concept: str
    side: Side | None
    why: str


class DraftRecord(Base):
    """A draft: nothing in it is decided. ``model_dump_json()`` gives the JSON of the contract."""

    schema_version: str = SCHEMA_VERSION
    source: Source
    transcript: TranscriptRecord
    runs: list[Run] = Field(default_factory=list)
    fields: list[RecordField] = Field(default_factory=list)
    unplaced: list[Unplaced] = Field(default_factory=list)
    not_mentioned: list[NotMentioned] = Field(default_factory=list)
    computed: list[str] = Field(default_factory=list, max_length=0)


MOST_BYTES = 200_000_000
"""No draft is larger: an hour of speech makes about one million."""


def read_draft(path: Path) -> DraftRecord:
    """Return the draft in a JSON file.

    Raises InputError where the file cannot be read, RecordError where it is no draft or of a newer schema.
    """
    return parse_draft(read_draft_file(path), path.name)


def read_draft_file(path: Path) -> bytes:
    """Return what is in a draft file, unread. Raises InputError where it cannot be read."""
    try:
        if path.stat().st_size > MOST_BYTES:
            raise InputError(f"{path.name} is too large to be a draft; check the path.")
        content = path.read_bytes()
        content.decode("utf-8")
        return content
    except (OSError, UnicodeDecodeError) as err:
        raise InputError(f"Cannot read {path.name}: {type(err).__name__}. Check the path and that it is a draft.") from err


def parse_draft(content: bytes, name: str) -> DraftRecord:
    """Return the draft that JSON holds. Raises RecordError, calling it by name, where it is no draft or of a newer schema."""
    import json

    try:
        raw = content.decode("utf-8")
        data = json.loads(raw)
        version = str(data["schema_version"])
        major = int(version.split(".")[0])
    except (ValueError, KeyError, TypeError, RecursionError) as err:
        raise RecordError(f"{name} is not a draft record; draft the recording again.") from err
    if major > int(SCHEMA_VERSION.split(".")[0]):
        newest = SCHEMA_VERSION
        raise RecordError(f"{name} has record schema {version}, newer than this program's {newest}; update the program.")
    try:
        draft = DraftRecord.model_validate_json(raw)
    except ValidationError as err:
        first = err.errors(include_input=False, include_url=False)[0]
        where = ".".join(str(p) for p in first["loc"])
        raise RecordError(
            f"{name} does not fit the record at {where}: {first['type']}; undo the edit or draft the recording again."
        ) from err
    if problem := _inconsistency(draft):
        raise RecordError(f"{name} does not fit the record: {problem}; undo the edit or draft again.")
    return draft


def _inconsistency(draft: DraftRecord) -> str | None:
    """What the types cannot say: ids are unique and every span lies in the transcript."""
    ids = [field.id for field in draft.fields]
    if len(set(ids)) != len(ids):
        return "two fields share an id"
    n = len(draft.transcript.words)
    spans = [e.words for f in draft.fields for e in f.evidence] + [c.from_ for c in draft.transcript.corrected]
    if any(not 0 <= i <= j <= n for i, j in spans):
        return "a stretch of evidence lies outside the transcript"
    if any(run_id not in ids for run in draft.runs for run_id in run.fields):
        return "a run names a field that is not there"
    return None
