"""One search from scenario to front: the loop, its budget, its cancel and its record."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from importlib.metadata import version
from typing import Any

import moocore
import numpy as np
import pandas as pd

from engine.goals import GOALS
from engine.scenario import Scenario
from engine.search.front import misfits, table
from engine.search.nearest import Nearest
from engine.search.optimise import BATCH, ArchiveSearch, thin
from engine.search.problem import BoxProblem

# Looked up once, when the module is loaded: a search runs in a thread, and the look-up goes through sys.path, which
# another thread may be changing just then.
VERSION = version("wedgefront")
EXACT_OBJECTIVES = 4
THINNED = 2_000


@dataclass(frozen=True)
class Progress:
    """How far a search has come."""

    evaluations: int
    budget: int
    front_size: int
    sorting: bool = False  # all designs are tried; the front is being put in order

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
) -> Run:  # fmt: skip
    """Search a scenario: same scenario, ``seed`` and version, the same front, byte for byte.

    ``evaluations`` is how many designs to try, the scenario's own budget if not given.  ``progress`` is called after
    each batch, and once more when the front is being put in order.  ``cancelled`` is asked before each batch; once
    true, the search ends and keeps what it found.

    Raises SearchImpossible where the scenario leaves nothing to search, or where nothing tried was feasible; the
    message then says what the nearest design is short of.

    >>> from engine.formats.scenario import demo_scenarios, read_scenario
    >>> found = run(read_scenario(demo_scenarios()["roadster"]), evaluations=12_288)
    >>> found.record["evaluations"], len(found.front) == found.record["designs"]
    (12288, True)
    """
    began = time.monotonic()
    budget = evaluations or scenario.evaluations
    problem = BoxProblem(scenario)
    search = ArchiveSearch(problem, seed=seed)
    nearest, stopped = Nearest(problem), "budget"

    def tell(*, sorting: bool = False) -> None:
        if progress is not None:
            progress(Progress(search.evaluations, budget, search.found, sorting))

    while search.evaluations < budget:
        if cancelled():
            stopped = "cancelled"
            break
        X = search.ask(min(BATCH, budget - search.evaluations))
        F, G = problem.evaluate(X, return_values_of=["F", "G"])
        search.tell(X, F, G)
        nearest.tell(X, G)
        tell()
    tell(sorting=True)
    search.settle()
    nearest.settle()
    if not len(search.X):
        raise nearest.reason(search.evaluations, cancelled=stopped == "cancelled")
    front = table(problem.evaluator, problem.decode(search.X))
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
