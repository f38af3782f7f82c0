"""The processes that help a search."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from engine.formats.front import csv_text
from engine.formats.scenario import demo_scenarios, read_scenario
from engine.search.runs import run
from explorer import helpers

PATIENCE = 120.0  # s, for a busy machine


def test_a_short_search_does_without(monkeypatch: pytest.MonkeyPatch) -> None:
    """Fewer designs than a process takes to start, or a machine with one core."""
    assert helpers.helpers_for(helpers.WORTH_IT - 1) is None
    monkeypatch.setattr(helpers.os, "cpu_count", lambda: 1)
    assert helpers._helpers.__wrapped__() is None


def test_processes_come_to_the_same_bytes() -> None:
    """User's promise: same scenario, seed and version, same front, whoever judged it."""
    roadster = read_scenario(demo_scenarios()["roadster"])
    alone, helped = (run(roadster, evaluations=12_288, helpers=each) for each in (None, helpers._helpers()))
    assert csv_text(helped.front) == csv_text(alone.front)


def test_they_end_with_the_process_they_help() -> None:
    """Promise: killed at once, it leaves nobody behind; whoever is left would hold the pipe open."""
    script = """if True:
        import os, signal, sys
        from explorer.helpers import _helpers
        if __name__ == "__main__":
            helping = _helpers()
            print(len({each.result() for each in [helping.submit(os.getpid) for _ in range(50)]}) > 0, flush=True)
            os.kill(os.getpid(), signal.SIGKILL)
    """
    root = Path(__file__).resolve().parents[2]
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=root, stdout=subprocess.PIPE, timeout=PATIENCE, check=False
    )
    assert done.stdout.strip() == b"True"
    assert done.returncode < 0
