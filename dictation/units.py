"""The units that say the same thing in another measure: pounds and kilograms, millimetres and centimetres, weeks and days.

Units are UCUM. Pure; imports nothing of ours.
"""

from __future__ import annotations

TO_UNIT = {
    ("[lb_av]", "kg"): 0.45359237,
    ("mm", "cm"): 0.1,
    ("cm", "mm"): 10.0,
    ("min", "s"): 60.0,
    ("wk", "d"): 7.0,
    ("mo", "d"): 30.4375,
    ("a", "d"): 365.25,
}
"""1 lb = 0.45359237 kg exactly: international avoirdupois pound, 1959 agreement (NIST SP 811, appendix B)."""


def in_unit(value: float, unit: str | None, wanted: str | None) -> float:
    """Return a value in the wanted unit; unchanged where its own is not known or cannot be converted.

    >>> in_unit(3.0, "cm", "mm")
    30.0
    """
    return value * TO_UNIT.get((unit or "", wanted or ""), 1.0)
