"""For every test: no connection leaves the machine (see offline/). Modules beside this can be imported."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

GUARD = Path(__file__).parent / "offline"
sys.path.insert(0, str(GUARD))

import network_guard  # noqa: E402  # found by the line above


@pytest.fixture(autouse=True)
def attempts(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[list[str]]:
    """Refuse every way off the machine during a test, in its child processes too; trying fails the test.

    Gives the refused attempts, for tests of the guard itself. Tests marked slow may build and install.
    """
    if request.node.get_closest_marker("slow") is not None:
        yield []
        return
    paths = [str(GUARD), *filter(None, os.environ.get("PYTHONPATH", "").split(os.pathsep))]
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join(paths))
    for name in ("http_proxy", "https_proxy", "all_proxy"):  # a proxy on this machine would be a way out
        monkeypatch.delenv(name, raising=False)
        monkeypatch.delenv(name.upper(), raising=False)
    with network_guard.armed() as refused:
        yield refused
    assert refused == [], "the code under test tried to leave the machine"
