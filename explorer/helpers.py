"""Processes that judge designs for the searches of this one: as many as there are cores, shared by all of them.

A search asks for a few batches at a time, so that searches of several browsers take turns.  Each process is held by a
thread that hands it one piece of work after the other through its pipes; it ends when they close, with this process,
however that ends.  One that is lost is told as such, and the next piece of work starts another.

They are not those of ``concurrent.futures``, which run the program's main script again, and here that may be a page.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
import threading
from collections.abc import Callable
from concurrent.futures import BrokenExecutor, Executor, Future, ThreadPoolExecutor
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Any

MOST = 8  # processes
COURTESY = 10  # of a process's niceness: pages and browsers are answered first
WORTH_IT = 50_000  # designs to try: fewer are tried before a process has started


def helpers_for(designs: int) -> Executor | None:
    """Who judges the designs of a search that tries so many; None where this process does it alone."""
    return _helpers() if designs >= WORTH_IT else None


@cache
def _helpers() -> Executor | None:
    cores = min(os.cpu_count() or 1, MOST)
    return Helpers(cores) if cores > 1 else None


class Helpers(Executor):
    """So many processes, each started when it is first needed; work and what it takes and gives are pickled."""

    def __init__(self, count: int) -> None:
        self._threads = ThreadPoolExecutor(count, thread_name_prefix="wedgefront-helper")
        self._own = threading.local()
        self._running: list[subprocess.Popen[bytes]] = []

    def submit(self, work: Callable[..., Any], /, *arguments: Any, **named: Any) -> Future[Any]:
        return self._threads.submit(self._done, work, arguments, named)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Let go of the processes, once what they work at is done."""
        self._threads.shutdown(wait, cancel_futures=cancel_futures)
        for process in self._running:
            process.communicate()
        self._running.clear()

    def _done(self, *asked: Any) -> Any:
        process: subprocess.Popen[bytes] | None = getattr(self._own, "process", None)
        if process is None:
            process = self._own.process = _started()
            self._running.append(process)
        assert process.stdin is not None
        assert process.stdout is not None
        try:
            pickle.dump(asked, process.stdin)
            process.stdin.flush()
            right, found = pickle.load(process.stdout)  # of this program's own making
        except (OSError, EOFError, pickle.UnpicklingError) as error:
            self._own.process = None
            self._running.remove(process)
            process.kill()
            with suppress(OSError):
                process.communicate()
            raise BrokenExecutor("a process that helps was lost") from error
        if not right:
            raise found
        return found


def _started() -> subprocess.Popen[bytes]:
    path = os.pathsep.join(filter(None, [str(Path(__file__).parents[1]), os.environ.get("PYTHONPATH")]))
    own = {"PYTHONPATH": path, "WEDGEFRONT_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    # In a session of its own: Ctrl-C is for whoever waits.
    return subprocess.Popen(
        [sys.executable, "-m", "explorer.helpers"], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        env=os.environ | own, start_new_session=True,
    )  # fmt: skip


def main() -> None:
    """Do what comes in, one after the other, until the pipe closes."""
    if hasattr(os, "nice"):
        os.nice(COURTESY)
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever is printed is no answer
    while True:
        try:
            work, arguments, named = pickle.load(sys.stdin.buffer)  # of this program's own making
        except (EOFError, pickle.UnpicklingError):  # it closed, between two pieces of work or within one
            return
        try:
            answer = True, work(*arguments, **named)
        except Exception as error:
            answer = False, error
        try:
            pickle.dump(answer, answers)
            answers.flush()
        except BrokenPipeError:
            os._exit(0)  # nobody is left to answer; an orderly end would try to send the rest, and complain


if __name__ == "__main__":
    main()
