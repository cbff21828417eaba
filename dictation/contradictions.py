"""Readings that cannot all be true, found over the whole record: which fields, and one sentence each that says why.

The same thing told in two ways; a finding absent over a wide place and present within it; movements, arcs and losses that no
joint has at once; a total or a mean that its numbers do not give; a place that a digit has not. Never says which one is wrong.
What goes in: all fields of a draft and the lexicon. Pure; takes time in step with the number of fields.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations
from statistics import fmean

from dictation.lexicon.entries import Lexicon
from dictation.record import FlagCode, RecordField
from dictation.transcript import shortened
from dictation.units import in_unit

SAME = ("concept", "side", "digit", "joint", "structure", "aspect", "mode", "trial", "position", "occasion")
"""Keys in which two readings of one thing agree."""
PLACE = ("digit", "joint", "structure", "aspect")
MEASURED = ("side", "digit", "joint", "position", "occasion")
TOLD_BESIDE = {"plan", "impression", "context", "reported"}
"""Parts where two values are two things said; only a status both ways disagrees."""
ERROR_DEG = 5
"""Degrees that two readings of one joint may differ by; a working rule of goniometry, common practice, no source."""
ERROR_MEAN = 1
"""A spoken mean is rounded; chosen by us, no source."""
FINGER, THUMB = ("mcp", "pip", "dip"), ("mcp", "ip")
Doubt = tuple[RecordField, str]


def find_contradictions(fields: Sequence[RecordField], lexicon: Lexicon) -> Iterator[Doubt]:
    """Yield every field that cannot stand beside another, with the sentence that says so."""
    yield from _told_in_two_ways(fields, lexicon)
    yield from _absent_around(fields, lexicon)
    yield from _impossible_movements(fields)
    yield from _wrong_totals(fields)
    yield from _wrong_means(fields, lexicon)
    yield from _no_such_place(fields, lexicon)


def said_by(f: RecordField) -> str:
    """Return the words of a field's statement, for a message."""
    return shortened(f.evidence[0].said)


def _both(one: RecordField, other: RecordField, why: str) -> Iterator[Doubt]:
    message = f'"{said_by(one)}" and "{said_by(other)}" disagree: {why}.'
    yield from ((one, message), (other, message))


def _grouped(fields: Iterable[RecordField], keys: Sequence[str]) -> list[list[RecordField]]:
    groups: dict[tuple[object, ...], list[RecordField]] = defaultdict(list)
    for f in fields:
        groups[tuple(getattr(f, key) for key in keys)].append(f)
    return [members for members in groups.values() if len(members) > 1]


def _told(f: RecordField, unit: str | None) -> tuple[object, ...]:
    """What a field says of its thing. unit: to the whole of which it is rounded, so that 20 kg and 44 lb are no two grips."""
    numbers = (f.value, f.low, f.high)
    if unit is not None:
        numbers = tuple(None if n is None else round(in_unit(n, f.unit, unit)) for n in numbers)  # type: ignore[assignment]
    return (f.status, *numbers, f.grade_sign)


def _told_in_two_ways(fields: Sequence[RecordField], lexicon: Lexicon) -> Iterator[Doubt]:
    for members in _grouped(fields, SAME):
        several = len({f.unit for f in members}) > 1
        told = [_told(f, lexicon.concepts[f.concept].unit if several else None) for f in members]
        if members[0].part in TOLD_BESIDE and len({f.status for f in members}) < 2:
            continue
        for f, mine in zip(members, told, strict=True):
            other = next((g for g, theirs in zip(members, told, strict=True) if theirs != mine), None)
            if other is not None:
                yield f, f'Two readings disagree: "{said_by(f)}" and "{said_by(other)}".'


def _absent_around(fields: Sequence[RecordField], lexicon: Lexicon) -> Iterator[Doubt]:
    """ "No swelling of the hand", and a swollen finger of it."""
    absent: dict[tuple[object, ...], RecordField] = {}
    looked = [f for f in fields if f.part in {"look", "feel"} or lexicon.concepts[f.concept].kind == "finding"]

    def key(f: RecordField, place: Iterable[str]) -> tuple[object, ...]:
        return f.concept, f.side, f.position, f.occasion, *((k, getattr(f, k)) for k in place)

    def place(f: RecordField) -> list[str]:
        return [k for k in PLACE if getattr(f, k)]

    for f in looked:
        if f.status == "absent":
            absent.setdefault(key(f, place(f)), f)
    for f in looked if absent else ():
        excepted = any(flag.code is FlagCode.negation_unclear for flag in f.flags)  # "… except at the index" asks already
        within = place(f) if f.status == "present" and not excepted else []
        for wider in (part for n in range(len(within)) for part in combinations(within, n)):
            if (other := absent.get(key(f, wider))) is not None:
                yield from _both(f, other, "present within a place where it is absent")


def _flexion(f: RecordField) -> bool:
    return f.value is not None and f.concept == f"{f.joint}_flexion"


def _short_of_straight(f: RecordField) -> float | None:
    """How many degrees a joint is told to stay short of straight."""
    if f.value is None or f.status == "absent":
        return None
    if f.concept in {"fixed_flexion_deformity", "extension_lag"}:
        return f.value
    return -f.value if f.concept == f"{f.joint}_extension" and f.value < 0 else None


def _impossible_movements(fields: Sequence[RecordField]) -> Iterator[Doubt]:
    moving = [f for f in fields if f.part == "move" and (f.value is not None or f.low is not None)]
    for members in _grouped(moving, MEASURED):
        bent = [f for f in members if _flexion(f)]
        short = [(loss, f) for f in members if (loss := _short_of_straight(f)) is not None]
        if bent and short:
            worst, stiff = max(short, key=lambda pair: pair[0])
            for f in bent:
                if f.value is not None and f.value < worst:
                    yield from _both(f, stiff, f"bent to {f.value:g}, yet {worst:g} short of straight")
        arcs = [f for f in members if f.concept == "range_of_motion" and f.low is not None and f.high is not None]
        for arc in arcs[:1]:
            for f in bent:
                if f.mode == arc.mode and abs((f.value or 0) - (arc.high or 0)) > ERROR_DEG:
                    yield from _both(f, arc, "the arc ends elsewhere than the movement")
            for loss, f in short:
                if loss - (arc.low or 0) > ERROR_DEG:
                    yield from _both(f, arc, f"the arc begins before {loss:g} short of straight")
    for members in _grouped((f for f in moving if f.value is not None), (*MEASURED, "concept", "trial")):
        active = [f for f in members if f.mode == "active"]
        passive = [f for f in members if f.mode == "passive"]
        if active and passive:
            most, least = max(active, key=lambda f: f.value or 0), min(passive, key=lambda f: f.value or 0)
            if (most.value or 0) - (least.value or 0) > ERROR_DEG:
                yield from _both(most, least, "more actively than passively")


def _wrong_totals(fields: Sequence[RecordField]) -> Iterator[Doubt]:
    """Total active motion: flexion at a digit's joints less their losses of extension; hyperextension adds nothing.

    A loss that nobody mentioned may be there, so a smaller total is doubted only where all are told.
    Source: American Society for Surgery of the Hand, total active motion method, as summarised.
    """
    counted = [f for f in fields if f.digit and f.part == "move" and f.mode != "passive"]
    for members in _grouped(counted, ("side", "digit", "position", "occasion")):
        joints = THUMB if members[0].digit == "thumb" else FINGER
        bent = {str(f.joint): f for f in members if _flexion(f)}
        losses = {str(f.joint): loss for f in members if (loss := _short_of_straight(f)) is not None}
        straight = {str(f.joint) for f in members if f.concept == f"{f.joint}_extension" and f.value is not None}
        if not all(j in bent for j in joints):
            continue
        total = sum(bent[j].value or 0 for j in joints) - sum(losses.get(j, 0) for j in joints)
        for f in members:
            over = (f.value or 0) - total
            if f.concept != "total_active_motion" or f.value is None:
                continue
            if over > ERROR_DEG or (over < -ERROR_DEG and all(j in losses or j in straight for j in joints)):
                yield f, f'"{said_by(f)}" is not what the joints of the {f.digit} add up to ({total:g}).'
                yield from ((bent[j], f'"{said_by(bent[j])}" does not add up to "{said_by(f)}".') for j in joints)


def _wrong_means(fields: Sequence[RecordField], lexicon: Lexicon) -> Iterator[Doubt]:
    tried = [f for f in fields if f.trial is not None and f.value is not None]
    for members in _grouped(tried, [key for key in SAME if key != "trial"]):
        unit = lexicon.concepts[members[0].concept].unit
        trials = [in_unit(f.value or 0, f.unit, unit) for f in members if f.trial != "mean"]
        for f in members:
            if f.trial == "mean" and trials and abs(in_unit(f.value or 0, f.unit, unit) - fmean(trials)) > ERROR_MEAN:
                yield f, f'"{said_by(f)}" is not the mean of the trials ({fmean(trials):.3g}).'


def _no_such_place(fields: Sequence[RecordField], lexicon: Lexicon) -> Iterator[Doubt]:
    """A thumb has no DIP joint and no deep flexor of the fingers; "all five PIPs" holds the thumb's."""
    for f in fields:
        for place in (lexicon.joints.get(f.joint or ""), lexicon.structures.get(f.structure or "")):
            if place is not None and place.digits and f.digit and f.digit not in place.digits:
                name = f"{place.id.upper()} joint" if place.kind == "joint" else place.preferred.lower()
                yield f, f'The {f.digit} has no {name}: "{said_by(f)}".'
