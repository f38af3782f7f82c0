"""Who judges the designs of a search makes no difference to what it comes to: promises to the user."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import BrokenExecutor, Executor, Future, ThreadPoolExecutor
from typing import Any

import pytest

from engine.formats.front import csv_text
from engine.formats.scenario import demo_scenarios, read_scenario
from engine.scenario import Scenario
from engine.search.runs import AHEAD, Run, run

TRIED = 12_288
DONE = 3  # batches


@pytest.fixture(scope="module")
def roadster() -> Scenario:
    return read_scenario(demo_scenarios()["roadster"])


@pytest.fixture(scope="module")
def alone(roadster: Scenario) -> Run:
    return run(roadster, seed=3, evaluations=TRIED)


class Breaking(Executor):
    """Helpers that are lost: after some batches while they work, or before they are asked."""

    def __init__(self, *, when_asked: bool) -> None:
        self._when_asked, self.asked = when_asked, 0

    def submit(self, work: Any, /, *arguments: Any, **named: Any) -> Future[Any]:
        self.asked += 1
        lost: Future[Any] = Future()
        if self.asked <= 2:
            lost.set_result(work(*arguments, **named))
            return lost
        if self._when_asked:
            raise BrokenExecutor("lost")
        lost.set_exception(BrokenExecutor("lost"))
        return lost


@pytest.fixture
def helpers() -> Iterator[Executor]:
    with ThreadPoolExecutor(3) as several:
        yield several


def test_helpers_change_nothing(roadster: Scenario, alone: Run, helpers: Executor) -> None:
    """The same bytes, though three judge side by side and in any order."""
    together = run(roadster, seed=3, evaluations=TRIED, helpers=helpers)
    assert csv_text(together.front) == csv_text(alone.front)
    assert csv_text(together.left_out) == csv_text(alone.left_out)
    assert together.record["evaluations"] == TRIED


@pytest.mark.parametrize("when_asked", [True, False])
def test_what_lost_helpers_leave_is_done_here(roadster: Scenario, alone: Run, *, when_asked: bool) -> None:
    """A process that is killed costs time and nothing else."""
    breaking = Breaking(when_asked=when_asked)
    assert csv_text(run(roadster, seed=3, evaluations=TRIED, helpers=breaking).front) == csv_text(alone.front)
    assert breaking.asked > 2


def test_a_search_that_is_cancelled_leaves_nothing_to_be_done(roadster: Scenario) -> None:
    """What was asked for ahead is taken back, so that another search need not wait for it."""
    asked: list[Future[Any]] = []
    seen: list[int] = []

    class Slow(Executor):
        """Does everything but the batches that are asked for after all but one of those told."""

        def submit(self, work: Any, /, *arguments: Any, **named: Any) -> Future[Any]:
            later: Future[Any] = Future()
            asked.append(later)
            if len(seen) != DONE - 1 or work.func.__name__ != "_tried_there":
                later.set_result(work(*arguments, **named))
            return later

    result = run(
        roadster,
        evaluations=1_000_000,
        helpers=Slow(),
        progress=lambda now: seen.append(now.evaluations),
        cancelled=lambda: len(seen) >= DONE,
    )
    assert result.record["stopped_by"] == "cancelled"
    assert 0 < sum(each.cancelled() for each in asked) <= AHEAD
    assert all(each.done() for each in asked)
