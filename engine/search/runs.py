"""One search from scenario to front: the loop, its budget, its cancel and its record."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Any

import moocore
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from engine.columns import COLUMNS
from engine.errors import SearchImpossible
from engine.scenario import Scenario
from engine.search.front import table, write_front
from engine.search.optimise import BATCH, ArchiveSearch
from engine.search.problem import BoxProblem
from engine.space.layout import SLACK_WORDS

# Best and worst of each objective for the hypervolume: the unit box is the same for every run of
# a scenario.  Chosen to hold any box a vehicle would carry; what is worse than the worst adds nothing.
HYPERVOLUME_SPAN = {
    "f3_hz": (15.0, 90.0),
    "output_db": (125.0, 85.0),
    "excursion_ratio": (0.0, 2.0),
    "vent_speed_m_s": (0.0, 34.0),
    "outer_volume_m3": (0.0, 0.3),
    "outer_depth_m": (0.0, 1.0),
    "weight_kg": (0.0, 80.0),
    "cost": (0.0, 2000.0),
}


# What a design is short of when a constraint is broken.
SHORT_OF = {
    **SLACK_WORDS,
    "space": "room in the space's cross-section or width",
    "door": "room in the door opening",
    "vent resonance": "a vent short enough to have its own resonance above 200 Hz",
    "f3": "bass: its response never comes up to its reference level",
}
_IN_METRES = {*SLACK_WORDS, "space", "door"}


@dataclass(frozen=True)
class Progress:
    """How far a search has come."""

    evaluations: int
    budget: int
    front_size: int
    seconds: float

    @property
    def share(self) -> float:
        return min(1.0, self.evaluations / self.budget)


@dataclass(frozen=True)
class Run:
    """A finished search: its front, and the record that says how it came about."""

    front: pd.DataFrame
    record: dict[str, Any]


def run(
    scenario: Scenario,
    *,
    seed: int = 1,
    evaluations: int | None = None,
    progress: Callable[[Progress], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Run:
    """Search a scenario.

    Parameters
    ----------
    seed :
        Same scenario, seed and version: the same front, byte for byte.
    evaluations :
        How many designs to try; the scenario's own budget if not given.
    progress :
        Called after each batch.
    cancelled :
        Asked before each batch; once true, the search ends and keeps what it found.

    Raises
    ------
    SearchImpossible
        If the scenario leaves nothing to search, or nothing tried was feasible; the
        message says what the nearest design is short of.
    """
    began = time.monotonic()
    budget = evaluations or scenario.evaluations
    problem = BoxProblem(scenario)
    search = ArchiveSearch(problem, seed=seed)
    stopped = "budget"
    nearest = _Nearest(problem)
    while search.evaluations < budget:
        if cancelled is not None and cancelled():
            stopped = "cancelled"
            break
        X = search.ask(min(BATCH, budget - search.evaluations))
        F, G = problem.evaluate(X, return_values_of=["F", "G"])
        search.tell(X, F, G)
        nearest.tell(G)
        if progress is not None:
            progress(Progress(search.evaluations, budget, search.found, time.monotonic() - began))
    search.settle()
    if not len(search.X):
        raise SearchImpossible(nearest.reason(search.evaluations, stopped))
    front = table(problem.bench, problem.decode(search.X))
    record = {
        "scenario": scenario.title,
        "scenario_sha256": scenario.digest,
        "seed": seed,
        "version": version("wedgefront"),
        "budget": budget,
        "evaluations": search.evaluations,
        "stopped_by": stopped,
        "designs": len(front),
        "objectives": list(scenario.goals.objectives),
        "hypervolume": hypervolume(front, scenario.goals.objectives),
        "hypervolume_span": {key: HYPERVOLUME_SPAN[key] for key in scenario.goals.objectives},
        "drivers_without_wiring": list(problem.bench.families.unwired),
        "seconds": round(time.monotonic() - began, 3),
    }
    return Run(front, record)


def write_run(result: Run, folder: Path) -> None:
    """Write a run's ``front.csv`` and ``run.json`` into ``folder``, both or neither.  Raises OSError."""
    write_front(result.front, result.record, folder)


def hypervolume(front: pd.DataFrame, objectives: tuple[str, ...]) -> float:
    """Share of the unit box between HYPERVOLUME_SPAN's worst and best that the front dominates."""
    return float(moocore.hypervolume(_scaled(front, objectives), ref=1.0))


def _scaled(front: pd.DataFrame, objectives: tuple[str, ...]) -> NDArray[np.float64]:
    columns = []
    for key in objectives:
        best, worst = HYPERVOLUME_SPAN[key]
        columns.append((front[key].to_numpy(float) - best) / (worst - best))
    return np.clip(np.column_stack(columns), 0.0, None)


class _Nearest:
    """Remembers the design nearest to feasible, for the message when none is."""

    def __init__(self, problem: BoxProblem) -> None:
        self._names = problem.constraint_names
        self._least: NDArray[np.float64] | None = None

    def tell(self, G: NDArray[np.float64]) -> None:
        violated = np.maximum(G, 0.0)
        least = violated[np.argmin(violated.sum(axis=1))]
        if self._least is None or least.sum() < self._least.sum():
            self._least = least

    def reason(self, tried: int, stopped: str) -> str:
        if self._least is None:
            return "the search was cancelled before any design was tried"
        short = [
            SHORT_OF.get(name) or f"the limit on {COLUMNS[name.removeprefix('limit ')].inner_label}"
            for name in self._names
        ]
        blocking = [
            f"{words} ({1000.0 * amount:.0f} mm)" if name in _IN_METRES else words
            for name, words, amount in zip(self._names, short, self._least, strict=True)
            if amount > 0.0
        ]
        return (
            f"none of {tried} designs tried can be built; the nearest one is short of {', '.join(blocking)}. "
            "Try a driver that is smaller or shallower, a larger space, or looser bounds and limits"
        )
