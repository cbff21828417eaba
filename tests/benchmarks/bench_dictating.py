"""A whole live dictation, sound to fields: ``python -m tests.benchmarks.bench_dictating [--minutes M] [--hours H]``.

Three figures of ``dictation/live``, embedded recogniser, synthetic voices, by the wall clock of the machine as it is:
from the last sample of speech to the fields on the screen, endpoint silence included, the sound played in real time; the
processor time of both processes while it listens to silence; and the memory of both over H hours of which a tenth is speech,
pushed as fast as they are read.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np

from dictation.audio import PADDING_S, RATE_HZ
from dictation.lexicon.loading import load_lexicon
from dictation.live.dictating import Dictating, Now
from dictation.live.kept import Kept
from dictation.live.shown import shown
from dictation.pipeline import draft_so_far
from dictation.recognition.choose import choose_recogniser
from tests.benchmarks.bench_live import PIECE, played

QUIET_S = 60
TICK_S = 1 / os.sysconf("SC_CLK_TCK")


def begin(folder: Path, changed: Callable[[Now], None] | None = None) -> Dictating:
    """Return a dictation with the embedded recogniser, its decoder loaded."""
    lexicon = load_lexicon()
    made = Dictating(
        Kept(folder), partial(choose_recogniser, "embedded", lexicon),
        lambda heard, s, by: draft_so_far(heard, "bench", s, by, lexicon), changed,
    )  # fmt: skip
    made.push(np.zeros(RATE_HZ, np.int16))
    while made.recogniser is None or made.now.late_s > 0.5:
        time.sleep(0.1)
    return made


def latency(minutes: float) -> list[float]:
    """Return the seconds from last speech to what the screen shows of it, for each utterance."""
    out: list[float] = []
    lexicon = load_lexicon()
    for samples in played(minutes):
        began: list[float] = []
        told = 0

        def changed(now: Now, began: list[float] = began) -> None:
            nonlocal told
            if not began or len(now.utterances) == told:
                return
            shown(now, lexicon)
            clock = time.monotonic() - began[0]
            out.extend(clock - (u.segment.end - PADDING_S) for u in now.utterances[told:])
            told = len(now.utterances)

        with tempfile.TemporaryDirectory() as folder, begin(Path(folder) / "d", changed) as dictating:
            begun_s = dictating.now.recorded_s
            began.append(time.monotonic() - begun_s)
            for at in range(0, len(samples.pcm), PIECE):
                due = began[0] + begun_s + (at + PIECE) / RATE_HZ
                time.sleep(max(0.0, due - time.monotonic()))
                dictating.push(samples.pcm[at : at + PIECE])
            time.sleep(2)
    return out


def idle(seconds: float) -> float:
    """Return the share of one core that listening to silence takes, both processes together."""
    rng = np.random.default_rng(7)
    with tempfile.TemporaryDirectory() as folder, begin(Path(folder) / "d") as dictating:
        before, began = _cpu_s(), time.monotonic()
        for i in range(int(seconds * 10)):
            time.sleep(max(0.0, began + i / 10 - time.monotonic()))
            dictating.push(rng.normal(0, 20, PIECE).astype(np.int16))
        return (_cpu_s() - before) / (time.monotonic() - began)


def memory(hours: float) -> list[tuple[float, int, int]]:
    """Return hours of sound, and the MB of both processes then: the one that listens, and the one that decodes."""
    speech = next(iter(played(0.5)))
    rng = np.random.default_rng(7)
    quiet = rng.normal(0, 20, 9 * len(speech.pcm)).astype(np.int16)
    found: list[tuple[float, int, int]] = []
    with tempfile.TemporaryDirectory() as folder, begin(Path(folder) / "d") as dictating:
        while dictating.now.recorded_s < hours * 3600:
            for part in (speech.pcm, quiet):
                for at in range(0, len(part), 10 * PIECE):
                    dictating.push(part[at : at + 10 * PIECE])
                    while dictating.now.late_s > 20:
                        time.sleep(0.02)
            at_h = dictating.now.recorded_s / 3600
            if not found or at_h - found[-1][0] >= hours / 6:
                found.append((at_h, _mb(os.getpid()), _mb(_child())))
    return found


def _child() -> int:
    (child,) = multiprocessing.active_children()
    assert child.pid is not None
    return child.pid


def _cpu_s() -> float:
    """Processor seconds of this process and its decoder."""
    out = 0.0
    for pid in (os.getpid(), _child()):
        fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
        out += (int(fields[11]) + int(fields[12])) * TICK_S
    return out


def _mb(pid: int) -> int:
    line = next(one for one in Path(f"/proc/{pid}/status").read_text().splitlines() if one.startswith("VmRSS"))
    return int(line.split()[1]) // 1024


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=3.0)
    parser.add_argument("--hours", type=float, default=3.0)
    asked = parser.parse_args()
    if asked.minutes:
        found = latency(asked.minutes)
        middle, late = np.percentile(found, [50, 95])
        print(f"last speech to fields: {len(found)} utterances, median {middle:.2f} s, 95th percentile {late:.2f} s")
    print(f"listening to silence: {100 * idle(QUIET_S):.1f} % of a core")
    if asked.hours:
        for at_h, here, there in memory(asked.hours):
            print(f"after {at_h:.1f} h of sound: {here} MB here, {there} MB in the decoder")


if __name__ == "__main__":
    main()
