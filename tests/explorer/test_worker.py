"""The search in its thread: it ends, can be cancelled, and its failures come as words (promises to the user)."""

from __future__ import annotations

import logging
import threading
from typing import Any

import pytest

from engine.errors import SearchImpossible
from engine.formats.scenario import demo_scenarios, read_scenario
from engine.scenario import Scenario
from engine.search.runs import Progress, Run
from explorer import worker
from explorer.helpers import TookTooLong
from explorer.worker import LET_GO, TOO_LARGE, Searches, SearchTask

PATIENCE = 300.0  # s


@pytest.fixture(scope="module")
def scenario() -> Scenario:
    return read_scenario(demo_scenarios()["van-bench"])


def test_a_real_search_ends_with_a_front_and_has_told_its_progress(scenario: Scenario) -> None:
    task = SearchTask(scenario, {}, evaluations=12_000)
    task.start()
    assert task.wait(PATIENCE)
    assert task.outcome is not None
    assert len(task.outcome.front) > 0
    assert task.progress is not None
    assert task.progress.evaluations == 12_000


def test_cancel_ends_it_and_keeps_what_was_found(scenario: Scenario) -> None:
    told = threading.Event()

    class Told(SearchTask):
        def _note(self, progress: Progress) -> None:
            super()._note(progress)
            if progress.front_size > 0:
                told.set()

    task = Told(scenario, {}, evaluations=50_000_000)
    task.start()
    assert told.wait(PATIENCE)
    task.cancel()
    assert task.wait(PATIENCE)
    assert task.outcome is not None
    assert task.outcome.record["stopped_by"] == "cancelled"
    assert len(task.outcome.front) > 0


def test_of_one_that_is_let_go_nothing_is_made_any_more(scenario: Scenario) -> None:
    """Promise: what a change has made needless takes no time from what answers it."""
    begun, made = threading.Event(), list[str]()

    def long(_: Scenario, *, cancelled: Any, **__: Any) -> str:
        begun.set()
        while not cancelled():
            pass
        made.append("an outcome")
        return "what it has"

    searches = Searches()
    first, second, third = (SearchTask(scenario, {}, search=long) for _ in range(3))
    searches.start("job", first)
    searches.replace("job", second)
    searches.drop("job")
    for task in (first, second):
        assert task.wait(PATIENCE)
        assert (task.outcome, task.failure) == (None, LET_GO)
    assert made == []
    searches.start("job", third)
    assert begun.wait(PATIENCE)
    third.cancel()
    assert third.wait(PATIENCE)
    assert third.outcome == "what it has"


def test_an_impossible_search_fails_in_the_engines_own_words(scenario: Scenario) -> None:
    def impossible(*_: Any, **__: Any) -> Run:
        raise SearchImpossible("nothing_left_of_space")

    task = SearchTask(scenario, {}, search=impossible)
    task.start()
    assert task.wait(PATIENCE)
    assert str(task.failure).startswith("margin, clearances, carpet and keep-outs leave nothing of the space")


def test_a_fault_of_our_own_is_said_without_a_traceback_and_logged_with_it(
    scenario: Scenario, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(*_: Any, **__: Any) -> Run:
        raise ZeroDivisionError("division by zero")

    task = SearchTask(scenario, {}, search=broken)
    with caplog.at_level(logging.ERROR):
        task.start()
        assert task.wait(PATIENCE)
    assert task.finished
    assert "fault of wedgefront's own" in str(task.failure)
    assert "division by zero" not in str(task.failure)
    assert "Traceback" in caplog.text


def test_one_job_has_one_search_at_a_time(scenario: Scenario) -> None:
    release = threading.Event()

    def waiting(*_: Any, **__: Any) -> Run:
        release.wait(PATIENCE)
        raise SearchImpossible("none_tried")

    searches = Searches()
    first = searches.start("job", SearchTask(scenario, {}, search=waiting))
    assert searches.start("job", SearchTask(scenario, {}, search=waiting)) is first
    assert searches.of("job") is first
    assert searches.of("another") is None
    release.set()
    assert first.wait(PATIENCE)
    second = searches.start("job", SearchTask(scenario, {}, search=waiting))
    assert second is not first
    searches.drop("job")
    assert second.cancelled
    assert searches.of("job") is None
    assert second.wait(PATIENCE)


def test_a_search_that_takes_too_much_says_what_to_do(scenario: Scenario) -> None:
    """Promise: neither memory nor time without end, and a sentence that helps."""
    for fault in (MemoryError(), TookTooLong()):

        def beyond(_: Scenario, fault: Exception = fault, **__: Any) -> Any:
            raise fault

        task = SearchTask(scenario, {}, search=beyond)
        task.start()
        assert task.wait(60)
        assert task.failure == TOO_LARGE


def test_a_search_ends_after_an_hour_with_what_it_has(scenario: Scenario, monkeypatch: pytest.MonkeyPatch) -> None:
    """Promise: nobody's search goes on for ever."""

    def endless(_: Scenario, *, progress: Any, cancelled: Any, **__: Any) -> str:
        while not cancelled():
            progress("so far")
        return "what it has"

    monkeypatch.setattr(worker, "LONGEST", 0.0)
    task = SearchTask(scenario, {}, search=endless)
    task.start()
    assert task.wait(60)
    assert task.overdue
    assert task.outcome == "what it has"


def test_outcomes_that_nobody_takes_over_are_not_kept_without_end(
    scenario: Scenario, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Promise: browsers that are gone take no memory for good."""
    monkeypatch.setattr(worker, "ENDED_KEPT", 2)
    searches = Searches()
    for number in range(6):
        task = searches.start(f"job{number}", SearchTask(scenario, {}, search=lambda *_, **__: "found"))
        assert task.wait(60)
    assert [searches.of(f"job{number}") is not None for number in range(6)] == [False, False, False, True, True, True]
