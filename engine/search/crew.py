"""Batches of designs judged elsewhere: in this process when they are asked for, or by processes that share the work.

What is judged and in which order does not depend on who does it, so a search comes to the same whoever helps.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable
from concurrent.futures import BrokenExecutor, Executor, Future
from contextlib import suppress
from functools import lru_cache, partial
from typing import Any, Protocol

import pandas as pd
from numpy.typing import NDArray

from engine.arrays import Floats
from engine.scenario import Scenario
from engine.search.front import worked_out
from engine.search.problem import BoxProblem

KEPT = 24  # problems that a process keeps ready: searches of as many take turns


class Coming(Protocol):
    """What a piece of work will have come to."""

    def result(self) -> Any: ...

    def cancel(self) -> bool: ...


class _WhenAsked:
    """Work that is done when its result is asked for."""

    def __init__(self, work: Callable[..., Any], *arguments: Any) -> None:
        self._work, self._arguments = work, arguments

    def result(self) -> Any:
        return self._work(*self._arguments)

    def cancel(self) -> bool:
        return True


class _Helped:
    """Work that another process does, or this one where that process is lost."""

    def __init__(self, helpers: Executor, here: Coming, work: Callable[..., Any], *arguments: Any) -> None:
        self._here = here
        self._there: Future[Any] | None = None
        with suppress(BrokenExecutor):
            self._there = helpers.submit(work, *arguments)

    def result(self) -> Any:
        if self._there is not None:
            with suppress(BrokenExecutor):
                return self._there.result()
        return self._here.result()

    def cancel(self) -> bool:
        return self._there is None or self._there.cancel()


def handed(helpers: Executor | None, here: Callable[..., Any], there: Callable[..., Any], *arguments: Any) -> Coming:
    """What ``helpers`` make of some arguments, as ``there``, or without any this process when asked, as ``here``.

    Both come to the same; what helpers are given has to be fit for another process.
    """
    own = _WhenAsked(here, *arguments)
    return own if helpers is None else _Helped(helpers, own, there, *arguments)


class Crew:
    """Judges designs of one problem: by ``helpers`` if there are any, else here."""

    def __init__(self, problem: BoxProblem, helpers: Executor | None = None) -> None:
        self._problem, self._helpers = problem, helpers
        self._packed = pickle.dumps(problem.evaluator.scenario) if helpers is not None else b""

    @property
    def here(self) -> Crew:
        """The same without helpers."""
        return Crew(self._problem)

    def tried(self, X: Floats) -> Coming:
        """Designs (N, n_var) with vents that have room, and their objectives and constraints, F and G, roughly."""
        return handed(self._helpers, partial(_tried, self._problem), partial(_tried_there, self._packed), X)

    def worked_out(self, X: Floats) -> Coming:
        """What :func:`engine.search.front.worked_out` makes of designs (N, n_var)."""
        return handed(self._helpers, partial(_worked_out, self._problem), partial(_worked_out_there, self._packed), X)


def _tried(problem: BoxProblem, X: Floats) -> tuple[Floats, Floats, Floats]:
    repaired = problem.repaired(X)
    F, G = problem.evaluate(repaired, return_values_of=["F", "G"])
    return repaired, F, G


def _worked_out(problem: BoxProblem, X: Floats) -> tuple[pd.DataFrame, NDArray[Any]]:
    return worked_out(problem.evaluator, problem.decode(X))


def _tried_there(packed: bytes, X: Floats) -> tuple[Floats, Floats, Floats]:
    return _tried(ready(packed), X)


def _worked_out_there(packed: bytes, X: Floats) -> tuple[pd.DataFrame, NDArray[Any]]:
    return _worked_out(ready(packed), X)


@lru_cache(maxsize=KEPT)
def ready(packed: bytes) -> BoxProblem:
    """The problem of a pickled scenario; a process keeps a few of them."""
    scenario: Scenario = pickle.loads(packed)  # of this program's own making
    return BoxProblem(scenario)
