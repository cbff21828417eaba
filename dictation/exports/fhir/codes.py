"""The codes that the FHIR export uses, each with how it is known. Everything else is text, or a code of this program's own.

No concept is mapped to a terminology by resemblance: a code that is not certain is worse than none. Imports nothing of ours.
"""

from __future__ import annotations

from typing import Any

OWN = "urn:hand-examination-dictation"
"""Begins the systems of this program's own codes and identifiers: ids of its lexicon, which are never renamed."""

UCUM = "http://unitsofmeasure.org"
SNOMED = "http://snomed.info/sct"
LOINC = "http://loinc.org"
_HL7 = "http://terminology.hl7.org/CodeSystem"

LATERALITY = {"right": (SNOMED, "24028007", "Right"), "left": (SNOMED, "7771000", "Left")}
"""SNOMED CT qualifier values; seen in public profiles of laterality (DICOM context group 244, Belgian core)."""

SEVERITY = {
    "mild": (SNOMED, "255604002", "Mild"),
    "moderate": (SNOMED, "6736007", "Moderate"),
    "severe": (SNOMED, "24484000", "Severe"),
}
"""The three of FHIR's condition-severity value set; seen in public profiles."""

SECTIONS = {
    "examination": (LOINC, "29545-1", "Physical findings Narrative"),
    "impression": (LOINC, "51848-0", "Evaluation note"),
    "plan": (LOINC, "18776-5", "Plan of care note"),
}
"""Of the C-CDA sections Physical Exam, Assessment and Plan of Treatment; seen in public copies of C-CDA 2.1."""

EXAM = (f"{_HL7}/observation-category", "exam", "Exam")
NOT_PERFORMED = (f"{_HL7}/data-absent-reason", "not-performed", "Not Performed")
TEST_DATA = (f"{_HL7}/v3-ActReason", "HTEST", "test health data")
ATTESTER = (f"{_HL7}/provenance-participant-type", "attester", "Attester")
AUTHOR = (f"{_HL7}/provenance-participant-type", "author", "Author")
ASSEMBLER = (f"{_HL7}/provenance-participant-type", "assembler", "Assembler")
"""Code systems of FHIR itself, quoted from memory."""

_MEANINGS = {"POS": "Positive", "NEG": "Negative", "E": "Equivocal", "N": "Normal", "A": "Abnormal"}
INTERPRETATION = {
    "positive": "POS", "negative": "NEG", "equivocal": "E", "normal": "N", "reduced": "A", "altered": "A",
    "abnormal": "A", "present": "POS",
}  # fmt: skip
"""Status -> HL7 v3 ObservationInterpretation, whose POS and NEG are also of a clinical sign (seen in its public definitions);
"absent" depends on the concept."""


def coding(code: tuple[str, str, str]) -> dict[str, str]:
    """Return a Coding of system, code and display."""
    return {"system": code[0], "code": code[1], "display": code[2]}


def concept_of(code: tuple[str, str, str], text: str | None = None) -> dict[str, Any]:
    """Return a CodeableConcept with one coding."""
    return {"coding": [coding(code)], "text": text or code[2]}


def interpretation(status: str, expected_normal: bool) -> dict[str, Any] | None:
    """Return the interpretation of a status, None where it has none. expected_normal: "absent" is of what should be there."""
    code = ("A" if expected_normal else "NEG") if status == "absent" else INTERPRETATION.get(status)
    return concept_of((f"{_HL7}/v3-ObservationInterpretation", code, _MEANINGS[code])) if code else None
