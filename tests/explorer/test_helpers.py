"""The processes that help a search."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from concurrent.futures import BrokenExecutor
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest

from engine.formats.front import csv_text
from engine.formats.scenario import demo_scenarios, parse_scenario, read_document, read_scenario
from engine.scenario import Scenario
from engine.search.runs import Run, run
from explorer import helpers
from explorer.worker import Searches, SearchTask

PATIENCE = 120.0  # s, for a busy machine


def test_a_short_search_does_without(monkeypatch: pytest.MonkeyPatch) -> None:
    """Fewer designs than a process takes to start, or a machine with one core, where nobody else is to be answered."""
    monkeypatch.setattr(helpers.os, "cpu_count", lambda: 2)
    assert helpers.helpers_for(helpers.WORTH_IT - 1) is None
    assert helpers.helpers_for(helpers.WORTH_IT) is not None
    monkeypatch.setattr(helpers.os, "cpu_count", lambda: 1)
    assert helpers.helpers_for(helpers.WORTH_IT) is None
    with helpers.on_behalf_of("a job"):
        assert helpers.helpers_for(helpers.WORTH_IT) is not None


def until(path: Path) -> str:
    """Work that goes on until a file is there."""
    return f"import os\nwhile not os.path.exists({str(path)!r}): pass"


def test_who_asks_for_much_keeps_nobody_waiting(tmp_path: Path) -> None:
    """Promise: jobs take turns, whoever asked first and for however much."""
    order: list[str] = []
    with helpers.Helpers(1) as helping:
        rows = {name: helping.row(name) for name in "abc"}
        first = rows["a"].submit(exec, until(tmp_path / "go"))
        while not first.running():
            time.sleep(0.01)
        coming = []
        for name, count in (("a", 4), ("b", 2), ("c", 1)):
            for _ in range(count):
                future = rows[name].submit(divmod, 7, 2)
                future.add_done_callback(lambda done, name=name: None if done.cancelled() else order.append(name))
                coming.append(future)
        assert coming.pop(0).cancel()  # what is let go before its turn takes none
        (tmp_path / "go").touch()
        first.result(PATIENCE)
        assert {each.result(PATIENCE) for each in coming} == {(3, 1)}
    assert order == list("abcaba")


def test_no_more_search_at_a_time_than_may(tmp_path: Path) -> None:
    """Promise: however many search, this process is free to answer; who waits for helpers keeps nobody waiting."""
    at_once, most, lock = 0, 0, threading.Lock()

    def work(helping: helpers.Helpers, number: int) -> None:
        nonlocal at_once, most
        with helpers.on_behalf_of(str(number)):
            for _ in range(3):
                with lock:
                    at_once += 1
                    most = max(most, at_once)
                assert sum(range(100_000)) > 0
                with lock:
                    at_once -= 1
                assert helping.row(str(number)).submit(divmod, 7, 2).result(PATIENCE) == (3, 1)

    with helpers.Helpers(1) as helping:
        threads = [threading.Thread(target=work, args=(helping, number)) for number in range(12)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(PATIENCE)
        assert not any(thread.is_alive() for thread in threads)
    assert 1 <= most <= helpers.TURNS


def test_one_that_nobody_needs_is_let_go_and_comes_again() -> None:
    """Promise: an explorer that nobody searches with takes no more memory than its pages."""
    with helpers.Helpers(1, idle=0.05) as helping:
        one = helping.submit(os.getpid).result(PATIENCE)
        end = time.monotonic() + PATIENCE
        while helping.running and time.monotonic() < end:
            time.sleep(0.01)
        assert helping.running == 0
        assert not Path(f"/proc/{one}").exists()
        assert helping.submit(os.getpid).result(PATIENCE) != one


def test_work_without_end_is_ended(tmp_path: Path) -> None:
    """Promise: and the next is done."""
    with helpers.Helpers(1, longest=1.0) as helping:
        with pytest.raises(helpers.TookTooLong):
            helping.submit(exec, until(tmp_path / "never")).result(PATIENCE)
        assert helping.submit(divmod, 7, 2).result(PATIENCE) == (3, 1)


@pytest.mark.skipif(sys.platform != "linux", reason="other systems cannot be told so")
def test_work_takes_no_more_memory_than_it_may() -> None:
    """Promise: it fails, its process goes on, and the machine has what others need."""
    with helpers.Helpers(1, memory=2**30) as helping:
        with pytest.raises(MemoryError):
            helping.submit(bytearray, 2**31).result(PATIENCE)
        assert helping.submit(divmod, 7, 2).result(PATIENCE) == (3, 1)
        assert len(helping.submit(bytes, 2**20).result(PATIENCE)) == 2**20


def test_twenty_searches_at_once_come_each_to_its_own() -> None:
    """Promise: twenty browsers with a job each, all at once, find what each finds alone, to the byte."""
    roadster = read_document(demo_scenarios()["roadster"])
    jobs = []
    for number in range(20):
        document = deepcopy(roadster)
        document["space"]["width"] = f"{30 + number / 2} in"
        jobs.append(parse_scenario(document, source="x"))
    searches = Searches()
    with helpers.Helpers(2) as helping:

        def search(job: Scenario, **how: Any) -> Run:
            row = helping.row(str(helpers._on_behalf.get()))
            return run(job, helpers=row, **{**how, "evaluations": 1_024})

        tasks = [searches.start(f"job{number}", SearchTask(job, {}, search=search)) for number, job in enumerate(jobs)]
        assert all(task.wait(10 * PATIENCE) for task in tasks)
    found = [csv_text(task.outcome.front) for task in tasks]
    assert found == [csv_text(run(job, evaluations=1_024).front) for job in jobs]
    assert len(set(found)) > 10
    assert [task.owner for task in tasks] == [f"job{number}" for number in range(20)]


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
