"""The published tables beside this file, read once. Each row names its source's key and standing."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

from dictation.measurement.result import Sex, Source, Standing
from dictation.record import Side

_FOLDER = Path(__file__).parent

RANGE_SOURCES = {
    "aaos": "AAOS, Joint Motion: Method of Measuring and Recording, 1965 (as tabulated in Norkin & White, 2016)",
    "ama": "AMA Guides to the Evaluation of Permanent Impairment (as tabulated in Norkin & White, 2016)",
    "boone_azen": "Boone & Azen 1979, males 1 to 54 years, mean (as tabulated in Norkin & White, 2016)",
    "boone_azen_adult": "Boone & Azen 1979, males 20 to 54 years, mean",
    "green_wolf": "Green & Wolf, 18 to 55 years, n = 20, mean (as tabulated in Norkin & White, 2016)",
    "macedo_magee": "Macedo & Magee, females 18 to 59 years, mean (as tabulated in Norkin & White, 2016)",
    "walker": "Walker et al., 65 to 85 years, mean (as tabulated in Norkin & White, 2016)",
    "hand_surgery": "Typical range of a hand-surgery reference (usually credited to ASSH)",
    "kendall": "Kendall et al., Muscles: Testing and Function, 1993",
    "hume": "Hume et al. 1990, active mean",
    "burn_scale": "Johnson et al., total active motion rating scale",
}
"""Tables of normal ranges a clinic may choose from; none is averaged with another."""


@cache
def _rows(name: str) -> tuple[dict[str, str], ...]:
    with (_FOLDER / name).open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file, delimiter="\t"))


def _standing(row: dict[str, str]) -> Standing:
    return "verified" if row["standing"] == "verified" else "published"


def normal_ranges(movement: str, digits: str) -> dict[str, tuple[float, Source]]:
    """Return every table's normal value of a movement in degrees, by the table's key.

    digits: "thumb", "fingers", or "" for wrist, forearm and elbow.
    """
    return {
        row["source"]: (float(row["degrees"]), Source(RANGE_SOURCES[row["source"]], _standing(row)))
        for row in _rows("normal_ranges.tsv")
        if row["movement"] == movement and row["digits"] == digits
    }


def strength_norm(concept: str, sex: Sex, age_years: float, side: Side) -> tuple[float, float, Source] | None:
    """Return mean and standard deviation in pounds for a strength concept; None outside 20 years and over.

    Mathiowetz et al. 1985: mean of three trials, right and left hand of the body.
    """
    for row in _rows("strength_norms.tsv"):
        upper = float(row["age_to"] or "inf")
        if (row["concept"], row["sex"], row["side"]) == (concept, sex, side) and float(
            row["age_from"]
        ) <= age_years < upper + 1:
            source = Source("Mathiowetz et al. 1985, mean of three trials, right and left hand", _standing(row))
            return float(row["mean_lb"]), float(row["sd_lb"]), source
    return None


def grip_centiles(sex: Sex) -> dict[int, tuple[float, ...]]:
    """Return the 10th, 25th, 50th, 75th and 90th centile in kg by age in years.

    Dodds et al. 2014, Great Britain, best of either hand (seen in transcriptions of the paper's table).
    """
    return {
        int(row["age"]): tuple(float(row[p]) for p in ("p10", "p25", "p50", "p75", "p90"))
        for row in _rows("grip_centiles.tsv")
        if row["sex"] == sex
    }
