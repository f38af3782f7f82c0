"""One search from scenario to front: the loop, its budget, its cancel and its record."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial
from importlib.metadata import version
from typing import Any

import moocore
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from engine.arrays import Floats
from engine.goals import GOALS
from engine.scenario import Scenario
from engine.search.archive import Archive
from engine.search.carried import FIRST, Start
from engine.search.crew import Coming, Crew
from engine.search.front import misfits, table, turned, worked_out
from engine.search.nearest import Nearest
from engine.search.optimise import ArchiveSearch, batch_after, thin
from engine.search.problem import BoxProblem

# Looked up once, when the module is loaded: a search runs in a thread, and the look-up goes through sys.path, which
# another thread may be changing just then.
VERSION = version("wedgefront")
EXACT_OBJECTIVES = 4
THINNED = 2_000
AHEAD = 2  # batches asked for before the first of them is told; the more, the later moves learn from each other
TOGETHER = 400  # designs to start from that are worked out together


@dataclass(frozen=True)
class Progress:
    """How far a search has come."""

    evaluations: int
    budget: int
    front_size: int
    front: Callable[[], pd.DataFrame]  # as it would be if the search ended now

    @property
    def share(self) -> float:
        return min(1.0, self.evaluations / self.budget)


@dataclass(frozen=True)
class Run:
    """A finished search: its front, what came nearest where nothing could be built, and how it came about."""

    front: pd.DataFrame
    left_out: pd.DataFrame  # the nearest design of each box kind, driver, count and facing of which none was feasible
    record: dict[str, Any]


def run(
    scenario: Scenario, *, seed: int = 1, evaluations: int | None = None,
    progress: Callable[[Progress], None] | None = None, cancelled: Callable[[], bool] = lambda: False,
    helpers: Executor | None = None, start: Callable[[BoxProblem], Start] | None = None,
) -> Run:  # fmt: skip
    """Search a scenario: same scenario, ``seed``, ``start`` and version, the same front, byte for byte.

    ``evaluations`` is how many designs to try, the scenario's own budget if not given.  ``progress`` is called after
    each batch.  ``cancelled`` is asked before each batch; once true, the search ends and keeps what it found.
    ``start`` gives designs that were good in another job: the front of those that are right in this one is told
    before anything else is tried.

    Raises SearchImpossible where the scenario leaves nothing to search, and NothingFeasible where nothing tried was
    feasible; its message says what the nearest design is short of.

    >>> from engine.formats.scenario import demo_scenarios, read_scenario
    >>> found = run(read_scenario(demo_scenarios()["roadster"]), evaluations=12_288)
    >>> found.record["evaluations"], len(found.front) == found.record["designs"]
    (12288, True)
    """
    began = time.monotonic()
    budget = evaluations or scenario.evaluations
    problem = BoxProblem(scenario)
    evaluator = problem.evaluator
    search = ArchiveSearch(problem, seed=seed, rough=True)
    nearest = Nearest(problem)
    crew = Crew(problem, helpers)

    def told(members: pd.DataFrame) -> None:
        if progress is not None:
            progress(Progress(search.evaluations, budget, len(members), partial(table, evaluator, members)))

    begun = Start.nowhere(problem) if start is None else start(problem)
    members = _began(problem, crew, search.archive, begun, told, cancelled)
    if members is None:
        members = settled(problem, search.archive)  # none, but with their columns
    coming: tuple[int, Coming] | None = None  # what is being worked out, and how many evaluations later it is taken in
    for X, F, G in batches(search, crew, begun.all, budget=budget, cancelled=cancelled):
        search.tell(X, F, G)
        nearest.tell(X, G)
        if coming is not None and search.evaluations >= coming[0]:
            members, coming = confirmed(problem, search.archive, members, coming[1].result()), None
        if coming is None and search.archive.due:
            later = search.evaluations + AHEAD * batch_after(search.evaluations)
            coming = later, crew.worked_out(search.archive.send())
        told(members)
    if coming is not None:
        members = confirmed(problem, search.archive, members, coming[1].result())
    members = confirmed(problem, search.archive, members, crew.worked_out(search.archive.send()).result())
    nearest.settle()
    stopped = "cancelled" if search.evaluations < budget else "budget"
    if not len(members):
        raise nearest.reason(search.evaluations, members, cancelled=stopped == "cancelled")
    front = table(evaluator, members)
    record = {
        "scenario": scenario.title,
        "scenario_sha256": scenario.digest,
        "seed": seed,
        "version": VERSION,
        "budget": budget,
        "evaluations": search.evaluations,
        "stopped_by": stopped,
        "designs": len(front),
        "objectives": list(scenario.goals.objectives),
        "hypervolume": hypervolume(front, scenario.goals.objectives),
        "hypervolume_span": {key: GOALS[key].span for key in scenario.goals.objectives},
        "hypervolume_exact": len(scenario.goals.objectives) <= EXACT_OBJECTIVES,
        "drivers_without_wiring": list(problem.evaluator.families.unwired),
        "left_out": nearest.left_out(front),
        "seconds": round(time.monotonic() - began, 3),
    }
    return Run(front, misfits(problem.evaluator, nearest.designs()), record)


def _began(
    problem: BoxProblem, crew: Crew, archive: Archive, start: Start,
    told: Callable[[pd.DataFrame], None], cancelled: Callable[[], bool],
) -> pd.DataFrame | None:  # fmt: skip
    """What designs to start from come to, worked out exactly, some at a time; the members then, None without any."""
    members: pd.DataFrame | None = None
    # What stands for them all is worked out here: helpers may be busy, or still have to start.
    parts = [start.own[:FIRST], *(start.own[each : each + TOGETHER] for each in range(FIRST, len(start.own), TOGETHER))]
    waiting = deque((X, (crew.here if not number else crew).worked_out(X)) for number, X in enumerate(parts) if len(X))
    try:
        while waiting and not cancelled():
            X, coming = waiting.popleft()
            rows, right = coming.result()
            members = rows.iloc[:0] if members is None else members
            _numbered_after(members, rows)
            archive.take_in(X[right], turned(rows, problem.objectives), rows.index.to_numpy())
            members = _kept(archive, members, rows)
            told(members)
    finally:
        for _, rest in waiting:
            rest.cancel()
    return members


def batches(
    search: ArchiveSearch, crew: Crew, given: Floats, *, budget: int, ahead: int = AHEAD,
    cancelled: Callable[[], bool] = lambda: False,
) -> Iterator[tuple[Floats, Floats, Floats]]:  # fmt: skip
    """Designs as they were tried, their objectives and constraints, a batch each, until there are ``budget`` of them.

    First come those ``given``, (n, n_var), then what the search asks for; it has to be told of each batch before the
    next is taken.  Always as many are asked for ``ahead``, so that it makes no difference who helps.  ``cancelled`` is
    asked before each batch; once true, there are no more.
    """
    waiting: deque[Coming] = deque()
    asked = 0
    try:
        while (asked < budget or waiting) and not cancelled():
            while asked < budget and len(waiting) < ahead:
                most = min(batch_after(asked), budget - asked)
                X = given[asked : asked + most] if asked < len(given) else search.ask(most)
                asked += len(X)
                waiting.append(crew.tried(X))
            yield waiting.popleft().result()
    finally:
        for rest in waiting:
            rest.cancel()


def went_on(
    problem: BoxProblem, *, seed: int, evaluations: int, starts: Floats | None = None,
    told: Callable[[Floats, Floats], None] = lambda X, G: None,
) -> tuple[ArchiveSearch, pd.DataFrame]:  # fmt: skip
    """A search from its own opening, or on from given designs (n, n_var), by one process.

    Gives it as it ended and the members of its archive as rows.  ``told`` gets variables and constraints of each batch.
    Unlike :func:`run` it asks for no batch ahead, which is for helpers, and what was given is tried like any other.
    """
    given = np.empty((0, problem.n_var)) if starts is None else starts
    search = ArchiveSearch(problem, seed=seed, rough=True, opening=not len(given))
    members = settled(problem, search.archive)  # none, but with their columns
    for X, F, G in batches(search, Crew(problem), given, budget=evaluations, ahead=1):
        search.tell(X, F, G)
        told(X, G)
        if search.archive.due:
            members = settled(problem, search.archive, members)
    return search, settled(problem, search.archive, members)


def settled(problem: BoxProblem, archive: Archive, members: pd.DataFrame | None = None) -> pd.DataFrame:
    """The same as :func:`confirmed` of what waits in an archive, worked out here and now."""
    found = worked_out(problem.evaluator, problem.decode(archive.send()))
    return confirmed(problem, archive, found[0].iloc[:0] if members is None else members, found)


def confirmed(
    problem: BoxProblem, archive: Archive, members: pd.DataFrame, found: tuple[pd.DataFrame, NDArray[np.bool_]]
) -> pd.DataFrame:
    """The archive's members as rows, with what was sent to be worked out; ``members`` are those before."""
    rows, right = found
    _numbered_after(members, rows)
    archive.confirm(turned(rows, problem.objectives), right, rows.index.to_numpy())
    return _kept(archive, members, rows)


def _numbered_after(members: pd.DataFrame, rows: pd.DataFrame) -> None:
    """Give rows numbers that no member has."""
    first = 0 if members.empty else int(members.index.max()) + 1
    rows.index = pd.RangeIndex(first, first + len(rows))


def _kept(archive: Archive, members: pd.DataFrame, rows: pd.DataFrame) -> pd.DataFrame:
    """The members of an archive as rows, out of those before and new ones."""
    every = rows if members.empty else pd.concat([members, rows])
    return every.loc[archive.marks]


def hypervolume(front: pd.DataFrame, objectives: tuple[str, ...]) -> float:
    """Share of the unit box between the goals' worst and best (``span``) that the front dominates.

    Exact up to four objectives; the time it takes grows so steeply with more that there it is estimated (Rphi-FWE+,
    deterministic) from the front thinned to some 2 000 designs.
    """
    best, worst = np.array([GOALS[key].span for key in objectives], dtype=float).T
    figures = np.column_stack([front[key].to_numpy(float) for key in objectives])
    scaled = np.clip((figures - best) / (worst - best), 0.0, None)
    if len(objectives) <= EXACT_OBJECTIVES:
        return float(moocore.hypervolume(scaled, ref=1.0))
    _, few = thin(scaled, scaled, most=THINNED)
    return float(moocore.hv_approx(few, ref=1.0))
