"""The processes that help a search."""

from __future__ import annotations

import os
import subprocess
import sys
from concurrent.futures import BrokenExecutor
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
    with helpers.Helpers(2) as helping:
        alone, helped = (run(roadster, evaluations=12_288, helpers=each) for each in (None, helping))
    assert csv_text(helped.front) == csv_text(alone.front)


def test_one_that_is_lost_is_told_and_another_takes_its_place() -> None:
    """Promise: killed at its work, it takes that piece with it and nothing else."""
    with helpers.Helpers(1) as helping:
        with pytest.raises(BrokenExecutor):
            helping.submit(os._exit, 3).result(PATIENCE)
        assert helping.submit(divmod, 7, 2).result(PATIENCE) == (3, 1)
        with pytest.raises(ZeroDivisionError):
            helping.submit(divmod, 7, 0).result(PATIENCE)


def test_they_end_with_the_process_they_help() -> None:
    """Promise: killed at once, it leaves nobody behind; whoever is left would hold the pipe open."""
    script = """if True:
        import os, signal
        from explorer.helpers import Helpers
        print(Helpers(2).submit(divmod, 7, 2).result() == (3, 1), flush=True)
        os.kill(os.getpid(), signal.SIGKILL)
    """
    root = Path(__file__).resolve().parents[2]
    command = [sys.executable, "-c", script]
    # Of the three only stderr is handed on to them.
    done = subprocess.run(command, cwd=root, capture_output=True, timeout=PATIENCE, check=False)
    assert done.stdout.strip() == b"True"
    assert done.stderr == b""
    assert done.returncode < 0
