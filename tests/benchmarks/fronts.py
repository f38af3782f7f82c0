"""Fronts measured: how near each method comes to the best known front of a job, in how many tries and seconds.

Run with ``python -m tests.benchmarks.fronts [JOB …] [--tries N] [--rivals N] [--reference N] [--helpers]``; without
jobs it takes the demos and five of the invented jobs of ``before_after``.  On each job, in one run and on one problem:
the search as the explorer runs it, random designs, pymoo's NSGA-II (Deb and others 2002) and SMS-EMOA (Beume and others
2007).  Of the others everything that they ever tried counts, not only their last population; they move on the problem
as it stands, where vents without room are not tuned up.  The best known front is
the union of all these, of searches with ten times the tries from two other seeds, and of a search of each family by
itself.  Everything is compared as worked out exactly: hypervolume is the share of the box between the fixed best and
worst figures (``span`` of each goal) that a front dominates, and that of a family is that of its own designs.
Rivals keep every design; the search shows one for each cell that a builder can tell apart.  What of the best known
front is left when it is shown like that is told beside it: nothing that shows one a cell comes to much more.
"""

from __future__ import annotations

import argparse
import time
import warnings
from dataclasses import dataclass
from typing import Any

import moocore
import numpy as np
import pandas as pd
from pymoo.algorithms.moo.nsga2 import NSGA2
from pymoo.algorithms.moo.sms import SMSEMOA
from pymoo.config import Config
from pymoo.optimize import minimize

from engine.arrays import Floats
from engine.errors import SearchImpossible
from engine.formats.scenario import demo_scenarios, parse_scenario, read_scenario
from engine.insight.comparison import groups_in
from engine.scenario import Scenario
from engine.search.archive import Archive
from engine.search.front import turned, worked_out
from engine.search.optimise import BATCH
from engine.search.problem import BoxProblem
from engine.search.runs import Progress, hypervolume, run
from explorer.helpers import helpers_for
from tests.benchmarks.before_after.jobs import jobs

SEED = 1
OWN = ("piped", "slotted", "radiators", "leaning", "every way")
POPULATION = 200
REACHED = (0.95, 0.99, 0.995)
FAMILY = ["box_kind", "vent_kind", "driver", "driver_count", "facing"]


@dataclass(frozen=True)
class Reached:
    """What a method came to."""

    method: str
    tries: int
    seconds: float
    front: pd.DataFrame


class Recorded(BoxProblem):
    """The problem, with the front of everything that was ever tried on it."""

    def __init__(self, scenario: Scenario) -> None:
        super().__init__(scenario)
        self.X, self.F = np.empty((0, self.n_var)), np.empty((0, self.n_obj))

    def _evaluate(self, X: Floats, out: dict[str, Floats], *args: object, **kwargs: object) -> None:
        super()._evaluate(X, out, *args, **kwargs)
        right = (out["G"] <= 0.0).all(axis=1)
        if right.any():
            X_all, F_all = np.vstack([self.X, X[right]]), np.vstack([self.F, out["F"][right]])
            best = moocore.is_nondominated(F_all)
            self.X, self.F = X_all[best], F_all[best]

    def front(self) -> pd.DataFrame:
        rows, _ = worked_out(self.evaluator, self.decode(self.X))
        return rows


class Measure:
    """Hypervolume as a share of the unit box between a problem's spans."""

    def __init__(self, problem: BoxProblem) -> None:
        self.objectives, self.steps = problem.objectives, problem.steps

    def __call__(self, front: pd.DataFrame) -> float:
        return 0.0 if front.empty else hypervolume(front, self.objectives)

    def best_of(self, fronts: list[pd.DataFrame]) -> pd.DataFrame:
        every = pd.concat(fronts, ignore_index=True)
        return every[moocore.is_nondominated(turned(every, self.objectives))]

    def one_a_cell(self, front: pd.DataFrame) -> pd.DataFrame:
        """What an archive keeps of a front that it is offered whole."""
        archive = Archive(variables=1, steps=self.steps)
        rows = np.arange(len(front))
        archive.take_in(rows[:, np.newaxis].astype(float), turned(front, self.objectives), rows)
        return front.iloc[archive.marks]


def searched(scenario: Scenario, tries: int, *, helped: bool) -> tuple[Reached, list[tuple[float, pd.DataFrame]]]:
    """The search, and its fronts as they grow with the seconds since its start."""
    seen: list[tuple[float, pd.DataFrame]] = []
    drawn = began = time.perf_counter()
    paused = 0.0

    def watch(now: Progress) -> None:
        nonlocal drawn, paused
        here = time.perf_counter()
        if now.front_size and here - drawn >= 0.1 * (here - began):
            seen.append((here - began - paused, now.front()))
            paused += time.perf_counter() - here  # the clock stands while the picture is taken
            drawn = time.perf_counter()

    result = run(scenario, seed=SEED, evaluations=tries, progress=watch, helpers=helpers_for(tries) if helped else None)
    seconds = time.perf_counter() - began - paused
    seen.append((seconds, result.front))
    return Reached("this search", result.record["evaluations"], seconds, result.front), seen


def rivals(scenario: Scenario, tries: int, rivals_tries: int) -> list[Reached]:
    """Random designs and pymoo's algorithms."""
    found = []
    problem, rng, began = Recorded(scenario), np.random.default_rng(SEED), time.perf_counter()
    for _ in range(0, tries, BATCH):
        X = problem.xl + rng.random((BATCH, problem.n_var)) * (problem.xu - problem.xl)
        problem.evaluate(X, return_values_of=["F", "G"])
    found.append(Reached("random designs", tries, time.perf_counter() - began, problem.front()))
    for name, algorithm, budget in (
        ("NSGA-II", NSGA2(pop_size=POPULATION), tries),
        ("SMS-EMOA", SMSEMOA(pop_size=POPULATION), rivals_tries),
    ):
        problem, began = Recorded(scenario), time.perf_counter()
        minimize(problem, algorithm, ("n_evals", budget), seed=SEED)
        found.append(Reached(name, budget, time.perf_counter() - began, problem.front()))
    return found


def by_itself(scenario: Scenario, tries: int) -> list[pd.DataFrame]:
    """A search of each kind of box with each driver and count, with so many tries in all."""
    groups = [
        (kind, drivers) for kind in groups_in(scenario, "kind") for drivers in groups_in(kind.only(scenario), "drivers")
    ]
    fronts = []
    for number, (kind, drivers) in enumerate(groups):
        try:
            fronts.append(run(drivers.only(kind.only(scenario)), seed=number, evaluations=tries // len(groups)).front)
        except SearchImpossible:
            print(f"  nothing of {drivers.name}, {kind.name}")
    return fronts


def report(name: str, scenario: Scenario, asked: argparse.Namespace) -> None:
    """One job's tables."""
    problem = BoxProblem(scenario)
    measure = Measure(problem)
    run(scenario, seed=SEED, evaluations=BATCH * 4)  # so that everything is compiled and read
    own, seen = searched(scenario, asked.tries or scenario.evaluations, helped=asked.helpers)
    every = [own, *rivals(scenario, own.tries, asked.rivals)]
    longer = [run(scenario, seed=seed, evaluations=asked.reference or 10 * own.tries).front for seed in (11, 12)]
    best = measure.best_of([*(each.front for each in every), *longer, *by_itself(scenario, 2 * own.tries)])
    whole = measure(best)
    print(f"\n{name}: {len(problem.evaluator.families.items)} families, {problem.n_obj} objectives")
    print(f"{'method':<20}{'tries':>10}{'seconds':>9}{'designs':>9}{'hypervolume':>13}{'of best known':>15}")
    for each in every:
        reached = measure(each.front)
        print(
            f"{each.method:<20}{each.tries:>10,}{each.seconds:>9.1f}{len(each.front):>9,}{reached:>13.5f}"
            f"{reached / whole:>15.1%}"
        )
    for front in longer:
        print(f"{'longer search':<20}{'':>19}{len(front):>9,}{measure(front):>13.5f}{measure(front) / whole:>15.1%}")
    shown = measure.one_a_cell(best)
    print(
        f"{'best, one a cell':<20}{'':>19}{len(shown):>9,}{measure(shown):>13.5f}{measure(shown) / whole:>15.1%}\n"
        f"{'this search of that':<52}{measure(own.front) / measure(shown):>9.1%}"
    )
    trace = [(seconds, measure(front) / whole) for seconds, front in seen]
    print(f"first designs after {trace[0][0]:.1f} s; " + "; ".join(f"{s:.1f} s: {r:.1%}" for s, r in trace))
    for share in REACHED:
        when: Any = next((f"{seconds:.1f} s" for seconds, reached in trace if reached >= share), "never")
        print(f"  {share:.1%} of the best known: {when}")
    for family, designs in best.groupby(FAMILY, sort=True):
        mine = own.front[(own.front[FAMILY] == list(family)).all(axis=1)]
        label = " ".join(str(each) for each in family if each != "")
        print(f"  {label:<50}{len(designs):>7,}{len(mine):>7,}{measure(mine) / measure(designs):>8.1%}")


def main() -> None:
    """Print one report a job."""
    Config.warnings["not_compiled"] = False
    warnings.simplefilter("ignore")
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("jobs", nargs="*")
    parser.add_argument("--tries", type=int, help="of the search and of most others; as the job has it if not given")
    parser.add_argument("--rivals", type=int, default=20_000, help="of SMS-EMOA, which takes its time over each")
    parser.add_argument("--reference", type=int, help="of each longer search; ten times those of the search")
    parser.add_argument("--helpers", action="store_true", help="let as many processes help as there are cores")
    asked = parser.parse_args()
    there = {name: read_scenario(path) for name, path in demo_scenarios().items()}
    there |= {name: parse_scenario(document, source=name) for name, document in jobs().items() if name in OWN}
    for name in asked.jobs or there:
        report(name, there[name], asked)


if __name__ == "__main__":
    main()
