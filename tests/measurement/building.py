"""Confirmed fields for the tests of measures: invented, a line each."""

from __future__ import annotations

from typing import Any

from dictation.record import RecordField

FIXED: dict[str, dict[str, Any]] = {
    "wrist": {"joint": "wrist"}, "elbow": {"joint": "elbow"}, "mcp": {"joint": "mcp"}, "pip": {"joint": "pip"},
    "dip": {"joint": "dip"}, "ip": {"joint": "ip", "digit": "thumb"},
}  # fmt: skip


def confirmed(*given: tuple[str, dict[str, Any]]) -> list[RecordField]:
    """Return fields on the right side, confirmed, with ids f0, f1 …; keys given win."""
    fields = []
    for n, (concept, keys) in enumerate(given):
        base: dict[str, Any] = {
            "part": "move",
            "side": "right",
            "decision": "confirmed",
            **FIXED.get(concept.split("_")[0], {}),
        }
        fields.append(RecordField(id=f"f{n}", concept=concept, **{**base, **keys}))
    return fields


def degrees(concept: str, value: float, **keys: Any) -> tuple[str, dict[str, Any]]:
    """Return a measured movement."""
    return concept, {"value": float(value), "unit": "deg", **keys}


def digit(flexion: dict[str, float], deficit: dict[str, float], **keys: Any) -> list[tuple[str, dict[str, Any]]]:
    """Return active flexion and extension of a digit's joints; the deficit is how far short of straight."""
    keys = {"mode": "active", "digit": "index", **keys}
    moved = [degrees(f"{joint}_flexion", value, **keys) for joint, value in flexion.items()]
    return moved + [degrees(f"{joint}_extension", -value, **keys) for joint, value in deficit.items()]
