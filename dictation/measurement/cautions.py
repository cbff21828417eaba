"""What must not wait: prompts worked out from what was heard, before anybody has confirmed it.

Every caution says what was heard and on which side, why time matters, asks, and defers to local protocol. None
diagnoses, none holds a figure of accuracy, and that none fires says nothing. Triggers and their standing: the
table "Safety cautions" in DEVELOPERS.md. Imports findings and record.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from dictation.measurement.findings import DIGITS, SIDES, Findings
from dictation.record import Digit, RecordField, Side

CHILD_UNDER_YEARS = 16
"""Common practice, no source."""

SLOW_REFILL_S = 3.0
"""Slow refill alone is a prompt from here on, and after an injury only: common practice, no source."""

STRESS_OPENING_DEG = 30.0
"""Thumb ulnar collateral, above this in extension: Heyman 1997 (seen in a journal abstract record)."""

SCAPHOID_AREA = frozenset({"anatomical_snuffbox", "scaphoid", "scaphoid_tubercle"})
INJURIES = (
    "scaphoid_fracture", "distal_radius_fracture", "hand_fracture", "scapholunate_ligament_injury", "thumb_ucl_injury",
    "flexor_tendon_injury", "extensor_tendon_injury", "finger_joint_sprain", "joint_dislocation", "wound", "bruising",
)  # fmt: skip
FRACTURES = ("scaphoid_fracture", "distal_radius_fracture", "hand_fracture")
MEDIAN_DIGITS = ("thumb", "index", "middle", None)
PROTOCOL = "Follow local protocol."


@dataclass(frozen=True, slots=True)
class Caution:
    """One prompt: a name that stays the same when drafted again, the text, and the fields it rests on (ids)."""

    name: str
    text: str
    fields: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Heard:
    """Where a rule fired, and on which fields."""

    fields: list[RecordField]
    side: Side | None = None
    digit: Digit | None = None


Rule = Callable[[Findings, float | None], Iterator[Heard]]

_RULES: list[tuple[str, str, Rule]] = []


def _caution(name: str, text: str) -> Callable[[Rule], Rule]:
    """Register a rule under its name; "{place}" in the text becomes the side and digit it fired at."""

    def register(rule: Rule) -> Rule:
        _RULES.append((name, f"{text} {PROTOCOL}", rule))
        return rule

    return register


def cautions(fields: Iterable[RecordField], age_years: float | None = None) -> list[Caution]:
    """Return the cautions that the fields raise, in a fixed order. An empty list is no reassurance.

    age_years: of the patient, where known; it only widens what is said about children.
    """
    findings = Findings(fields)
    out: dict[str, Caution] = {}
    for name, text, rule in _RULES:
        for heard in rule(findings, age_years):
            place = " ".join(word for word in (heard.side or "side not said", heard.digit) if word)
            full = "-".join(word for word in (name, heard.side, heard.digit) if word)
            ids = tuple(dict.fromkeys(field.id for field in heard.fields))
            out.setdefault(full, Caution(full, text.format(place=place), ids))
    return list(out.values())


def _sides(fields: Iterable[RecordField]) -> Iterator[tuple[Side | None, list[RecordField]]]:
    """Give the fields side by side, those without one last."""
    fields = list(fields)
    for side in (*SIDES, None):
        if one := [field for field in fields if field.side == side]:
            yield side, one


def _injury(findings: Findings, side: Side | None) -> list[RecordField]:
    """What says that there was an injury: its mechanism, a wound, bruising, an injury named as impression."""
    return findings.of("mechanism_of_injury", side=side) + findings.found(*INJURIES, side=side)


@_caution(
    "scaphoid",
    "Tender in the scaphoid area ({place}). After an injury a scaphoid fracture can be missing from the first film, and "
    "unsplinted it may not unite. Could there be one?",
)
def _scaphoid(findings: Findings, age: float | None) -> Iterator[Heard]:
    if any(field.status == "absent" for field in findings.of("previous_injury")) and not _injury(findings, None):
        return
    tender = findings.found("tenderness", where=lambda field: field.structure in SCAPHOID_AREA)
    for side, signs in _sides(tender + findings.found("scaphoid_compression_test")):
        yield Heard(signs, side)


@_caution(
    "flexor-sheath",
    "Signs along the flexor sheath ({place}). Infection in it destroys the tendon within days, and fewer than four signs do "
    "not exclude it. Does this need urgent advice now?",
)
def _flexor_sheath(findings: Findings, age: float | None) -> Iterator[Heard]:
    for side in (*SIDES, None):
        for digit in (*DIGITS, None):
            signs = [
                field
                for field in findings.found(
                    "flexed_digit_posture", "fusiform_digit_swelling", "flexor_sheath_tenderness", "pain_on_passive_extension"
                )
                + findings.found("tenderness", where=lambda field: field.structure == "flexor_sheath")
                if field.side == side and field.digit == digit
            ]
            kinds = {"flexor_sheath_tenderness" if f.concept == "tenderness" else f.concept for f in signs}
            wounds = [w for w in findings.found("wound", side=side) if digit is None or w.digit in (digit, None)]
            if len(kinds) >= 2 or (kinds and wounds):
                yield Heard(signs + wounds, side, digit)


@_caution(
    "perfusion",
    "Colour, warmth, pulse or refill not normal ({place}). A hand short of blood does not wait. Has a splint or dressing "
    "been released, and is it perfused now?",
)
def _perfusion(findings: Findings, age: float | None) -> Iterator[Heard]:
    signs = findings.found("pallor", "cyanosis", "mottling")
    signs += findings.less("perfusion", "radial_pulse", "ulnar_pulse", "skin_temperature")
    slow = [f for f in findings.of("capillary_refill_time") if _slow(f) and _injury(findings, f.side)]
    for side, here in _sides(signs + slow):
        yield Heard(here, side)


def _slow(field: RecordField) -> bool:
    if field.value is None:
        return field.status in ("reduced", "absent")
    return field.value >= SLOW_REFILL_S and field.comparator not in ("<", "<=")


@_caution(
    "pulseless-child",
    "No pulse felt in a child ({place}). After an elbow injury the artery may be caught even where the hand is pink. Who is to "
    "see this child now?",
)
def _pulseless_child(findings: Findings, age: float | None) -> Iterator[Heard]:
    if age is None or age >= CHILD_UNDER_YEARS:
        return
    for side, signs in _sides(f for f in findings.of("radial_pulse", "perfusion") if f.status == "absent"):
        yield Heard(signs, side)


@_caution(
    "wound-over-joint",
    "A wound over a joint ({place}). It may enter the joint, and over a knuckle it may be a bite that looks small. "
    "Was it looked at with the fist closed?",
)
def _wound_over_joint(findings: Findings, age: float | None) -> Iterator[Heard]:
    over = findings.found("wound", where=lambda field: field.joint is not None or field.structure == "metacarpal_head")
    for side, signs in _sides(over):
        yield Heard(signs, side)


@_caution(
    "wound-and-fracture",
    "A wound and a fracture on the same side ({place}). An open fracture needs early antibiotics and washing out. Does the "
    "wound lie over it?",
)
def _wound_and_fracture(findings: Findings, age: float | None) -> Iterator[Heard]:
    for side, wounds in _sides(findings.found("wound")):
        if broken := findings.found(*FRACTURES, side=side):
            yield Heard(wounds + broken, side)


@_caution(
    "divided-nerve",
    "A wound and altered feeling in the same digit ({place}). A cut nerve does best repaired early, and an artery runs beside "
    "it. Does it need exploring?",
)
def _divided_nerve(findings: Findings, age: float | None) -> Iterator[Heard]:
    for wound in findings.found("wound"):
        if wound.digit is None:
            continue
        numb = findings.less("digital_nerve_sensation", "gross_sensation", "light_touch", "pinprick_sensation")
        numb += findings.found("reported_numbness")
        here = [field for field in numb if field.digit == wound.digit and field.side in (wound.side, None)]
        if here:
            yield Heard([wound, *here], wound.side, wound.digit)


@_caution(
    "acute-median",
    "Numbness in the median area after an injury ({place}). Where it grows over hours the nerve is under pressure, and release "
    "does not wait. Is it getting worse?",
)
def _acute_median(findings: Findings, age: float | None) -> Iterator[Heard]:
    numb = findings.less("median_nerve_sensation")
    numb += findings.found(
        "reported_numbness",
        where=lambda field: field.digit in MEDIAN_DIGITS and (field.digit is not None or field.structure == "median_nerve"),
    )
    for side, signs in _sides(numb):
        if injury := _injury(findings, side):
            yield Heard(signs + injury, side)


@_caution(
    "compartment",
    "A tense compartment, or pain out of proportion ({place}). Muscle dies within hours, long before the pulse goes. Is there "
    "pain on passive stretch, and who is to see it now?",
)
def _compartment(findings: Findings, age: float | None) -> Iterator[Heard]:
    signs = findings.found("tense_compartment")
    signs += findings.found("reported_pain", "pain_on_movement", where=lambda field: "proportion" in (field.qualifier or ""))
    stretched = findings.found("pain_on_passive_extension", where=lambda field: field.digit is None)
    signs += [field for field in stretched if _injury(findings, field.side)]
    for side, here in _sides(signs):
        yield Heard(here, side)


@_caution(
    "hot-joint",
    "A hot, swollen joint ({place}), painful to move or with fever. An infected joint is lost within days. Could it be, and is "
    "it to be aspirated before antibiotics?",
)
def _hot_joint(findings: Findings, age: float | None) -> Iterator[Heard]:
    for hot in findings.found("increased_warmth", "erythema"):
        if hot.joint is None:
            continue
        here = [
            field
            for field in findings.found("swelling", "joint_effusion", "synovitis")
            if (field.side, field.joint, field.digit) == (hot.side, hot.joint, hot.digit)
        ]
        worse = findings.found("reported_fever") + [
            field for field in findings.found("pain_on_movement", side=hot.side) if field.joint in (hot.joint, None)
        ]
        if here and worse:
            yield Heard([hot, *here, *worse], hot.side, hot.digit)


@_caution(
    "spreading-infection",
    "Redness that tracks, or crepitus or mottling with fever ({place}). Infection of the soft tissues can spread within hours. "
    "Is the patient unwell, and are the margins marked?",
)
def _spreading_infection(findings: Findings, age: float | None) -> Iterator[Heard]:
    fever = findings.found("reported_fever")
    for side, signs in _sides(findings.found("tracking_erythema")):
        yield Heard(signs + fever, side)
    if fever:
        for side, red in _sides(findings.found("erythema", "swelling")):
            gas = [field for field in findings.found("crepitus", "mottling", side=side) if field.joint is None]
            if gas:
                yield Heard(red + gas + fever, side)


@_caution(
    "high-pressure-injection",
    "An injection under high pressure ({place}). However small the hole, what went in spreads along the planes of the hand and "
    "kills tissue. Who is to explore it, and when?",
)
def _high_pressure(findings: Findings, age: float | None) -> Iterator[Heard]:
    injected = [
        field
        for field in findings.of("mechanism_of_injury")
        if "pressure" in (field.qualifier or "").casefold() and "high" in (field.qualifier or "").casefold()
    ]
    for side, here in _sides(injected):
        yield Heard(here, side)


@_caution(
    "weak-clumsy-hands",
    "Both hands numb, and clumsy or weak. The spinal cord in the neck can be the cause, and what is lost may not come "
    "back. Were gait, reflexes and neck examined?",
)
def _clumsy_hands(findings: Findings, age: float | None) -> Iterator[Heard]:
    numb = findings.found("reported_numbness") + findings.less("gross_sensation", "light_touch")
    clumsy = findings.found("reported_weakness")
    clumsy += findings.less("fine_motor_function", "buttoning", "writing", "picking_up_coin", "hand_function")
    if all({field.side for field in signs} >= set(SIDES) for signs in (numb, clumsy)):
        yield Heard(numb + clumsy)


def _torn(findings: Findings, structure: str) -> Iterator[RecordField]:
    """Give the fields by which a tendon does not work."""
    for field in findings.less("tendon_integrity"):
        if field.structure == structure:
            yield field


@_caution(
    "closed-profundus",
    "The deep flexor does not work and no wound was spoken of ({place}). Pulled off in a closed injury it retracts, and repair "
    "is a matter of days. Could it be avulsed?",
)
def _closed_profundus(findings: Findings, age: float | None) -> Iterator[Heard]:
    for field in _torn(findings, "flexor_digitorum_profundus"):
        if not findings.found("wound", side=field.side, digit=field.digit):
            yield Heard([field], field.side, field.digit)


@_caution(
    "central-slip",
    "The central slip may not hold ({place}). Splinted early the finger stays straight; late it deforms. Is the joint to be "
    "splinted straight from today?",
)
def _central_slip(findings: Findings, age: float | None) -> Iterator[Heard]:
    signs = findings.found("elson_test", "boyes_test") + list(_torn(findings, "central_slip"))
    for field in signs:
        yield Heard([field], field.side, field.digit)


@_caution(
    "thumb-ulnar-collateral",
    "The ulnar collateral ligament of the thumb opens under stress ({place}). A complete tear may not heal by itself and is "
    "best repaired within weeks. Is it complete?",
)
def _thumb_ulnar_collateral(findings: Findings, age: float | None) -> Iterator[Heard]:
    opened = [
        field
        for field in findings.of("thumb_ucl_stress_test")
        if field.status == "positive" or (field.value is not None and field.value > STRESS_OPENING_DEG)
    ]
    for side, here in _sides(opened):
        yield Heard(here, side)


@_caution(
    "distal-biceps",
    "The distal biceps tendon may be torn ({place}). It retracts, and repair is best within two to three weeks. Who is to see "
    "this, and by when?",
)
def _distal_biceps(findings: Findings, age: float | None) -> Iterator[Heard]:
    signs = findings.found("hook_test", "biceps_squeeze_test") + list(_torn(findings, "distal_biceps_tendon"))
    for side, here in _sides(signs):
        yield Heard(here, side)


@_caution(
    "malrotation",
    "A finger lies rotated ({place}). After a fracture, rotation does not remodel and is far harder to mend once it has "
    "united. Is there a fracture, and does it need reducing?",
)
def _malrotation(findings: Findings, age: float | None) -> Iterator[Heard]:
    for field in findings.found("malrotation"):
        yield Heard([field], field.side, field.digit)


@_caution(
    "pigmented-nail",
    "A pigmented streak in a nail ({place}). A melanoma under the nail is often taken for a bruise, and delay matters. Is it "
    "new, wide or changing, and who is to see it?",
)
def _pigmented_nail(findings: Findings, age: float | None) -> Iterator[Heard]:
    for field in findings.found("pigmented_nail_streak"):
        yield Heard([field], field.side, field.digit)
