"""Fronts measured: the archive search against a million random designs and against pymoo's NSGA-II.

Run with ``python -m tests.benchmarks.fronts``; all three search the same problem of each
demo job on this machine in one go.  Hypervolume is the share of the box between the
scenario's fixed best and worst figures (``span`` of each goal) that the
front dominates, from search-grid figures for all three.
"""

from __future__ import annotations

import time
import warnings

import moocore
import numpy as np
from numpy.typing import NDArray
from pymoo.algorithms.moo.nsga2 import NSGA2
from pymoo.config import Config
from pymoo.optimize import minimize

from engine.formats.scenario import demo_scenarios, read_scenario
from engine.goals import GOALS
from engine.search.optimise import BATCH, ArchiveSearch
from engine.search.problem import BoxProblem

Floats = NDArray[np.float64]
SEED = 1
RANDOM_DESIGNS = 1_000_000
BUDGETS = (100_000, 200_000, 400_000, 800_000)


def scaled(problem: BoxProblem, F: Floats) -> Floats:
    """Objectives between 0 (best) and 1 (worst) of the fixed spans."""
    spans = np.array([GOALS[key].span for key in problem.objectives])
    sign = np.array([GOALS[key].turn for key in problem.objectives])
    return np.clip((F * sign - spans[:, 0]) / (spans[:, 1] - spans[:, 0]), 0.0, None)


def volume(problem: BoxProblem, F: Floats) -> float:
    return float(moocore.hypervolume(scaled(problem, F), ref=1.0)) if len(F) else 0.0


def random_designs(problem: BoxProblem) -> tuple[Floats, float]:
    rng = np.random.default_rng(SEED)
    began = time.perf_counter()
    archive = np.empty((0, problem.n_obj))
    for _ in range(0, RANDOM_DESIGNS, BATCH):
        X = problem.xl + rng.random((BATCH, problem.n_var)) * (problem.xu - problem.xl)
        F, G = problem.evaluate(X, return_values_of=["F", "G"])
        archive = np.vstack([archive, F[(G <= 0.0).all(axis=1)]])
        archive = archive[moocore.is_nondominated(archive)] if len(archive) else archive
    return archive, time.perf_counter() - began


def nsga2(problem: BoxProblem) -> tuple[Floats, float]:
    began = time.perf_counter()
    result = minimize(problem, NSGA2(pop_size=200), ("n_gen", 100), seed=SEED)
    return (np.empty((0, problem.n_obj)) if result.F is None else result.F), time.perf_counter() - began


def archive_trace(problem: BoxProblem, target: float) -> tuple[list[tuple[int, float, float]], float | None]:
    """(evaluations, seconds, hypervolume) at each budget, and the seconds at which ``target`` was passed.

    The clock stops while hypervolume is measured.
    """
    search = ArchiveSearch(problem, seed=SEED)
    rows, passed, seconds = [], None, 0.0
    for budget in BUDGETS:
        while search.evaluations < budget:
            began = time.perf_counter()
            X = search.ask()
            search.tell(X, *problem.evaluate(X, return_values_of=["F", "G"]))
            seconds += time.perf_counter() - began
            if passed is None and volume(problem, search.archive.F) >= target:
                passed = seconds
        rows.append((search.evaluations, seconds, volume(problem, search.archive.F)))
    return rows, passed


def main() -> None:
    """Print one table a demo job."""
    Config.warnings["not_compiled"] = False
    warnings.simplefilter("ignore")
    for name, path in demo_scenarios().items():
        problem = BoxProblem(read_scenario(path))
        problem.evaluate(problem.xl + 0.5 * (problem.xu - problem.xl)[np.newaxis], return_values_of=["F", "G"])
        scattered, random_seconds = random_designs(problem)
        population, nsga2_seconds = nsga2(problem)
        random_volume, nsga2_volume = volume(problem, scattered), volume(problem, population)
        rows, passed = archive_trace(problem, max(random_volume, nsga2_volume))
        best = max(rows[-1][2], random_volume, nsga2_volume)
        print(f"\n{name}: {len(problem.evaluator.families.items)} families, {problem.n_obj} objectives")
        print(f"{'method':<42}{'designs':>10}{'seconds':>9}{'hypervolume':>13}{'of best':>9}")
        lines = [
            ("random with archive", RANDOM_DESIGNS, random_seconds, random_volume),
            ("NSGA-II 200 × 100, last population", 20_000, nsga2_seconds, nsga2_volume),
            *(("archive search", *row) for row in rows),
        ]
        for method, tried, seconds, reached in lines:
            print(f"{method:<42}{tried:>10,}{seconds:>9.2f}{reached:>13.5f}{reached / best:>9.1%}")
        if passed is None:
            print("the archive search did not pass the better of the two")
        else:
            print(
                f"the archive search passes the better of the two after {passed:.2f} s: "
                f"{random_seconds / passed:.1f} times quicker "
                f"than random, {nsga2_seconds / passed:.1f} times than NSGA-II"
            )


if __name__ == "__main__":
    main()
