"""The page as a program of its own, for tests in a real browser: started, stopped and started again over one store."""

from __future__ import annotations

import os
import queue
import signal
import subprocess
import sys
import threading
from pathlib import Path

from scripted import WHEN, WHO, Script, taken

from dictation.review.opening import read_file, take_in
from dictation.review.rules import Review
from dictation.store.sound import add_sound, file_checksum
from dictation.store.store import open_store

ROOT = Path(__file__).parents[2]
PATIENCE_S = 60.0


class Served:
    """A running page. address: without a path. store: its folder."""

    def __init__(self, folder: Path, *, port: int = 0, who: str = WHO) -> None:
        self.store = folder / "store"
        self._folder = folder
        self._who = who
        self._lines: queue.Queue[str] = queue.Queue()
        self.start(port)

    def start(self, port: int = 0) -> None:
        """Start the program. Fails with its output where it says no address."""
        environment = {key: value for key, value in os.environ.items() if not key.startswith(("DICTATION_", "XDG_"))}
        environment |= {"DICTATION_REVIEWER": self._who, "DICTATION_RECOGNISER": "embedded", "HOME": str(self._folder)}
        environment["PYTHONPATH"] = os.pathsep.join(filter(None, [str(ROOT), environment.get("PYTHONPATH", "")]))
        cache = os.environ.get("XDG_CACHE_HOME", str(Path.home() / ".cache"))
        environment["XDG_CACHE_HOME"] = cache  # what is compiled from the lexicon is the same for all
        command = [sys.executable, "-m", "dictation", "--store", str(self.store), "page", "--no-browser", "--port", str(port)]
        self._process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=environment, cwd=self._folder
        )
        threading.Thread(target=self._read, args=(self._process,), daemon=True).start()
        self.address = self.link().split("/enter")[0]
        self.port = int(self.address.rsplit(":", 1)[1])

    def link(self) -> str:
        """Return the next address with a code that the program prints."""
        said = []
        while True:
            try:
                line = self._lines.get(timeout=PATIENCE_S)
            except queue.Empty:
                raise AssertionError(f"the page printed no address, but: {said}") from None
            if "/enter?code=" in line:
                self.code = line.rsplit("=", 1)[1].strip()
                return line.split(": ", 1)[1].strip()
            said.append(line)

    def stop(self) -> str:
        """End the program as Ctrl-C does, and return what it said last."""
        if self._process.poll() is None:
            self._process.send_signal(signal.SIGINT)
            try:
                self._process.wait(15)
            except subprocess.TimeoutExpired:
                self._process.kill()
                self._process.wait()
        return "".join(self._lines.queue)

    @property
    def pid(self) -> int:
        """The program's process."""
        return self._process.pid

    def kill(self) -> None:
        """End the program as a loss of power does."""
        self._process.kill()
        self._process.wait()

    def _read(self, process: subprocess.Popen[str]) -> None:
        assert process.stdout is not None
        for line in process.stdout:
            self._lines.put(line)
        process.stdout.close()


def seed(folder: Path, script: Script) -> Review:
    """Take an invented draft into the store of a page that is started afterwards, or runs."""
    path = folder / "invented.draft.json"
    path.write_text(script.draft().model_dump_json(), encoding="utf-8")
    return taken(path, folder / "store")


def seed_heard(folder: Path, script: Script, sound: Path, reference: str) -> Review:
    """Take an invented draft into the store as if it had been heard from a recording, with that."""
    draft = script.draft()
    draft.source.sha256, draft.source.name = file_checksum(sound), sound.name
    path = folder / f"{reference}.draft.json"
    path.write_text(draft.model_dump_json(), encoding="utf-8")
    store = open_store(folder / "store")
    encounter = take_in(store, read_file(path), reference, WHO, WHEN)
    add_sound(encounter, sound, keep=False, who=WHO, time=WHEN)
    store.close()
    return taken(path, folder / "store")


def many_fields(count: int) -> Script:
    """Return an invented record of many statements: findings, numbers and plain negatives on both sides."""
    script = Script()
    negatives = ("erythema", "scar", "deformity", "swelling", "crepitus", "tenderness")
    movements = ("wrist_extension", "wrist_flexion", "forearm_pronation", "forearm_supination", "elbow_flexion")
    for number in range(count):
        side = "right" if number % 2 else "left"
        if number % 3 == 0:
            concept, position = movements[number // 3 % len(movements)], f"in position {number}"
            script.say(concept, f"measured {number}", side=side, value=float(20 + number % 40), unit="deg", position=position)
        elif number % 3 == 1:
            script.say(negatives[number // 3 % len(negatives)], f"no finding {number}", side=side, status="absent")
        else:
            script.say("swelling", f"swelling {number}", side=side, status="present", qualifier=f"number {number}")
    return script
