"""A long recording drafted: ``python -m tests.benchmarks.bench_long [--hours H] [--every S]``, by default two hours

Sound of the samples (synthetic voices) every S seconds over a quiet room, written to a file and drafted as `dictation draft`
does it, in a process of its own. Prints how memory goes with the recording, how often progress was told, and how long after
Ctrl-C in its midst the process had ended, with what exit code, and whether a draft was left behind.
"""

from __future__ import annotations

import argparse
import os
import resource
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from dictation.audio import RATE_HZ, read_audio

SAMPLES = Path(__file__).parents[2] / "samples"
ROOM = 10.0  # of 32768: the room's hiss, root mean square
PART_S = 12.0


def write_long(path: Path, hours: float, every_s: float) -> float:
    """Write the recording as 16-bit WAV, piece by piece; return the seconds of it that hold sound of the samples."""
    import wave

    parts = [
        read_audio(SAMPLES / f"{name}.opus").part(0, PART_S) for name in ("carpal_tunnel", "elbow_clinic", "small_talk_only")
    ]
    draw = np.random.default_rng(1)
    held = 0.0
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE_HZ)
        for i in range(round(3600 * hours / every_s)):
            piece = draw.normal(0, ROOM, round(every_s * RATE_HZ))
            part = parts[i % len(parts)][: len(piece)]
            piece[: len(part)] += part
            file.writeframes(np.clip(piece, -32768, 32767).astype("<i2").tobytes())
            held += len(part) / RATE_HZ
    return held


def draft_told(path: Path) -> None:
    """Draft one recording in this process, and print memory as it goes: done, of, resident and peak megabytes."""
    from dictation.pipeline import draft_audio

    page = os.sysconf("SC_PAGE_SIZE")
    told = 0

    def progress(done_s: float, total_s: float) -> None:
        nonlocal told
        told += 1
        if told % 10 == 1:
            resident = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1]) * page / 1e6
            print(f"  {done_s / 60:6.1f} of {total_s / 60:.1f} min: {resident:.0f} MB", flush=True)

    began = time.process_time()
    record = draft_audio(path, recogniser="embedded", progress=progress)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{record.source.duration_s or 0:.0f} s of sound: {len(record.fields)} fields; progress told {told} times; peak memory "
        f"{peak:.0f} MB; {time.process_time() - began:.0f} s of processor time.",
        flush=True,
    )


def interrupted(path: Path, folder: Path, after_s: float) -> None:
    """Press Ctrl-C in the midst of drafting, and say what came of it."""
    child = subprocess.Popen(
        [sys.executable, "-m", "dictation", "draft", str(path), "--out-dir", str(folder), "--recogniser", "embedded"],
        stderr=subprocess.DEVNULL, preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )  # fmt: skip
    time.sleep(after_s)
    running = child.poll() is None
    began = time.monotonic()
    child.send_signal(signal.SIGINT)
    code = child.wait()
    left = [p.name for p in folder.iterdir()] if folder.exists() else []
    print(
        f"Ctrl-C after {after_s:.0f} s ({'while drafting' if running else 'too late'}): ended "
        f"{time.monotonic() - began:.1f} s later with exit code {code}; left behind: {left or 'nothing'}."
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hours", type=float, default=2.0)
    parser.add_argument("--every", type=float, default=240.0, help="seconds from one stretch of speech to the next")
    parser.add_argument(
        "--ctrl-c", type=float, default=0.0, metavar="S", help="draft once more, and press Ctrl-C after S seconds"
    )
    parser.add_argument("--told", type=Path, default=None, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.told:
        draft_told(asked.told)
        return
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.wav"
        held = write_long(path, asked.hours, asked.every)
        print(f"{asked.hours:g} hours, {held:.0f} s of them sound of the samples (synthetic voices).", flush=True)
        subprocess.run([sys.executable, "-m", "tests.benchmarks.bench_long", "--told", str(path)], check=True)
        if asked.ctrl_c:
            interrupted(path, Path(folder) / "drafts", asked.ctrl_c)


if __name__ == "__main__":
    main()
