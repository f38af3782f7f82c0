"""Processes that judge designs for the searches of this one: as many as there are cores, shared by all of them.

A search asks for a few batches at a time, so that searches of several browsers take turns.  They end with this
process, however that ends.  Nothing of the engine is imported before they know that each is to keep to one core.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from concurrent.futures import Executor, ProcessPoolExecutor
from functools import cache
from multiprocessing import connection

MOST = 8  # processes
WORTH_IT = 50_000  # designs to try: fewer are tried before a process has started


def helpers_for(designs: int) -> Executor | None:
    """Who judges the designs of a search that tries so many; None where this process does it alone."""
    return _helpers() if designs >= WORTH_IT else None


@cache
def _helpers() -> Executor | None:
    cores = min(os.cpu_count() or 1, MOST)
    if cores < 2:
        return None
    return ProcessPoolExecutor(cores, mp_context=multiprocessing.get_context("spawn"), initializer=_begin)


def _begin() -> None:
    os.environ |= {"WEDGEFRONT_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for whoever waits
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        connection.wait([parent.sentinel])
        os._exit(0)
