"""Findings set against each nerve and level: what supports it, what speaks against it, what was not mentioned.

A table to read, not a diagnosis: nothing is weighed or ranked. Imports findings and result.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from dictation.measurement.findings import LESS, SIDES, Findings
from dictation.measurement.result import Measure, Source
from dictation.record import RecordField, Side

SOURCE = Source("Aids to the Examination of the Peripheral Nervous System, 5th ed., 2010", "published")


@dataclass(frozen=True, slots=True)
class Sign:
    """One thing to look at: a concept, narrowed by structure or digits where the concept alone is too wide.

    least: the MRC grade from which its power counts as normal in this pattern.
    """

    name: str
    concept: str
    structure: str | None = None
    digits: tuple[str, ...] = ()
    least: int = 5

    def answers(self, findings: Findings, side: Side) -> list[RecordField]:
        """Return what was said of it on a side."""
        return [
            f
            for f in findings.of(self.concept)
            if f.side == side
            and (self.structure is None or f.structure == self.structure)
            and (not self.digits or f.digit in self.digits)
        ]


APB = Sign("abductor pollicis brevis", "abductor_pollicis_brevis_power")
FDI = Sign("first dorsal interosseous", "first_dorsal_interosseous_power")
FPL = Sign("flexor pollicis longus", "flexor_pollicis_longus_power")
FDP_INDEX = Sign("profundus of the index", "flexor_digitorum_profundus_power", digits=("index",))
FDP_ULNAR = Sign("profundus of ring and little", "flexor_digitorum_profundus_power", digits=("ring", "little"))
MEDIAN = Sign("median sensation", "median_nerve_sensation")
PALMAR = Sign("palmar cutaneous branch", "palmar_cutaneous_branch_sensation")
ULNAR = Sign("ulnar sensation", "ulnar_nerve_sensation")
DORSAL_ULNAR = Sign("dorsal ulnar branch", "dorsal_ulnar_branch_sensation")
SUPERFICIAL = Sign("superficial radial sensation", "superficial_radial_nerve_sensation")
WRIST_EXTENSION = Sign("wrist extension power", "wrist_extension_power")
WRIST_EXTENDS = Sign("wrist extension against gravity", "wrist_extension_power", least=3)
FINGER_EXTENSION = Sign("finger extension power", "finger_extension_power")
THUMB_EXTENSION = Sign("thumb extension power", "thumb_extension_power")
OK_SIGN = Sign("OK sign", "ok_sign")
FROMENT = Sign("Froment's sign", "froment_sign")


@dataclass(frozen=True, slots=True)
class Pattern:
    """A nerve at a level: signs expected to be abnormal, and signs expected to be spared."""

    name: str
    affected: tuple[Sign, ...]
    spared: tuple[Sign, ...] = ()


PATTERNS = (
    Pattern(
        "Median at the wrist (carpal tunnel)",
        (
            MEDIAN,
            APB,
            Sign("thenar wasting", "thenar_wasting"),
            Sign("Tinel's at the carpal tunnel", "tinel_test", "carpal_tunnel"),
            Sign("Phalen's test", "phalen_test"),
            Sign("carpal compression", "durkan_test"),
        ),
        (PALMAR, FPL, FDP_INDEX, OK_SIGN),
    ),
    Pattern("Anterior interosseous", (OK_SIGN, FPL, FDP_INDEX), (MEDIAN, APB)),
    Pattern(
        "Ulnar at the elbow (cubital tunnel)",
        (
            ULNAR,
            DORSAL_ULNAR,
            FDI,
            FDP_ULNAR,
            FROMENT,
            Sign("Wartenberg's sign", "wartenberg_sign"),
            Sign("interosseous wasting", "interosseous_guttering"),
            Sign("Tinel's at the cubital tunnel", "tinel_test", "cubital_tunnel"),
            Sign("elbow flexion test", "elbow_flexion_test"),
        ),
        (MEDIAN,),
    ),
    Pattern(
        "Ulnar at the wrist (Guyon's canal)",
        (ULNAR, FDI, FROMENT, Sign("claw", "claw_deformity"), Sign("Tinel's at Guyon's canal", "tinel_test", "guyon_canal")),
        (DORSAL_ULNAR, FDP_ULNAR),
    ),
    Pattern(
        "Radial above the elbow",
        (WRIST_EXTENSION, FINGER_EXTENSION, THUMB_EXTENSION, SUPERFICIAL, Sign("wrist drop", "wrist_drop")),
    ),
    Pattern("Posterior interosseous", (FINGER_EXTENSION, THUMB_EXTENSION), (WRIST_EXTENDS, SUPERFICIAL)),
    Pattern(
        "Superficial radial",
        (SUPERFICIAL, Sign("Tinel's over the superficial radial nerve", "tinel_test", "superficial_radial_nerve")),
        (WRIST_EXTENSION, FINGER_EXTENSION, THUMB_EXTENSION),
    ),
    Pattern(
        "Root C6",
        (Sign("C6 dermatome", "c6_dermatome_sensation"), Sign("elbow flexion power", "elbow_flexion_power"), WRIST_EXTENSION),
    ),
    Pattern(
        "Root C7",
        (
            Sign("C7 dermatome", "c7_dermatome_sensation"),
            Sign("elbow extension power", "elbow_extension_power"),
            FINGER_EXTENSION,
        ),
    ),
    Pattern(
        "Root C8",
        (Sign("C8 dermatome", "c8_dermatome_sensation"), FDP_ULNAR, Sign("finger abduction power", "finger_abduction_power")),
    ),
    Pattern(
        "Root T1",
        (Sign("T1 dermatome", "t1_dermatome_sensation"), Sign("finger abduction power", "finger_abduction_power"), APB),
    ),
)


def _abnormal(field: RecordField, least: int) -> bool | None:
    """Return whether a field says that something is wrong; None where it says neither.

    "Absent" is read by what the concept is: no wasting is well, no power and no feeling are not.
    """
    if field.part in ("look", "special_tests"):
        return {"present": True, "positive": True, "absent": False, "negative": False}.get(field.status or "")
    if field.status in LESS:
        return True
    if field.status == "normal":
        return False
    if field.unit == "{score}" and field.value is not None:
        return field.value < least or (field.value == least and field.grade_sign == "-")
    return None


def nerve_patterns(findings: Findings) -> Iterator[Measure]:
    """Give each pattern of which something supports, side by side; a single shared sign supports several, and all are given."""
    for side in SIDES:
        for pattern in PATTERNS:
            supports: list[str] = []
            against: list[str] = []
            silent: list[str] = []
            inputs: list[str] = []
            for sign, expected in [(s, True) for s in pattern.affected] + [(s, False) for s in pattern.spared]:
                answers = {(f.id, _abnormal(f, sign.least)) for f in sign.answers(findings, side)}
                states = {state for _, state in answers if state is not None}
                if len(states) != 1:
                    silent.append(sign.name)
                    continue
                inputs += sorted(name for name, state in answers if state is not None)
                state = states.pop()
                label = f"{sign.name} {'abnormal' if state else 'normal'}"
                (supports if state == expected else against).append(label)
            if not any(name.endswith(" abnormal") for name in supports):
                continue
            parts = [f"supports: {', '.join(supports)}"]
            parts += [f"against: {', '.join(against)}"] if against else []
            parts += [f"not mentioned: {', '.join(silent)}"] if silent else []
            yield Measure(
                "nerve_pattern", f"{pattern.name} - " + "; ".join(parts), tuple(dict.fromkeys(inputs)),
                "findings beside the expected pattern; nothing is weighed", SOURCE, side,
            )  # fmt: skip
