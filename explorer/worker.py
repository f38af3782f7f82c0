"""A search in a thread of its own, so that the page stays alive: progress, cancel, outcome.

The thread never touches Streamlit; pages look at the task's plain attributes.  Tasks
are kept by job id for the whole process, so a reloaded page finds its running search.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from typing import Any

from engine.errors import SearchImpossible
from engine.scenario import Scenario
from engine.search.runs import Progress, Run, run
from explorer.helpers import helpers_for

Search = Callable[..., Any]  # a Run, or what else is worked out of a scenario

BROKE_OFF = "The search broke off through a fault of wedgefront's own. Your inputs are kept."

_log = logging.getLogger(__name__)


def helped(scenario: Scenario, *, evaluations: int | None = None, **how: Any) -> Run:
    """A search that other processes help with where that is worth it."""
    return run(scenario, evaluations=evaluations, helpers=helpers_for(evaluations or scenario.evaluations), **how)


class SearchTask:
    """One search: running until ``finished``; then either ``outcome`` or ``failure`` is set."""

    def __init__(
        self,
        scenario: Scenario,
        document: dict[str, Any],
        *,
        evaluations: int | None = None,
        search: Search = helped,
        ready: Callable[[], object] = lambda: None,
    ) -> None:
        """``ready`` is waited for in the thread before the search begins."""
        self.document = document
        self.progress: Progress | None = None
        self.outcome: Any = None
        self.failure: SearchImpossible | str | None = None
        self.scenario = scenario
        self._evaluations = evaluations
        self._search = search
        self._ready = ready
        self._cancel = threading.Event()
        self._thread = threading.Thread(target=self._work, name="wedgefront-search", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def cancel(self) -> None:
        """Ask the search to stop; what it found so far becomes the outcome."""
        self._cancel.set()

    @property
    def cancelled(self) -> bool:
        return self._cancel.is_set()

    @property
    def finished(self) -> bool:
        return self.outcome is not None or self.failure is not None

    def wait(self, seconds: float) -> bool:
        """Wait for the end, at most so long; True where it came."""
        self._thread.join(seconds)
        return self.finished

    def _work(self) -> None:
        try:
            self._ready()
            self.outcome = self._search(
                self.scenario,
                evaluations=self._evaluations,
                progress=self._note,
                cancelled=self._cancel.is_set,
            )
        except SearchImpossible as error:
            self.failure = error
        except Exception:
            _log.exception("the search broke off")
            self.failure = BROKE_OFF

    def _note(self, progress: Progress) -> None:
        self.progress = progress


class Searches:
    """The running and just ended searches of this process, by job id."""

    def __init__(self) -> None:
        self._tasks: dict[str, SearchTask] = {}
        self._lock = threading.Lock()

    def start(self, job_id: str, task: SearchTask) -> SearchTask:
        """Start a task for a job, unless one is running: then that one is given back."""
        with self._lock:
            present = self._tasks.get(job_id)
            if present is not None and not present.finished:
                return present
            self._tasks[job_id] = task
            task.start()
            return task

    def of(self, job_id: str) -> SearchTask | None:
        with self._lock:
            return self._tasks.get(job_id)

    def drop(self, job_id: str) -> None:
        """Forget a job's task; cancel it if it still runs."""
        with self._lock:
            task = self._tasks.pop(job_id, None)
        if task is not None:
            task.cancel()
