"""A search in a thread of its own, so that the page stays alive: progress, cancel, outcome.

The thread never touches Streamlit; pages look at the task's plain attributes.  Tasks are
kept by name for the whole process, so a reloaded page finds its running search.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import Any

import pandas as pd

from engine.errors import SearchImpossible
from engine.scenario import Scenario
from engine.search.carried import Followed, carried_over, followed
from engine.search.problem import BoxProblem
from engine.search.runs import Progress, Run, run
from explorer.helpers import TookTooLong, helpers_for, on_behalf_of, resting, way
from explorer.session import SearchResult

Search = Callable[..., Any]  # a Run, or what else is worked out of a scenario

UNSEEN = 4.0  # s since somebody looked, after which a live search waits
GIVEN_UP = 600.0  # s after which it keeps what it has
DRAWING = 0.25  # s that a live search waits at most for its first front to be drawn
SENDING = 0.02  # s that page and search then leave to whoever sends it
LONGEST = 3600.0  # s that any search may take; then it keeps what it has
ENDED_KEPT = 40  # searches that ended and whose outcome nobody has taken over yet

TOO_LARGE = (
    "The search was ended: a part of it took more memory or time than a search may. Your inputs are kept. "
    "Fewer drivers, kinds of box or sizes of pipe in one job ask for less."
)
BROKE_OFF = "The search broke off through a fault of wedgefront's own. Your inputs are kept."
LET_GO = "The search was let go: nobody waits for what it finds."

_log = logging.getLogger(__name__)


def helped(scenario: Scenario, *, evaluations: int | None = None, **how: Any) -> Run:
    """A search that other processes help with where that is worth it."""
    return run(scenario, evaluations=evaluations, helpers=helpers_for(evaluations or scenario.evaluations), **how)


class _LetGo(Exception):
    """Nobody waits any more for what a search finds."""


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
        self.progress: Any = None  # a Progress, or what else is told on the way
        self.outcome: Any = None
        self.failure: SearchImpossible | str | None = None
        self.scenario = scenario
        self.owner = ""  # on whose behalf helpers are asked
        self.overdue = False  # whether it was ended since it took too long
        self._begun = 0.0
        self._evaluations = evaluations
        self._search = search
        self._ready = ready
        self._cancel = threading.Event()
        self._unwanted = False
        self._thread = threading.Thread(target=self._work, name="wedgefront-search", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def cancel(self) -> None:
        """Ask the search to stop; what it found so far becomes the outcome."""
        self._cancel.set()

    def let_go(self) -> None:
        """Ask the search to stop at once; nothing is made of what it found so far."""
        self._unwanted = True
        self.cancel()

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
            self._begun = time.monotonic()
            with on_behalf_of(self.owner):
                self.outcome = self._search(
                    self.scenario,
                    evaluations=self._evaluations,
                    progress=self._note,
                    cancelled=self._asked_to_stop,
                )
        except _LetGo:
            self.failure = LET_GO
        except SearchImpossible as error:
            self.failure = error
        except (MemoryError, TookTooLong):
            _log.warning("a search went beyond what it may take", exc_info=True)
            self.failure = TOO_LARGE
        except Exception:
            if not _ending():
                _log.exception("the search broke off")
            self.failure = BROKE_OFF

    def _asked_to_stop(self) -> bool:
        stopped = self.cancelled  # asked first: what is let go is unwanted before it is cancelled
        if self._unwanted:
            raise _LetGo
        return stopped

    def _note(self, progress: Any) -> None:
        self.progress = progress
        way()
        if not self.overdue and time.monotonic() - self._begun > LONGEST:
            self.overdue = True
            self._cancel.set()


def _ending() -> bool:
    """Whether this process is about to end: pools of threads take no work any more, and a search fails by that."""
    try:
        with ThreadPoolExecutor(1) as pool:
            pool.submit(int)
    except RuntimeError:
        return True
    return False


class LiveTask(SearchTask):
    """A search that goes on from the front of the job as it was, as long as somebody looks at it.

    ``base`` is that front with its job, ``before`` the same read, and ``pick`` the row of a design to follow: what
    it becomes is ``followed`` once there is an outcome, None where nothing in the job is of its kind.
    """

    def __init__(
        self, scenario: Scenario, document: dict[str, Any], *, base: SearchResult, before: Scenario,
        pick: pd.DataFrame | None = None, ready: Callable[[], object] = lambda: None,
        search: Search = helped,
    ) -> None:  # fmt: skip
        super().__init__(scenario, document, search=self._goes_on, ready=ready)
        self.base, self.before = base, before
        self.followed: Followed | None = None
        self._pick, self._from = pick, search
        self._has_front = threading.Event()
        self._drawn = threading.Event()
        self._looking = threading.Event()
        self._looked = time.monotonic()

    def looked(self) -> None:
        """Somebody looks at it just now."""
        self._looked = time.monotonic()
        self._looking.set()

    def drawn(self) -> None:
        """Its first front is drawn; comes back when that is likely to be on its way."""
        if not self._drawn.is_set():
            self._cancel.wait(SENDING)
            self._drawn.set()

    def cancel(self) -> None:
        super().cancel()
        self._looking.set()
        self._drawn.set()

    def await_front(self, seconds: float) -> Progress | None:
        """Wait until it has a front or has ended, at most so long; how far it is then."""
        self._has_front.wait(seconds)
        now: Progress | None = self.progress
        return now

    def _goes_on(self, scenario: Scenario, **how: Any) -> Any:
        outcome = self._from(scenario, start=partial(carried_over, self.base.front, self.before), **how)
        if self._pick is not None:
            self.followed = followed(self._pick, BoxProblem(scenario), outcome.front)
        return outcome

    def _work(self) -> None:
        try:
            super()._work()
        finally:
            self._has_front.set()

    def _note(self, progress: Progress) -> None:
        super()._note(progress)
        if progress.front_size and not self._has_front.is_set():
            self._has_front.set()
            # Two threads of one interpreter would both be slower, and somebody waits for the picture.
            with resting():
                self._drawn.wait(DRAWING)
        # Nobody looks: it waits, and its share of the processes goes to others; after a while it keeps what it has.
        while not self.cancelled and (idle := time.monotonic() - self._looked) > UNSEEN:
            self._looking.clear()
            with resting():
                seen = self._looking.wait(GIVEN_UP - idle)
            if not seen:
                self.cancel()


class Searches:
    """The running and just ended searches of this process by name.

    That is the job's id, with ``:`` and what it is for behind it where something else is worked out of its front.
    """

    def __init__(self) -> None:
        self._tasks: dict[str, SearchTask] = {}
        self._lock = threading.Lock()

    def start(self, name: str, task: SearchTask) -> SearchTask:
        """Start a task, unless one of that name is running: then that one is given back."""
        with self._lock:
            present = self._tasks.get(name)
            if present is not None and not present.finished:
                return present
            self._begin(name, task)
            return task

    def replace(self, name: str, task: SearchTask) -> None:
        """Start a task in place of the one of that name, which is let go."""
        with self._lock:
            present = self._tasks.get(name)
            if present is not None:
                present.let_go()
            self._begin(name, task)

    def _begin(self, name: str, task: SearchTask) -> None:
        task.owner = name.partition(":")[0]
        self._tasks.pop(name, None)
        ended = [other for other, present in self._tasks.items() if present.finished]
        for other in ended[: max(len(ended) - ENDED_KEPT, 0)]:
            del self._tasks[other]
        self._tasks[name] = task
        task.start()

    def of(self, name: str) -> SearchTask | None:
        with self._lock:
            return self._tasks.get(name)

    def drop(self, name: str) -> None:
        """Forget a task, and let it go if it still runs."""
        with self._lock:
            task = self._tasks.pop(name, None)
        if task is not None:
            task.let_go()

    def drop_all(self, job_id: str) -> None:
        """The same for all tasks of a job: its search, and what is worked out of its front."""
        with self._lock:
            names = [name for name in self._tasks if name.partition(":")[0] == job_id]
        for name in names:
            self.drop(name)
