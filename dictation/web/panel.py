"""The panel in which a statement is amended or added: one control for each thing that can be asked of it.

Imports deciding, showing, review, note and record.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from dictation.errors import ReviewError
from dictation.lexicon.entries import Lexicon
from dictation.note.numbers import word_value
from dictation.note.printable import printable
from dictation.record import RecordField
from dictation.review.amendment import choices, side_open
from dictation.review.asking import asked_keys, bare_field, keys_to_add, plain_words
from dictation.review.rules import Review
from dictation.review.typed_number import number_examples
from dictation.web.deciding import KEEP, NONE, concept_of

_OWN_NAMES = {"structure", "digit", "joint", "aspect"}


@dataclass(frozen=True, slots=True)
class Control:
    """One control of the panel. options: value and words; () for one that is typed into. value: what it holds at first."""

    key: str
    label: str
    options: tuple[tuple[str, str], ...]
    value: str
    hint: str


def panel_values(review: Review, asked: Mapping[str, str]) -> dict[str, Any]:
    """Return what the panel's template needs, for the field, concept or stretch of speech asked for.

    Raises ReviewError where it cannot be amended, KeyError where there is no such field.
    """
    speech = asked.get("speech", "")
    if speech and (not speech.isdecimal() or int(speech) not in review.state.uncleared):
        raise ReviewError("That stretch of speech is not waiting to be cleared.")
    said = printable(review.draft.unplaced[int(speech)].text) if speech else ""
    values: dict[str, Any] = {
        "what": "add",
        "field": "",
        "concept": "",
        "speech": speech,
        "said": said,
        "controls": [],
        "now": "",
        "name": "",
    }
    if "field" in asked:
        field = review.state.fields[asked["field"]].field
        concept = concept_of(review, {"field": field.id})
        controls = [_control(key, field, review.lexicon, asked.get(key), new=False) for key in asked_keys(concept)]
        values |= {"what": "amend", "field": field.id, "now": review.word(field), "name": concept.preferred}
        values["controls"] = controls
    elif "concept" in asked:
        concept = concept_of(review, {"concept": asked["concept"]})
        blank = bare_field(concept)
        controls = [_control(key, blank, review.lexicon, None, new=True) for key in keys_to_add(concept)]
        values |= {"concept": concept.id, "name": concept.preferred, "controls": controls}
    return values


def _control(key: str, field: RecordField, lexicon: Lexicon, preset: str | None, *, new: bool) -> Control:
    label = plain_words(key).capitalize()
    if key == "number":
        now = word_value(field, lexicon.concepts.get(field.concept))
        hint = f"for example {number_examples(lexicon.concepts[field.concept])}"
        return Control(
            key, f"Number (now {now})" if now else "Number", (), "", hint if not now else f"{hint}; {NONE}: no number"
        )
    now = getattr(field, key)
    known = choices(key, field, lexicon)
    if not known:
        hint = "1, 2, 3 or mean" if key == "trial" else ""
        return Control(key, label, (), str(now) if now is not None else "", hint)
    options = [(value, _named(key, value, lexicon)) for value in known]
    if key == "side":
        options = [(value, value.upper()) for value in known] + [(NONE, "no side applies")]
        if new or side_open(field):
            options.insert(0, (KEEP, "not said yet"))
    elif key != "status" or now is None:
        options.insert(0, (NONE, "none said"))
        if key == "status" and new:
            options.insert(0, (KEEP, "not chosen yet"))
    value = preset if preset in dict(options) else now if now is not None else options[0][0]
    if key == "side" and now is None and preset is None and not (new or side_open(field)):
        value = NONE
    return Control(key, label, tuple(options), str(value), "")


def _named(key: str, value: str, lexicon: Lexicon) -> str:
    if key in _OWN_NAMES:
        places = {"structure": lexicon.structures, "digit": lexicon.digits, "joint": lexicon.joints, "aspect": lexicon.aspects}
        return places[key][value].preferred if value in places[key] else plain_words(value)
    return plain_words(value)
