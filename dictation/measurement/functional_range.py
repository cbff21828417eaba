"""Whether a joint reaches the range that daily tasks were found to need, study by study.

The studies differ since they ask different things; each is named and none is preferred. Imports movements and result.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from dictation.measurement.movements import MOVEMENTS, Movement
from dictation.measurement.result import Measure, Source, number


@dataclass(frozen=True, slots=True)
class Study:
    """A functional range: the least degrees in each direction (negative: need not reach straight)."""

    source: Source
    needs: Mapping[str, float]
    digits: str = ""


STUDIES = (
    Study(
        Source("Ryu et al. 1991, most tasks (70 percent of maximum)", "verified"),
        {"wrist_flexion": 40, "wrist_extension": 40},
    ),
    Study(
        Source("Palmer et al. 1985", "verified"),
        {"wrist_flexion": 5, "wrist_extension": 30, "wrist_radial_deviation": 10, "wrist_ulnar_deviation": 15},
    ),
    Study(Source("Brumfield & Champoux 1984", "verified"), {"wrist_flexion": 10, "wrist_extension": 35}),
    Study(
        Source("Morrey et al. 1981", "verified"),
        {"elbow_flexion": 130, "elbow_extension": -30, "forearm_pronation": 50, "forearm_supination": 50},
    ),
    Study(
        Source("Sardelli et al. 2011, contemporary tasks", "verified"),
        {"elbow_flexion": 142, "elbow_extension": -23, "forearm_pronation": 65, "forearm_supination": 77},
    ),
    Study(
        Source("Hume et al. 1990, mean functional flexion", "verified"),
        {"mcp_flexion": 61, "pip_flexion": 60, "dip_flexion": 39},
        "fingers",
    ),
    Study(Source("Hume et al. 1990, mean functional flexion", "verified"), {"mcp_flexion": 21, "ip_flexion": 18}, "thumb"),
)


def functional_ranges(measured: Sequence[Movement]) -> Iterator[Measure]:
    """Give for each study, side and digit what was measured of its directions: reached, or by how much not."""
    for study in STUDIES:
        of_study = [m for m in measured if m.name in study.needs and m.digits == study.digits]
        places = dict.fromkeys((m.side, m.digit, m.mode, m.position, m.occasion) for m in of_study)
        for place in places:
            here = {m.name: m for m in of_study if (m.side, m.digit, m.mode, m.position, m.occasion) == place}
            parts, short = [], 0.0
            for name, need in study.needs.items():
                if name not in here:
                    continue
                missing = need - here[name].degrees
                short = max(short, missing)
                parts.append(f"{MOVEMENTS[name]} " + ("reached" if missing <= 0 else f"{number(missing)}° short"))
            left_out = [MOVEMENTS[name] for name in study.needs if name not in here]
            yield Measure(
                "functional_range", "; ".join(parts), tuple(dict.fromkeys(m.field for m in here.values())),
                "least degrees of the study - measured", study.source, place[0], place[1], max(short, 0.0), "deg",
                (f"Not measured: {', '.join(left_out)}.",) if left_out else (),
            )  # fmt: skip
