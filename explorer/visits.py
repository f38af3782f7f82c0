"""Which jobs somebody has before them, so that those that nobody has any more are let go from memory.

A browser's visit is an object in its session's state, and is gone when that is: some minutes after the last of its tabs
was closed.  Nothing here knows the toolkit's sessions.  What is let go lies in the store, and is read again when asked
for.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from weakref import WeakSet

SWEPT = 30.0  # s between two looks

_log = logging.getLogger(__name__)


class Visit:
    """One browser's tab, at a job or at none."""

    def __init__(self) -> None:
        self.job_id = ""


class Visits:
    """Every visit there is; any call may come from any thread."""

    def __init__(self, let_go: Callable[[str], bool]) -> None:
        """``let_go`` lets go of the job of an id, and says whether it could."""
        self._let_go = let_go
        self._at: dict[str, WeakSet[Visit]] = {}
        self._lock = threading.RLock()

    def come(self, visit: Visit, job_id: str) -> None:
        """A visit goes to a job: told before that is opened, so that it is not let go in between."""
        with self._lock:
            if visit.job_id in self._at:
                self._at[visit.job_id].discard(visit)
            visit.job_id = job_id
            if job_id:
                self._at.setdefault(job_id, WeakSet()).add(visit)

    def sweep(self) -> list[str]:
        """Let go of the jobs that nobody has before them any more; their ids."""
        gone = []
        for job_id in list(self._at):
            with self._lock:
                if not self._at[job_id] and self._let_go(job_id):
                    del self._at[job_id]
                    gone.append(job_id)
        return gone

    def watch(self) -> None:
        """Sweep for good, in a thread of its own."""
        threading.Thread(target=self._watch, name="wedgefront-visits", daemon=True).start()

    def _watch(self) -> None:
        pause = threading.Event()
        while not pause.wait(SWEPT):
            try:
                self.sweep()
            except Exception:
                _log.exception("jobs that nobody has before them were not let go")
