"""A catalogue's search: the same whoever does it, as good as one search of all, with reasons that are true."""

from __future__ import annotations

import pickle
from collections.abc import Iterator, Mapping
from concurrent.futures import BrokenExecutor, Executor, Future, ThreadPoolExecutor
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from engine.arrays import Floats
from engine.errors import Refusal, SearchImpossible
from engine.formats.catalogue import read_catalogue
from engine.formats.front import csv_text
from engine.formats.scenario import demo_scenarios
from engine.goals import GOALS
from engine.report.catalogue import table, why
from engine.scenario import Scenario
from engine.search.catalogue import Catalogued, CatalogueSearch, Found, explored
from engine.search.front import turned
from engine.search.runs import run
from tests.invented_drivers import catalogue_text, invented_drivers

TRIED, MANY = 32_768, 131_072
WIDE, LOW, WEAK = "too wide", "one coil of 1 ohm", "half the travel"


class InMemory:
    """Tasks kept as they are, by their names."""

    def __init__(self, tasks: Mapping[str, Found] | None = None) -> None:
        self.tasks = dict(tasks or {})

    def __contains__(self, name: object) -> bool:
        return name in self.tasks

    def get(self, name: str) -> Found:
        return self.tasks[name]

    def starts(self, name: str) -> Floats:
        return self.tasks[name].starts

    def put(self, name: str, found: Found) -> None:
        self.tasks[name] = found


class Here(Executor):
    """Does every task when it is asked for."""

    def submit(self, work: Any, /, *arguments: Any, **named: Any) -> Future[Any]:
        done: Future[Any] = Future()
        done.set_result(work(*arguments, **named))
        return done


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Scenario:
    """Four drivers for the roadster, one of them weak; one too large for it, one that its amplifier cannot drive."""
    rows = invented_drivers(4)[1:]
    rows.append({**rows[0], "name": WEAK, "xmax": "5 mm", "rated_power": "80 W"})
    rows.append({**rows[0], "name": WIDE, "outer_diameter": "600 mm", "cutout_diameter": "560 mm"})
    rows.append({**rows[0], "name": LOW, "counts": "1", "coils": "1", "coil_impedance": "1 ohm", "re": "0.9 ohm"})
    rows[-1].pop("bl")
    path = tmp_path_factory.mktemp("catalogue") / "drivers.csv"
    path.write_text(catalogue_text(rows), encoding="utf-8")
    return read_catalogue(demo_scenarios()["roadster"], path)


@pytest.fixture(scope="module")
def kept() -> InMemory:
    return InMemory()


@pytest.fixture(scope="module")
def found(job: Scenario, kept: InMemory) -> Catalogued:
    return CatalogueSearch(job, seed=1, evaluations=TRIED).run(Here(), kept)


@pytest.fixture
def three() -> Iterator[Executor]:
    with ThreadPoolExecutor(3) as several:
        yield several


def test_whoever_does_it_comes_to_the_same(job: Scenario, found: Catalogued, three: Executor) -> None:
    """Promise to the user: the same bytes, though three work side by side and end in any order."""
    together = CatalogueSearch(job, seed=1, evaluations=TRIED).run(three, InMemory())
    assert csv_text(together.run.front) == csv_text(found.run.front)
    assert csv_text(together.run.left_out) == csv_text(found.run.left_out)
    assert together.verdicts == found.verdicts
    assert together.run.record == found.run.record


def test_what_is_kept_is_not_done_again(job: Scenario, found: Catalogued, kept: InMemory) -> None:
    """Promise to the user: what was finished before a stop is not searched again, and makes no difference."""
    names = sorted(kept.tasks)
    some = InMemory({name: kept.tasks[name] for name in names[: len(names) // 2]})
    asked: list[str] = []

    class Counting(Here):
        def submit(self, work: Any, /, *arguments: Any, **named: Any) -> Future[Any]:
            asked.append(work.__name__)
            return super().submit(work, *arguments, **named)

    again = CatalogueSearch(job, seed=1, evaluations=TRIED).run(Counting(), some)
    assert len(asked) == len(names) - len(names) // 2
    assert csv_text(again.run.front) == csv_text(found.run.front)


def test_a_cancelled_one_keeps_what_it_has(job: Scenario, kept: InMemory) -> None:
    """Promise to the user: stopped early, there is a front of what was done, and the rest can go on."""
    some = InMemory()
    stopped = CatalogueSearch(job, seed=1, evaluations=TRIED).run(Here(), some, cancelled=lambda: len(some.tasks) >= 2)
    assert stopped.run.record["stopped_by"] == "cancelled"
    assert set(some.tasks) <= set(kept.tasks)
    assert len(stopped.run.front)
    assert len(stopped.verdicts) == len(job.candidates)


def test_a_lost_worker_costs_its_task_and_no_more(job: Scenario, found: Catalogued) -> None:
    """Promise to the user: a process that is killed is replaced; one task after the other lost is told."""

    class Losing(Here):
        def __init__(self, every: int) -> None:
            self.every, self.asked = every, 0

        def submit(self, work: Any, /, *arguments: Any, **named: Any) -> Future[Any]:
            self.asked += 1
            if self.asked % self.every:
                return super().submit(work, *arguments, **named)
            lost: Future[Any] = Future()
            lost.set_exception(BrokenExecutor("lost"))
            return lost

    again = CatalogueSearch(job, seed=1, evaluations=TRIED).run(Losing(3), InMemory())
    assert csv_text(again.run.front) == csv_text(found.run.front)
    with pytest.raises(BrokenExecutor):
        CatalogueSearch(job, seed=1, evaluations=TRIED).run(Losing(1), InMemory())


def test_work_of_another_version_is_refused(job: Scenario) -> None:
    """Promise to the user: a cluster that has another wedgefront mixes nothing in."""

    class Older(Here):
        def submit(self, work: Any, /, *arguments: Any, **named: Any) -> Future[Any]:
            done: Future[Any] = Future()
            done.set_result(replace(work(*arguments, **named), version="0.0"))
            return done

    with pytest.raises(Refusal, match=r"0\.0"):
        CatalogueSearch(job, seed=1, evaluations=TRIED).run(Older(), InMemory())


def test_it_finds_what_one_search_of_all_finds(job: Scenario) -> None:
    """Independent method: the same drivers survive as in one search of all of them with the same effort, but for those
    that hold next to nothing, and the front covers no less.  Of many tries: with few of them either may miss a shape of
    box that the other meets.
    """
    found = CatalogueSearch(job, seed=1, evaluations=MANY).run(Here(), InMemory())
    normal = run(job, seed=1, evaluations=MANY)
    keys = job.goals.objectives
    assert found.run.record["hypervolume"] > 0.99 * normal.record["hypervolume"]
    ours = {each.driver: each for each in found.verdicts if each.code == "front"}
    theirs = normal.front["driver"].value_counts(normalize=True)
    assert set(theirs[theirs > 0.05].index) <= set(ours)
    assert {name for name, each in ours.items() if each.share > 0.01} <= set(theirs.index)
    assert set(found.run.front.columns) == set(normal.front.columns)
    assert set(keys) <= set(found.run.front.columns)


def test_effort_goes_where_it_pays(found: Catalogued) -> None:
    """Promise to the user: who holds the front is tried most, what cannot be built never, and no more than asked."""
    tried = {each.driver: each.evaluations for each in found.verdicts}
    most = max((each for each in found.verdicts if each.code == "front"), key=lambda each: each.designs)
    assert tried[most.driver] == max(tried.values())
    assert tried[WIDE] == tried[LOW] == 0
    assert sum(tried.values()) == found.run.record["evaluations"] <= TRIED


def test_reasons_are_true(job: Scenario, found: Catalogued, kept: InMemory) -> None:
    """Promise to the user: what keeps a driver off the front holds in the figures of both."""
    verdicts = {each.driver: each for each in found.verdicts}
    assert "no wiring of it gives a load" in why(verdicts[LOW], job, "metric")
    assert "too large for the space seen from the side" in why(verdicts[WIDE], job, "metric")
    assert verdicts[WIDE].large is not None
    keys = job.goals.objectives
    front = turned(found.run.front, keys)
    assert sum(each.designs for each in found.verdicts) == len(front)
    names = [candidate.driver.name for candidate in job.candidates]
    beaten = [each for each in found.verdicts if each.code == "beaten"]
    assert WEAK in {each.driver for each in beaten}
    for verdict in beaten:
        last = max(name for name in kept.tasks if name.endswith(f"-{names.index(verdict.driver):04d}"))
        own, told = turned(kept.tasks[last].rows, keys), verdict.beaten
        assert told is not None
        rivals = front[(found.run.front["driver"] == told.rival).to_numpy()]
        column = keys.index(told.goal)
        ahead = own[:, np.newaxis] - rivals
        pairs = (ahead >= 0.0).all(axis=2) & (np.abs(ahead[:, :, column] - told.by) < 1e-9)
        assert told.alike or pairs.any()
        if told.only:
            steps = np.array([GOALS[key].told_apart for key in keys])
            nearer = own.copy()
            nearer[:, column] -= told.by + 1e-6
            free = [not ((design - front) >= 0.0).all(axis=1).any() for design in nearer]
            assert any(free)
            assert told.by >= 0.5 * steps[column]
        assert told.rival in why(verdict, job, "metric")


def test_the_table_has_every_driver(job: Scenario, found: Catalogued) -> None:
    """Promise to the user: a reason for each driver of the catalogue, those on the front first."""
    rows = table(found.verdicts, job, "us")
    assert sorted(rows["driver"]) == sorted(candidate.driver.name for candidate in job.candidates)
    assert rows["reason"].str.len().min() > 10
    there = [each.code == "front" for each in found.verdicts]
    assert (rows["verdict"].head(sum(there)) == "on the front").all()


def test_a_job_that_leaves_nothing_is_refused_before_anything_is_done(job: Scenario) -> None:
    """Promise to the user: what keeps any driver from being searched is told as a search tells it."""
    nothing = replace(job, bounds={"outer_width": (3.0, 3.5)})
    with pytest.raises(SearchImpossible, match=r"bounds\.outer_width asks for"):
        CatalogueSearch(nothing, seed=1, evaluations=TRIED)


def test_a_task_is_a_function_of_what_it_is_asked(job: Scenario) -> None:
    """Promise to the user: a task comes to the same anywhere, and its seed to a driver is its own."""
    one = pickle.dumps(replace(job, candidates=job.candidates[:1], document={}))
    first = explored(one, 3, 4_096, None)
    again = explored(pickle.dumps(pickle.loads(one)), 3, 4_096, None)
    assert csv_text(first.rows) == csv_text(again.rows)
    assert np.array_equal(first.starts, again.starts)
    more = explored(one, 4, 4_096, first.starts)
    F, G = turned(first.rows, job.goals.objectives), turned(more.rows, job.goals.objectives)
    # What it goes on from is not lost, but for what it beats, or what may stand for it in its cell or the next.
    steps = np.array([GOALS[key].told_apart for key in job.goals.objectives])
    assert all((G <= design + 2.0 * steps).all(axis=1).any() for design in F)
