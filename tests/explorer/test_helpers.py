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


@pytest.mark.parametrize(
    "end",
    [
        "os.kill(os.getpid(), signal.SIGKILL)",  # they wait for work
        # One is at work, and comes to its answer when nobody is there any more.
        r"""work = "import os; up = os.getppid(); os.kill(up, 9)\nwhile os.getppid() == up: pass"
        helping.submit(exec, work).result()""",
    ],
)
def test_they_end_with_the_process_they_help(end: str) -> None:
    """Promise: killed at once, it leaves nobody behind; whoever is left would hold the pipe open."""
    script = f"""if True:
        import os, signal
        from explorer.helpers import Helpers
        helping = Helpers(2)
        print(helping.submit(divmod, 7, 2).result() == (3, 1), flush=True)
        {end}
    """
    root = Path(__file__).resolve().parents[2]
    command = [sys.executable, "-c", script]
    # Of the three only stderr is handed on to them.
    done = subprocess.run(command, cwd=root, capture_output=True, timeout=PATIENCE, check=False)
    assert done.stdout.strip() == b"True"
    assert done.stderr == b""
    assert done.returncode < 0


def test_a_search_that_the_end_of_its_process_breaks_off_says_nothing() -> None:
    """Promise: whoever closes the explorer while it searches sees no fault of it."""
    script = """if True:
        import threading
        from concurrent.futures import ThreadPoolExecutor
        from explorer.worker import SearchTask

        pool, begun = ThreadPoolExecutor(1), threading.Event()

        def endless(scenario, **how):
            while True:
                pool.submit(begun.set).result()

        task = SearchTask(None, {}, search=endless)
        task.start()
        begun.wait()
        threading.Thread(target=task.wait, args=(60,)).start()  # the process ends no sooner than the search does
    """
    root = Path(__file__).resolve().parents[2]
    done = subprocess.run([sys.executable, "-c", script], cwd=root, capture_output=True, timeout=PATIENCE, check=False)
    assert done.returncode == 0
    assert done.stderr == b""
