"""Confirmed fields as measured movements: one direction, one number with its sign, one mode.

The record writes a joint's range in several ways (a movement with its number, two numbers of a joint, a deformity or lag by its
amount); here all become movements. Positive is beyond neutral, negative short of it. Imports record and result.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from dictation.record import Digit, Joint, Mode, RecordField, Side

MOVEMENTS = {
    "wrist_extension": "wrist extension",
    "wrist_flexion": "wrist flexion",
    "wrist_radial_deviation": "radial deviation of the wrist",
    "wrist_ulnar_deviation": "ulnar deviation of the wrist",
    "forearm_pronation": "pronation",
    "forearm_supination": "supination",
    "elbow_flexion": "elbow flexion",
    "elbow_extension": "elbow extension",
    "mcp_flexion": "MCP flexion",
    "mcp_extension": "MCP extension",
    "pip_flexion": "PIP flexion",
    "pip_extension": "PIP extension",
    "dip_flexion": "DIP flexion",
    "dip_extension": "DIP extension",
    "ip_flexion": "IP flexion",
    "ip_extension": "IP extension",
    "thumb_palmar_abduction": "palmar abduction of the thumb",
    "thumb_radial_abduction": "radial abduction of the thumb",
}
"""Movements measured in degrees, as they are named in a result."""

_FLEXING: tuple[Joint, ...] = ("elbow", "mcp", "pip", "dip", "ip")


@dataclass(frozen=True, slots=True)
class Movement:
    """One measured direction of one joint, in degrees; field: the id it comes from."""

    name: str
    degrees: float
    side: Side | None
    digit: Digit | None
    mode: Mode | None
    position: str | None
    occasion: str | None
    field: str

    @property
    def digits(self) -> str:
        """Return which rows of the tables are meant: "thumb", "fingers" or ""."""
        if self.name.split("_")[0] not in ("mcp", "pip", "dip", "ip", "thumb"):
            return ""
        return "thumb" if self.digit == "thumb" else "fingers"


def movements(fields: Iterable[RecordField]) -> list[Movement]:
    """Return the movements that confirmed fields measure, in the order of the fields."""
    return [movement for field in fields for movement in _read(field)]


def _read(field: RecordField) -> Iterator[Movement]:
    if field.unit not in (None, "deg") or field.decision == "rejected" or field.status == "not_assessed":
        return
    if field.concept in MOVEMENTS:
        reached = field.value if field.value is not None else field.high
        if reached is not None:
            yield _movement(field, field.concept, reached, field.mode)
    elif field.concept == "range_of_motion" and field.joint in _FLEXING:
        if field.low is not None and field.high is not None:
            yield _movement(field, f"{field.joint}_extension", -field.low, field.mode)
            yield _movement(field, f"{field.joint}_flexion", field.high, field.mode)
    elif field.joint in _FLEXING and field.value is not None and field.status != "absent":
        match field.concept:
            case "fixed_flexion_deformity":
                yield _movement(field, f"{field.joint}_extension", -field.value, "passive")
            case "extension_lag":
                yield _movement(field, f"{field.joint}_extension", -field.value, "active")
            case "hyperextension":
                yield _movement(field, f"{field.joint}_extension", field.value, field.mode)


def _movement(field: RecordField, name: str, degrees: float, mode: Mode | None) -> Movement:
    return Movement(
        name, 0.0 if degrees == 0 else degrees, field.side, field.digit, mode, field.position, field.occasion, field.id
    )


def in_words(name: str, degrees: float) -> str:
    """Return a value with its direction in words, never a bare sign.

    >>> in_words("elbow_extension", -20), in_words("elbow_extension", 5), in_words("wrist_flexion", 60)
    ('20° short of straight', '5° beyond straight', '60°')
    """
    if degrees < 0:
        return f"{abs(degrees):g}° short of {'straight' if name.endswith('extension') else 'neutral'}"
    if name.endswith("extension") and name != "wrist_extension" and degrees > 0:
        return f"{degrees:g}° beyond straight"
    return f"{degrees:g}°"
